"""Wire sizes, pitches and the keyboard against published tables."""

from __future__ import annotations

import pytest

from rimside.piano.model import Keyboard
from rimside.piano.strings import WIRE_SIZES, nearest_wire_mm
from rimside.units import key_hz

# Technicians' list, 2003-June/136827: American sizes printed in mm beside the metric series.
PUBLISHED_US_MM = {
    12: 0.737, 12.5: 0.762, 13: 0.787, 13.5: 0.813, 14: 0.838, 14.5: 0.864, 15: 0.889, 15.5: 0.914, 16: 0.940,
    16.5: 0.965, 17: 0.991, 17.5: 1.016, 18: 1.041, 18.5: 1.067, 19: 1.092, 19.5: 1.118, 20: 1.143, 20.5: 1.168,
    21: 1.194, 21.5: 1.219, 22: 1.245, 23: 1.295, 24: 1.397, 25: 1.499, 26: 1.600,
}  # fmt: skip


def test_american_sizes_in_mm() -> None:
    """Each American diameter is its printed mm to the last digit."""
    assert {size.gauge: round(size.us_mm, 3) for size in WIRE_SIZES} == PUBLISHED_US_MM


def test_mils_are_twice_the_gauge_plus_five() -> None:
    """From 12 to 22 every American size follows the trade's rule."""
    # Technicians' list, attachment 55/97/24/15: mils = 2 * gauge + 5.
    for size in WIRE_SIZES:
        if size.gauge <= 22:
            assert 1000 * size.us_inch == pytest.approx(2 * size.gauge + 5)


def test_metric_wire_is_thinner_than_american_of_the_same_number() -> None:
    """By 0.011 to 0.022 mm for gauges 12 to 22."""
    # Technicians' list, 2003-June/136827: 0.012 to 0.02 mm, both ends from the rounded table.
    for size in WIRE_SIZES:
        if size.gauge <= 22:
            assert 0.011 <= size.us_mm - size.metric_mm <= 0.0221


def test_the_nearest_size() -> None:
    """A diameter between two half gauges goes to the nearer one."""
    assert nearest_wire_mm(1.01) == 1.0
    assert nearest_wire_mm(1.02) == 1.025


@pytest.mark.parametrize(
    ("key", "published_hz"),
    [
        # ISO 16:1975, 440 Hz; frequencies: pianoandweb.blogspot.com 2012/07, to 2 or 3 decimals.
        (1, 27.50000), (4, 32.70320), (16, 65.40639), (21, 87.30706), (28, 130.81278), (40, 261.62557),
        (49, 440.00000), (52, 523.25113), (64, 1046.50226), (76, 2093.00452), (88, 4186.00904),
    ],
)  # fmt: skip
def test_pitches(key: int, published_hz: float) -> None:
    """Equal temperament on 440 Hz."""
    assert key_hz(key) == pytest.approx(published_hz, abs=0.0005)


def test_keyboard_width() -> None:
    """A to C lies between the American and the European standard width."""
    # Technicians' list, attachment be/f5/23/2c: 47 7/8 in (1216 mm) to 48 3/8 in (1229 mm).
    width_mm = Keyboard().to_mm - Keyboard().from_mm
    assert 47.875 * 25.4 - 0.5 <= width_mm <= 48.375 * 25.4 + 0.5
    # instrumentinsight.com, how wide are piano keys: 6.5 in an octave, low-grade source.
    assert width_mm / 52 * 7 == pytest.approx(6.5 * 25.4, rel=0.002)
