"""Maps of what is open to hands, and who reaches it."""

from __future__ import annotations

import pytest

from rimside.kit import HANDS, MAPPED, TOUCH
from rimside.piano.access_map import FAR_RULE, NEAR_RULE, access, access_map, within_reach
from rimside.piano.shipped import SHIPPED
from rimside.pitch import Key
from tests.casting.worlds import toy_piano
from tests.piano.example import piano


@pytest.mark.parametrize("name", SHIPPED)
def test_open_and_closed_fill_the_string(name: str) -> None:
    """Every mm of a course is open or closed by something with a name, and nothing is both."""
    instrument = piano(name)
    for row in access_map(instrument, [Key(key) for key in range(1, 89, 3)], [HANDS[hand] for hand in MAPPED]):
        length_mm = instrument.course(row.key).length_mm
        for step in range(1, 200):
            at_mm = length_mm * step / 200
            is_open = any(stretch.holds(at_mm) for stretch in row.open)
            inside = any(part.stretch.from_mm < at_mm < part.stretch.to_mm for part in row.closed)
            edge = any(
                abs(at_mm - end) < 1e-6 for part in row.closed for end in (part.stretch.from_mm, part.stretch.to_mm)
            )
            assert is_open != inside or edge, (row.key, row.hand, at_mm)


def test_what_closes_is_named() -> None:
    """C3 of the concert grand is closed by its ends, damper, the bass strut and the bass strings, in that order."""
    row = access(piano(), Key(28), HANDS["line bow"])
    assert [part.by for part in row.closed] == [NEAR_RULE, "damper", "bass strut", "bass strings above", FAR_RULE]
    assert row.closed[0].stretch.to_mm == HANDS["line bow"].window.clear_of_near_mm


def test_a_window_rule_alone_can_close_a_course() -> None:
    """Nothing of C8 is open to a line: it is kept further off the near end than the string is long."""
    row = access(piano(), Key(88), HANDS["line bow"])
    assert row.open == ()
    assert row.open_mm == 0.0
    assert row.closed[0].stretch.to_mm == pytest.approx(piano().course(Key(88)).length_mm)


def test_a_line_does_not_suit_wound_strings() -> None:
    """Free of obstacles, but of the wrong kind; a finger suits all."""
    assert not access(piano(), Key(1), HANDS["line bow"]).suits
    assert access(piano(), Key(1), HANDS["friction strip"]).suits
    assert access(piano(), Key(1), HANDS[TOUCH]).suits


def test_reach_takes_the_nearest_open_point() -> None:
    """From the first place at the toy's keyboard more reach brings more courses, and none is farther than told."""
    toy = toy_piano()
    place = toy.places[0]
    near, far = (within_reach(toy, place, reach_mm, HANDS[TOUCH]) for reach_mm in (900.0, 1300.0))
    assert set(near) < set(far)
    for course in toy.courses:
        row = access(toy, course.key, HANDS[TOUCH])
        points = [
            stretch.from_mm + share / 50 * (stretch.to_mm - stretch.from_mm)
            for stretch in row.open
            for share in range(51)
        ]
        nearest_mm = min((place.at.distance_mm(course.at(at)) for at in points), default=1e9)
        if nearest_mm <= 900.0:
            assert course.key in near
        if course.key not in near and nearest_mm < 1e9:
            assert nearest_mm > 900.0
