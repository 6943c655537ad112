"""Nodes of strings against what is published about harmonics, and against the shapes of partials by numbers."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from rimside.piano.nodes import drive_half_width_mm, drive_lost, node_half_width_mm, touched_hz, usable_nodes
from rimside.pitch import Key
from rimside.score.model import Touch
from tests.piano.example import piano


def partials_left(fraction: Fraction, most: int) -> set[int]:
    """Which partials of a string go on when it is held still at a point: those whose shape is 0 there, by numbers."""
    return {n for n in range(1, most + 1) if abs(np.sin(n * np.pi * float(fraction))) < 1e-9}


@pytest.mark.parametrize("n", range(2, 17))
def test_a_touch_isolates_partial_n_and_its_multiples(n: int) -> None:
    """At each node of partial n only n, 2n, 3n ... go on, and no other point of the form k/n does that."""
    # cellomap.com, finding harmonics' touch points: k/n isolates partial n; reducible fractions give the lower partial.
    for k in range(1, n):
        wanted = {partial for partial in range(1, 49) if partial % n == 0}
        assert (partials_left(Fraction(k, n), 48) == wanted) == (Touch(k=k, n=n) in usable_nodes(n))


@pytest.mark.parametrize(("n", "count"), [(2, 1), (3, 2), (4, 2), (5, 4), (6, 2), (7, 6), (8, 4)])
def test_as_many_touch_points_as_printed(n: int, count: int) -> None:
    """Four for the fifth partial, two (1/6 and 5/6) for the sixth; a prime has all of them."""
    # cellomap.com, finding harmonics' touch points, for 2 to 8; it states those of 4 and 6 exactly so.
    assert len(usable_nodes(n)) == count
    if n in (2, 3, 5, 7):
        assert count == n - 1


@pytest.mark.parametrize("most", [5, 8, 12])
def test_no_two_nodes_are_nearer_than_the_tolerance_says(most: int) -> None:
    """Inside the stated half width round k/n there is no nearer node of any partial up to N; it is tight."""
    # Farey: two fractions j/m and k/n differ by at least 1/(mn). Algebra; no published tolerance for piano strings.
    course = piano().course(Key(28))
    nodes = [touch for n in range(2, most + 1) for touch in usable_nodes(n)]
    slack = []
    for a, b in combinations(nodes, 2):
        apart_mm = abs(a.k / a.n - b.k / b.n) * course.length_mm
        half_mm = max(node_half_width_mm(course, touch, most) for touch in (a, b))
        assert apart_mm >= 2.0 * half_mm - 1e-9
        slack.append(apart_mm / (2.0 * half_mm))
    assert min(slack) == pytest.approx(1.0)


def test_a_tenth_of_the_drive_is_left_three_hundredths_aside() -> None:
    """A finger 0.032 L / n beside the node takes a tenth of partial n, and a touch within the half width no more."""
    # Algebra: sin(n pi d / L) = 0.1 at d = 0.0319 L / n.
    course = piano().course(Key(40))
    for n in (2, 3, 5, 8):
        off_mm = 0.032 * course.length_mm / n
        assert drive_lost(course, Touch(k=1, n=n), off_mm) == pytest.approx(0.1, abs=0.0005)
        assert drive_half_width_mm(course, Touch(k=1, n=n)) == pytest.approx(off_mm, rel=0.005)


def test_nodes_of_a_stiff_string_stay_where_they_are() -> None:
    """A pinned stiff string by finite differences: its shapes are zero at k/n, though its partials are sharp."""
    # Theory of the pinned stiff string (Fletcher, JASA 36 (1964) 203): sinusoidal shapes. Own numerical twin.
    points, stiff = 240, 1.0e-3
    second = (
        np.diag(np.full(points - 1, -2.0)) + np.diag(np.ones(points - 2), 1) + np.diag(np.ones(points - 2), -1)
    ) * points**2
    squares, shapes = np.linalg.eigh(-second + stiff / math.pi**2 * second @ second)
    frequency = np.sqrt(squares) / math.pi
    for n in (2, 3, 5):
        assert frequency[n - 1] == pytest.approx(n * math.sqrt(1.0 + stiff * n**2), rel=2e-3)
        for touch in usable_nodes(n):
            at = points * touch.k // touch.n - 1
            assert abs(shapes[at, n - 1]) < 1e-6 * np.abs(shapes[:, n - 1]).max()


@pytest.mark.parametrize("key", [1, 28, 40, 52])
def test_a_touched_partial_is_sharp_by_the_published_law(key: int) -> None:
    """Its interval over the just one is 865.6 B (n^2 - 1) cents, within 2 % as long as B n^2 is small."""
    # Fletcher, JASA 36 (1964) 203 for the law; (600 / ln 2) B (n^2 - 1) by algebra.
    course = piano().course(Key(key))
    for n in (2, 3, 4, 5):
        sharp = 1200.0 * math.log2(touched_hz(course, Touch(k=1, n=n)) / (n * course.frequency_hz))
        assert sharp == pytest.approx(865.617 * course.inharmonicity * (n**2 - 1), rel=0.02)


@pytest.mark.parametrize("q", [3, 4, 5, 7])
def test_a_string_excited_at_a_node_lacks_the_partials_with_a_node_there(q: int) -> None:
    """Plucked at p/q, partials q, 2q ... are absent, by the spectrum of the plucked shape; and only those are."""
    # Young's law; Raman, Bull. Indian Assoc. Cultiv. Sci. 15 (1918) sec. X: "the series of harmonics having a node at
    # that point is completely absent". Numbers by numpy: sine series of the triangle.
    x = np.linspace(0.0, 1.0, 4 * 3 * 5 * 7 * 20 + 1)
    at = 1.0 / q
    shape = np.where(x < at, x / at, (1.0 - x) / (1.0 - at))
    for n in range(1, 15):
        strength = abs(np.trapezoid(shape * np.sin(n * np.pi * x), x)) * n**2
        absent = any(touch == Touch(k=1, n=q) for touch in usable_nodes(q)) and n % q == 0
        assert (strength < 1e-5) == absent
