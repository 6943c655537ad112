"""Between a few measured keys: a smooth curve that never swings beyond them."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import pairwise


def pchip(xs: Sequence[float], ys: Sequence[float]) -> Callable[[float], float]:
    """A monotone piecewise cubic through points with ascending x; straight with two points, constant with one.

    Outside the points the nearest piece goes on. Source: Fritsch & Carlson, SIAM J. Numer. Anal. 17 (1980) 238, with
    the slopes of Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300.
    """
    if len(xs) == 1:
        only = ys[0]
        return lambda _x: only
    slopes = _slopes(xs, ys)

    def curve(x: float) -> float:
        i = min(max(bisect_right(xs, x) - 1, 0), len(xs) - 2)
        return _hermite(x, (xs[i], xs[i + 1]), (ys[i], ys[i + 1]), (slopes[i], slopes[i + 1]))

    return curve


def _hermite(x: float, xs: tuple[float, float], ys: tuple[float, float], slopes: tuple[float, float]) -> float:
    width = xs[1] - xs[0]
    t = (x - xs[0]) / width
    return (
        ys[0] * (1 + 2 * t) * (1 - t) ** 2
        + slopes[0] * width * t * (1 - t) ** 2
        + ys[1] * t**2 * (3 - 2 * t)
        + slopes[1] * width * t**2 * (t - 1)
    )


def _slopes(xs: Sequence[float], ys: Sequence[float]) -> list[float]:
    widths = [b - a for a, b in pairwise(xs)]
    rises = [(b - a) / w for (a, b), w in zip(pairwise(ys), widths, strict=True)]
    if len(rises) == 1:
        return [rises[0], rises[0]]
    inner = [_inner(*w, *r) for w, r in zip(pairwise(widths), pairwise(rises), strict=True)]
    return [_edge(*widths[:2], *rises[:2]), *inner, _edge(*widths[-1:-3:-1], *rises[-1:-3:-1])]


def _inner(width_a: float, width_b: float, rise_a: float, rise_b: float) -> float:
    """The weighted harmonic mean of two rises; 0 where the points turn."""
    if rise_a * rise_b <= 0:
        return 0.0
    weight_a, weight_b = 2 * width_b + width_a, width_b + 2 * width_a
    return (weight_a + weight_b) / (weight_a / rise_a + weight_b / rise_b)


def _edge(width_a: float, width_b: float, rise_a: float, rise_b: float) -> float:
    """The three-point slope at an end, kept to the shape of the points."""
    slope = ((2 * width_a + width_b) * rise_a - width_a * rise_b) / (width_a + width_b)
    if slope * rise_a <= 0:
        return 0.0
    return 3 * rise_a if rise_a * rise_b <= 0 and abs(slope) > 3 * abs(rise_a) else slope
