"""Magnet heads over strings."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from rimside.piano.magnets import coupling, dead_stretches, drivable, drive, rows_for_all, side_by_side
from rimside.pitch import Key
from tests.casting.worlds import KEY_STEP_MM, toy_piano
from tests.piano.example import piano

OCTAVE = [Key(key) for key in range(28, 40)]


@pytest.mark.parametrize(("material", "pulled"), [("steel", True), ("iron", True), ("brass", False), ("nylon", False)])
def test_only_magnetic_strings_are_driven(material: str, pulled: bool) -> None:
    """Steel and iron are pulled; brass and nylon are not."""
    assert drivable(replace(piano().course(Key(40)), material=material)) is pulled


def test_a_wrap_adds_to_the_gap() -> None:
    """The core of A0 lies deeper by the thickness of its wrap; plain strings add nothing."""
    low, middle = piano().course(Key(1)), piano().course(Key(40))
    assert low.wrap_mm is not None
    assert drive(low).extra_gap_mm == pytest.approx((low.wrap_mm - low.wire_mm) / 2)
    assert drive(middle).extra_gap_mm == 0.0


@pytest.mark.parametrize("partial", [1, 2, 5])
def test_dead_stretches_are_where_the_coupling_is_small(partial: int) -> None:
    """One at each end and round each node between, and they hold exactly the points of less than half the drive."""
    course = piano().course(Key(40))
    stretches = dead_stretches(course, partial)
    assert len(stretches) == partial + 1
    for step in range(1, 500):
        at_mm = course.length_mm * step / 500
        weak = coupling(course, partial, at_mm)
        if abs(weak - 0.5) > 1e-6:
            assert (weak < 0.5) == any(stretch.holds(at_mm) for stretch in stretches)


@pytest.mark.parametrize(("head_mm", "count"), [(13.9, 12), (14.1, 6), (28.1, 4), (300.0, 1)])
def test_heads_in_a_row(head_mm: float, count: int) -> None:
    """On the toy's courses, 14 mm apart, narrower heads fit over all, wider ones over every second or third."""
    assert KEY_STEP_MM == 14.0
    row = side_by_side(toy_piano(), OCTAVE, 0.5, head_mm)
    assert len(row) == count
    assert all((b - a) * KEY_STEP_MM >= head_mm for a, b in pairwise(row))
    assert rows_for_all(toy_piano(), OCTAVE, 0.5, head_mm) == -(-12 // count)


def test_strings_that_no_magnet_pulls_get_no_head() -> None:
    """A brass course is passed over and needs no row."""
    toy = toy_piano()
    brass = tuple(replace(course, material="brass") for course in toy.courses)
    assert side_by_side(replace(toy, courses=brass), OCTAVE, 0.5) == ()
    assert rows_for_all(replace(toy, courses=brass), OCTAVE, 0.5) == 0
