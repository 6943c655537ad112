"""Harmonics at nodes."""

from __future__ import annotations

import math

import pytest

from rimside.errors import BadInput
from rimside.piano.access import open_windows
from rimside.piano.nodes import (
    AMPLE_MM,
    FINGER,
    PARTIALS,
    Node,
    best_node,
    course_partial_hz,
    drive_half_width_mm,
    drive_lost,
    match_harmonic,
    node,
    node_from_near_mm,
    node_half_width_mm,
    nodes_table,
    touched_hz,
    usable_nodes,
)
from rimside.piano.shipped import SHIPPED
from rimside.pitch import Key
from rimside.score.model import Touch
from tests.piano.example import piano


@pytest.mark.parametrize(("n", "count"), [(2, 1), (3, 2), (4, 2), (5, 4), (6, 2), (7, 6), (8, 4)])
def test_number_of_touch_points(n: int, count: int) -> None:
    """As many as Euler's function says; a fourth has two, a sixth has two."""
    # cellomap.com, finding touch points: n = 2: 1, 3: 2, 4: 2, 5: 4, 6: 2, 7: 6, 8: 4.
    assert len(usable_nodes(n)) == count


def test_touch_points_of_a_sixth() -> None:
    """One sixth and five sixths; two sixths would sound the third partial."""
    assert usable_nodes(6) == (Touch(k=1, n=6), Touch(k=5, n=6))


def test_where_the_finger_lies() -> None:
    """Two fifths of the speaking length from the near end."""
    course = piano().course(Key(28))
    assert node_from_near_mm(course, Touch(k=2, n=5)) == pytest.approx(0.4 * course.length_mm)


@pytest.mark.parametrize("touch", [Touch(k=2, n=4), Touch(k=0, n=3), Touch(k=3, n=3)])
def test_what_is_no_node(touch: Touch) -> None:
    """Fractions that reduce, and the two ends."""
    with pytest.raises(BadInput):
        node_from_near_mm(piano().course(Key(28)), touch)


def test_there_is_no_first_partial_to_touch() -> None:
    """A touched partial starts at 2."""
    with pytest.raises(BadInput):
        usable_nodes(1)


@pytest.mark.parametrize("n", [2, 3, 5, 8])
def test_touched_partial_is_sharp_by_the_inharmonicity(n: int) -> None:
    """The just interval and 865.6 B (n^2 - 1) cents more, for small B."""
    # Algebra on Fletcher 1964: (600 / ln 2) B (n^2 - 1).
    course = piano().course(Key(28))
    above = 1200 * math.log2(touched_hz(course, Touch(k=1, n=n)) / (n * course.frequency_hz))
    assert above == pytest.approx(865.617 * course.inharmonicity * (n**2 - 1), rel=0.01)


def test_room_round_a_node() -> None:
    """On a metre of string, fifth partial among eight: 12.5 mm either way."""
    # Farey neighbours, L / (2 n N); no published tolerance for piano strings.
    course = piano().course(Key(28))
    assert node_half_width_mm(course, Touch(k=1, n=5)) / course.length_mm == pytest.approx(1 / 80)


def table(key: int, name: str = "grand_275") -> tuple[Node, ...]:
    return nodes_table(piano(name), Key(key))


def test_a_table_has_every_node_of_the_partials_once() -> None:
    """Twenty-one nodes for partials 2 to 8, in order, each at its own point of the string."""
    rows = table(40)
    assert [row.touch for row in rows] == [touch for n in PARTIALS for touch in usable_nodes(n)]
    assert len({round(row.from_near_mm, 3) for row in rows}) == len(rows) == 21


@pytest.mark.parametrize("name", SHIPPED)
def test_usable_is_what_a_casting_may_touch(name: str) -> None:
    """On every course a node is usable exactly when it lies in an open window of a fingertip."""
    for course in piano(name).courses:
        windows = open_windows(piano(name), course.key, FINGER)
        for row in table(course.key, name):
            assert row.usable == any(window.holds(row.from_near_mm) for window in windows), (course.key, row.touch)


def test_clearance_is_negative_under_what_covers_the_node() -> None:
    """The middle of C3 lies deep under the bass strings of the concert grand, which is what comes nearest."""
    (middle,) = (row for row in table(28) if row.touch == Touch(k=1, n=2))
    assert not middle.usable
    nearest, free_mm = middle.tightest
    assert nearest == "bass strings above"
    assert free_mm < -50.0


def test_room_beside_a_damper_counts_to_the_felt() -> None:
    """The clearance from the damper is the distance to the nearer edge of its felt."""
    course = piano().course(Key(40))
    assert course.damper is not None
    quarter = node(piano(), Key(40), Touch(k=1, n=4))
    assert dict(quarter.clearances_mm)["damper"] == pytest.approx(course.length_mm / 4 - course.damper.to_mm)


def test_cents_from_the_nearest_note_and_from_the_harmonic() -> None:
    """Partial 2 of C4 is a little over C5, by the inharmonicity alone; partial 7 lies 31 cents under A sharp 6."""
    rows = table(40)
    octave, seventh = rows[0], next(row for row in rows if row.touch.n == 7)
    assert octave.nearest_key == 52
    assert octave.cents_from_equal == pytest.approx(octave.cents_from_just, abs=1e-6)
    assert 0.5 < octave.cents_from_just < 1.5
    # Algebra: 1200 log2(7/4) = 968.83 cents, 31.17 under the tenth semitone.
    assert seventh.nearest_key == 40 + 24 + 10
    assert seventh.cents_from_equal - seventh.cents_from_just == pytest.approx(-31.17, abs=0.01)


def test_the_best_node_is_usable_and_roomy() -> None:
    """On every course of every piano the best node of a partial has ample room, or as much as any usable one."""
    for name in SHIPPED:
        for course in piano(name).courses:
            rows = table(course.key, name)
            for n in PARTIALS:
                best = best_node(rows, n)
                usable = [row for row in rows if row.touch.n == n and row.usable]
                assert (best is None) == (not usable)
                if best is not None:
                    most = max(row.tightest[1] for row in usable)
                    assert best.tightest[1] >= min(most, AMPLE_MM)


def test_of_two_roomy_nodes_the_one_nearer_to_people_is_best() -> None:
    """Both thirds of A0 have ample room; the nearer one to the places round the case is taken."""
    rows = [row for row in table(1) if row.touch.n == 3]
    assert all(row.tightest[1] > AMPLE_MM for row in rows)
    assert best_node(rows, 3) == min(rows, key=lambda row: row.reach_mm)


def test_no_node_is_best_where_none_is_free() -> None:
    """All of C3's second partial is covered on the concert grand."""
    assert best_node(table(28), 2) is None


@pytest.mark.parametrize("n", [2, 5, 8])
def test_drive_lost_beside_a_node(n: int) -> None:
    """At the stated half width a tenth is lost, at the node nothing."""
    course, touch = piano().course(Key(28)), Touch(k=1, n=n)
    assert drive_lost(course, touch, 0.0) == 0.0
    assert drive_lost(course, touch, drive_half_width_mm(course, touch)) == pytest.approx(0.1)


@pytest.mark.parametrize("key", [1, 28, 40, 64])
@pytest.mark.parametrize("n", range(2, 17))
def test_a_written_sounding_pitch_finds_its_partial(key: int, n: int) -> None:
    """The pitch of partial n, a quarter of a semitone off, is matched to partial n, and how far off is told."""
    course = piano().course(Key(key))
    match = match_harmonic(course, course_partial_hz(course, n) * 2 ** (-25 / 1200))
    assert match.partial == n
    assert match.cents_off == pytest.approx(25.0)
