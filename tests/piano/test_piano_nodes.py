"""Harmonics at nodes."""

from __future__ import annotations

import math

import pytest

from rimside.errors import BadInput
from rimside.piano.nodes import node_from_near_mm, node_half_width_mm, touched_hz, usable_nodes
from rimside.pitch import Key
from rimside.score.model import Touch
from tests.piano.example import piano


@pytest.mark.parametrize(("n", "count"), [(2, 1), (3, 2), (4, 2), (5, 4), (6, 2), (7, 6), (8, 4)])
def test_number_of_touch_points(n: int, count: int) -> None:
    """As many as Euler's function says; a fourth has two, a sixth has two."""
    # cellomap.com, finding touch points: n = 2: 1, 3: 2, 4: 2, 5: 4, 6: 2, 7: 6, 8: 4.
    assert len(usable_nodes(n)) == count


def test_touch_points_of_a_sixth() -> None:
    """One sixth and five sixths; two sixths would sound the third partial."""
    assert usable_nodes(6) == (Touch(k=1, n=6), Touch(k=5, n=6))


def test_where_the_finger_lies() -> None:
    """Two fifths of the speaking length from the near end."""
    course = piano().course(Key(28))
    assert node_from_near_mm(course, Touch(k=2, n=5)) == pytest.approx(0.4 * course.length_mm)


@pytest.mark.parametrize("touch", [Touch(k=2, n=4), Touch(k=0, n=3), Touch(k=3, n=3)])
def test_what_is_no_node(touch: Touch) -> None:
    """Fractions that reduce, and the two ends."""
    with pytest.raises(BadInput):
        node_from_near_mm(piano().course(Key(28)), touch)


def test_there_is_no_first_partial_to_touch() -> None:
    """A touched partial starts at 2."""
    with pytest.raises(BadInput):
        usable_nodes(1)


@pytest.mark.parametrize("n", [2, 3, 5, 8])
def test_touched_partial_is_sharp_by_the_inharmonicity(n: int) -> None:
    """The just interval and 865.6 B (n^2 - 1) cents more, for small B."""
    # Algebra on Fletcher 1964: (600 / ln 2) B (n^2 - 1).
    course = piano().course(Key(28))
    above = 1200 * math.log2(touched_hz(course, Touch(k=1, n=n)) / (n * course.frequency_hz))
    assert above == pytest.approx(865.617 * course.inharmonicity * (n**2 - 1), rel=0.01)


def test_room_round_a_node() -> None:
    """On a metre of string, fifth partial among eight: 12.5 mm either way."""
    # Farey neighbours, L / (2 n N); no published tolerance for piano strings.
    course = piano().course(Key(28))
    assert node_half_width_mm(course, Touch(k=1, n=5)) / course.length_mm == pytest.approx(1 / 80)
