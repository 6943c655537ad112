"""The one place where lengths and times become whole numbers, always to the safe side: a gap down, a need up."""

from __future__ import annotations

import math

TIE_S = 1e-6
"""Moments closer than this are the same moment: what is left over from adding tempo fractions."""
TIE_MM = 1e-3


def fits(gap_s: float, need_s: float) -> bool:
    """Whether a gap holds a need, ties counted as fitting."""
    return need_s <= gap_s + TIE_S


def shortfall_ms(gap_s: float, need_s: float, reserve_s: float) -> int:
    """How far the slack of a change falls short of the comfortable reserve, whole ms, rounded up."""
    return max(0, math.ceil(1000.0 * (reserve_s - gap_s + need_s - TIE_S)))


def length_up_mm(length_mm: float) -> int:
    """A length that must be bridged, whole mm, rounded up."""
    return math.ceil(length_mm - TIE_MM)


def length_down_mm(length_mm: float) -> int:
    """A length that is there to use, whole mm, rounded down."""
    return math.floor(length_mm + TIE_MM)


def whole_seconds_up(length_s: float) -> int:
    """Started seconds."""
    return math.ceil(length_s - TIE_S)


def whole_ms(length_s: float) -> int:
    """The nearest ms, for sums where neither side is the safe one."""
    return round(1000.0 * length_s)


def written_mm(length_mm: float) -> float:
    """A length as files write it; what a casting is judged by must be what can be read back."""
    return round(length_mm, 3)


def written_s(time_s: float) -> float:
    """A moment as files write it."""
    return round(time_s, 6)
