"""Units and constants: mm, s, Hz, N, kg and degrees; every public name carries its unit."""

from __future__ import annotations

import math

A4_HZ = 440.0
"""Standard tuning frequency, Hz. Source: ISO 16:1975."""
FIRST_KEY, LAST_KEY = 1, 88
MM_PER_INCH = 25.4
MTM_TMU_S = 0.036
"""One time-measurement unit, s. Source: Maynard, Stegemerten & Schwab, Methods-Time Measurement, 1948."""
FITTS_1954_MS = (12.8, 94.7)
"""Intercept (ms) and slope (ms a bit) of the line for the 1-oz stylus. Source: P. M. Fitts, J. Exp. Psychol. 47 (1954)
381, as given with r = .9831 by MacKenzie, Human-Computer Interaction 7 (1992) 91."""
STEEL_KG_PER_M3 = 7850.0
"""Music wire. Source: Mas Cabre, PTG Journal 7/2000 p. 62 (constant 24662 = pi * 7850)."""
STEEL_YOUNG_PA = 200.0e9
"""Music wire, Young's modulus. Source: Chaigne & Askenfelt, JASA 95 (1994) 1112."""
COPPER_KG_PER_M3 = 8930.0
"""Copper wrap. From memory (handbook value 8930 to 8960)."""


def key_hz(key: float, a4_hz: float = A4_HZ) -> float:
    """Equal-tempered frequency, Hz, of a key number (1 = lowest A); fractions are allowed."""
    return a4_hz * math.exp2((key - 49.0) / 12.0)


def nearest_key(frequency_hz: float, a4_hz: float = A4_HZ) -> tuple[int, float]:
    """The nearest note of equal temperament, counted as keys are, and how far the pitch lies above it, cents."""
    key = 49.0 + 12.0 * math.log2(frequency_hz / a4_hz)
    return round(key), 100.0 * (key - round(key))


def cents(ratio: float) -> float:
    """The interval of a frequency ratio, in cents."""
    return 1200.0 * math.log2(ratio)


def tmu_s(tmu: float) -> float:
    """Seconds in a number of time-measurement units."""
    return tmu * MTM_TMU_S


def fitts_s(distance_mm: float, width_mm: float) -> float:
    """Time of one aimed movement of the hand, s: 12.8 + 94.7 log2(2 A / W) ms; 0 when there is nowhere to go.

    The difficulty is never counted below 0 bits (a movement shorter than half the target). Without reaction, grasping
    and settling. Source: Fitts 1954.
    """
    if distance_mm <= 0.0:
        return 0.0
    intercept_ms, slope_ms = FITTS_1954_MS
    return (intercept_ms + slope_ms * max(0.0, math.log2(2.0 * distance_mm / width_mm))) / 1000.0
