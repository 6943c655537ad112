"""The curve between measured keys."""

from __future__ import annotations

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rimside.piano.interpolate import pchip

heights = st.lists(st.floats(-1000, 1000).map(lambda y: round(y, 9)), min_size=2, max_size=8)
"""Heights in mm; what is smaller than an atom makes the library divide by almost nothing."""


@settings(deadline=None)
@given(heights)
def test_same_as_the_numerical_librarys(ys: list[float]) -> None:
    """On any heights the curve is scipy's PCHIP, an independent implementation of the same papers."""
    from scipy.interpolate import PchipInterpolator

    xs = [float(3 * i + i % 2) for i in range(len(ys))]
    curve, oracle = pchip(xs, ys), PchipInterpolator(xs, ys)
    for x in numpy.linspace(xs[0], xs[-1], 23):
        assert curve(float(x)) == pytest.approx(float(oracle(x)), abs=1e-6, rel=1e-6)


@given(heights)
def test_never_swings_beyond_its_points(ys: list[float]) -> None:
    """Between two points the curve stays between their heights."""
    curve = pchip([float(i) for i in range(len(ys))], ys)
    for i in range(len(ys) - 1):
        low, high = sorted((ys[i], ys[i + 1]))
        assert all(low - 1e-9 <= curve(i + step / 7) <= high + 1e-9 for step in range(8))


def test_one_point_is_a_constant() -> None:
    """A section measured at one key alone keeps its value."""
    assert pchip([4.0], [7.0])(40.0) == 7.0
