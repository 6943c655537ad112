"""Rounding is always to the safe side."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimside.casting import scale

LENGTHS_MM = st.floats(0.0, 20000.0)
TIMES_S = st.floats(0.0, 100.0)


@given(LENGTHS_MM)
def test_a_need_goes_up_and_a_gap_down(length_mm: float) -> None:
    """Up is never below the length, down never above it, but for the tie; both are within 1 mm."""
    up, down = scale.length_up_mm(length_mm), scale.length_down_mm(length_mm)
    assert length_mm - scale.TIE_MM <= up < length_mm + 1.0
    assert length_mm - 1.0 < down <= length_mm + scale.TIE_MM


@pytest.mark.parametrize(("length_mm", "up", "down"), [(700.0, 700, 700), (700.0004, 700, 700), (700.4, 701, 700)])
def test_whole_mm(length_mm: float, up: int, down: int) -> None:
    """What is left of adding fractions is no mm of its own; four tenths are."""
    assert (scale.length_up_mm(length_mm), scale.length_down_mm(length_mm)) == (up, down)


@pytest.mark.parametrize(("gap_s", "fits"), [(1.0, True), (1.0 - 5e-7, True), (0.9999, False), (2.0, True)])
def test_a_gap_fits_its_need(gap_s: float, fits: bool) -> None:
    """Equal fits, a tenth of a ms less does not."""
    assert scale.fits(gap_s, 1.0) is fits


@given(TIMES_S, TIMES_S)
def test_a_shortfall_is_nothing_exactly_when_gap_holds_need_and_reserve(gap_s: float, need_s: float) -> None:
    """Shortfall 0 means that the reserve fits on top of the need."""
    assert (scale.shortfall_ms(gap_s, need_s, 1.0) == 0) is scale.fits(gap_s, need_s + 1.0)


@pytest.mark.parametrize(("gap_s", "ms"), [(2.2, 0), (2.1, 100), (1.2, 1000), (2.19951, 1), (0.2, 2000)])
def test_shortfall_in_started_ms(gap_s: float, ms: int) -> None:
    """With a need of 1.2 s and 1 s in reserve, by hand."""
    assert scale.shortfall_ms(gap_s, 1.2, 1.0) == ms


@pytest.mark.parametrize(("length_s", "seconds"), [(2.0, 2), (2.0000001, 2), (2.01, 3), (0.5, 1)])
def test_started_seconds(length_s: float, seconds: int) -> None:
    """Each started second counts."""
    assert scale.whole_seconds_up(length_s) == seconds


def test_sums_take_the_nearest_ms() -> None:
    """1.2345678 s are 1235 ms."""
    assert scale.whole_ms(1.2345678) == 1235
