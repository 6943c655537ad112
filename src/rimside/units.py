"""Units and constants: mm, s, Hz, N, kg and degrees; every public name carries its unit."""

from __future__ import annotations

import math

A4_HZ = 440.0
"""Standard tuning frequency, Hz. Source: ISO 16:1975."""
FIRST_KEY, LAST_KEY = 1, 88
MM_PER_INCH = 25.4
MTM_TMU_S = 0.036
"""One time-measurement unit, s. Source: Maynard, Stegemerten & Schwab, Methods-Time Measurement, 1948."""
STEEL_KG_PER_M3 = 7850.0
"""Music wire. Source: Mas Cabre, PTG Journal 7/2000 p. 62 (constant 24662 = pi * 7850)."""
STEEL_YOUNG_PA = 200.0e9
"""Music wire, Young's modulus. Source: Chaigne & Askenfelt, JASA 95 (1994) 1112."""
COPPER_KG_PER_M3 = 8930.0
"""Copper wrap. From memory (handbook value 8930 to 8960)."""


def key_hz(key: float, a4_hz: float = A4_HZ) -> float:
    """Equal-tempered frequency, Hz, of a key number (1 = lowest A); fractions are allowed."""
    return a4_hz * math.exp2((key - 49.0) / 12.0)


def cents(ratio: float) -> float:
    """The interval of a frequency ratio, in cents."""
    return 1200.0 * math.log2(ratio)


def tmu_s(tmu: float) -> float:
    """Seconds in a number of time-measurement units."""
    return tmu * MTM_TMU_S
