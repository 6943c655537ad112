"""Where a course may be touched."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from rimside.kit import TECHNIQUES
from rimside.piano.access import OVERHEAD_CLEARANCE_MM, Window, contact_lanes, open_windows
from rimside.piano.geometry import crossing_shares
from rimside.piano.model import Interval, Piano, Strut
from rimside.piano.shipped import SHIPPED
from rimside.pitch import Key
from rimside.score.model import Technique
from tests.piano.example import piano, point

WHOLE = Window(clear_of_damper=False, half_width_mm=0.0)
MIDDLE_C = Key(40)


def bare() -> Piano:
    """The longest piano without bars."""
    return replace(piano(), struts=())


def spans(windows: tuple[Interval, ...]) -> list[tuple[float, float]]:
    return [(round(window.from_mm, 6), round(window.to_mm, 6)) for window in windows]


def test_nothing_in_the_way() -> None:
    """Middle C without bars, damper left out: the whole course."""
    length_mm = bare().course(MIDDLE_C).length_mm
    assert spans(open_windows(bare(), MIDDLE_C, WHOLE)) == [(0.0, round(length_mm, 6))]


def test_shares_and_clearances_both_hold() -> None:
    """The narrower of share and clearance counts at each end."""
    window = replace(WHOLE, from_share=0.1, to_share=0.9, clear_of_near_mm=120.0, clear_of_far_mm=10.0)
    length_mm = bare().course(MIDDLE_C).length_mm
    assert spans(open_windows(bare(), MIDDLE_C, window)) == [(120.0, round(0.9 * length_mm, 6))]


def test_clearances_longer_than_the_course_leave_nothing() -> None:
    """The highest strings are shorter than what rosin keeps clear."""
    assert open_windows(piano(), Key(88), replace(WHOLE, clear_of_near_mm=120.0)) == ()


def test_damper_felt_is_cut_out_and_widened() -> None:
    """The felt and half of the tool on either side."""
    course = bare().course(MIDDLE_C)
    assert course.damper is not None
    window = Window(half_width_mm=15.0)
    assert spans(open_windows(bare(), MIDDLE_C, window)) == [
        (0.0, round(course.damper.from_mm - 15.0, 6)),
        (round(course.damper.to_mm + 15.0, 6), round(course.length_mm, 6)),
    ]


def test_a_bar_over_the_strings_is_cut_out_and_widened() -> None:
    """A bar 40 mm wide square across middle C hides 40 mm and half of the tool on either side."""
    course = bare().course(MIDDLE_C)
    at = course.at(300.0)
    dx = 200 * (course.far.x_mm - course.near.x_mm) / course.length_mm
    dy = 200 * (course.far.y_mm - course.near.y_mm) / course.length_mm
    start, end = point(at.x_mm - dy, at.y_mm + dx), point(at.x_mm + dy, at.y_mm - dx)
    bar = Strut(name="bar", start=start, end=end, width_mm=40, over_strings=True)
    windows = open_windows(replace(bare(), struts=(bar,)), MIDDLE_C, replace(WHOLE, half_width_mm=15.0))
    assert windows[0].to_mm == pytest.approx(300 - 20 - 15)
    assert windows[1].from_mm == pytest.approx(300 + 20 + 15)


def test_a_short_bar_leaves_the_course_behind_it_free() -> None:
    """A bar that ends before the course does not touch it."""
    near = bare().course(MIDDLE_C).near
    bar = Strut(name="short", start=point(near.x_mm, 100), end=point(near.x_mm, near.y_mm - 20), width_mm=30)
    assert len(open_windows(replace(bare(), struts=(bar,)), MIDDLE_C, WHOLE)) == 1


def test_bass_strings_hide_the_tenor_below_them() -> None:
    """From the first to the last bass string that passes over, and the clearance further, nothing is open."""
    course = bare().course(Key(24))
    crossings = [
        shares[0] * course.length_mm
        for other in bare().courses
        if other.section == "bass" and (shares := crossing_shares(course.near, course.far, other.near, other.far))
    ]
    before, after = open_windows(bare(), Key(24), WHOLE)
    assert len(crossings) > 10
    assert before.to_mm < min(crossings) - OVERHEAD_CLEARANCE_MM
    assert after.from_mm > max(crossings) + OVERHEAD_CLEARANCE_MM


def test_tenor_does_not_hide_the_bass() -> None:
    """The strings that pass over are themselves open."""
    assert len(open_windows(bare(), Key(10), WHOLE)) == 1


def test_strings_at_the_same_height_hide_nothing() -> None:
    """Without a difference of height nothing counts as passing over."""
    flat = replace(bare(), courses=tuple(replace(course, height_mm=900.0) for course in bare().courses))
    assert len(open_windows(flat, Key(24), WHOLE)) == 1


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("technique", [Technique.LINE_BOW, Technique.STICK_BOW, Technique.FRICTION_STRIP])
def test_rosin_and_rubber_keep_clear_of_the_near_end(name: str, technique: Technique) -> None:
    """Below the near end lies the action, which collects the dust: no window begins within 120 mm of it."""
    for course in piano(name).courses:
        for window in open_windows(piano(name), course.key, TECHNIQUES[technique].window):
            assert window.from_mm >= 120.0


@pytest.mark.parametrize("name", SHIPPED)
def test_plain_strings_that_are_long_enough_can_be_bowed(name: str) -> None:
    """Every plain course of 170 mm and more has a window for a line bow on each shipped piano."""
    bow = TECHNIQUES[Technique.LINE_BOW].window
    closed = [
        c.key
        for c in piano(name).courses
        if not c.wound and c.length_mm >= 170 and not open_windows(piano(name), c.key, bow)
    ]
    assert closed == []


@pytest.mark.parametrize("name", SHIPPED)
def test_every_course_can_be_struck_and_plucked(name: str) -> None:
    """Hammers and plectra find room on all 88 courses."""
    for technique in (Technique.FELT_HAMMER, Technique.PLECTRUM):
        window = TECHNIQUES[technique].window
        assert all(open_windows(piano(name), course.key, window) for course in piano(name).courses)


@pytest.mark.parametrize("name", SHIPPED)
def test_lanes_lie_in_windows_and_apart(name: str) -> None:
    """At most four, ascending, inside open windows; in one window 110 mm apart or more."""
    bow = TECHNIQUES[Technique.LINE_BOW].window
    for course in piano(name).courses:
        windows = open_windows(piano(name), course.key, bow)
        lanes = contact_lanes(piano(name), course.key, bow)
        assert len(lanes) <= 4
        assert list(lanes) == sorted(lanes)
        assert bool(lanes) == bool(windows)
        for at_mm in lanes:
            assert any(window.from_mm - 1e-9 <= at_mm <= window.to_mm + 1e-9 for window in windows)
        for window in windows:
            inside = [at for at in lanes if window.holds(at)]
            assert all(b - a >= 110.0 - 1e-9 for a, b in itertools.pairwise(inside))


def test_lanes_of_an_open_course_reach_from_end_to_end() -> None:
    """Of many possible positions the outermost two are kept."""
    lanes = contact_lanes(bare(), MIDDLE_C, WHOLE)
    assert lanes[0] == 0.0
    assert lanes[-1] == pytest.approx(bare().course(MIDDLE_C).length_mm)
    assert len(lanes) == 4


def test_one_lane_is_the_middle_one() -> None:
    """Asked for one position, the middle of the possible ones is given."""
    (lane,) = contact_lanes(bare(), MIDDLE_C, WHOLE, most=1)
    assert 0.3 * 637 < lane < 0.7 * 637
