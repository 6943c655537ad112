"""Bow forces of whole courses."""

from __future__ import annotations

import pytest

from rimside.errors import BadInput
from rimside.piano.bowing import bow_force, course_impedance_kg_per_s
from rimside.piano.strings import wave_impedance_kg_per_s
from rimside.pitch import Key
from tests.piano.example import piano


def test_the_strings_of_a_course_count_together() -> None:
    """Three strings weigh three times one at the bow, and take three times the most force."""
    course = piano().course(Key(40))
    one = wave_impedance_kg_per_s(course.tension_n, course.linear_density_kg_per_m)
    assert course_impedance_kg_per_s(course) == pytest.approx(3 * one)


def test_comfort_lies_half_way_in_ratio() -> None:
    """Comfortable over least is most over comfortable."""
    found = bow_force(piano().course(Key(40)), 150.0)
    assert found.comfortable_n / found.least_n == pytest.approx(found.most_n / found.comfortable_n)
    assert found.least_n < found.most_n


def test_both_ends_count_alike() -> None:
    """A bow as near to the far end needs what it needs at the near end."""
    course = piano().course(Key(40))
    near, far = bow_force(course, 100.0), bow_force(course, course.length_mm - 100.0)
    assert (near.beta, near.least_n, near.most_n) == pytest.approx((far.beta, far.least_n, far.most_n))


def test_nearer_to_the_end_takes_more() -> None:
    """The least force grows with the square of the nearness, the most only with the nearness."""
    course = piano().course(Key(40))
    wide, close = bow_force(course, 160.0), bow_force(course, 80.0)
    assert close.least_n == pytest.approx(4 * wide.least_n)
    assert close.most_n == pytest.approx(2 * wide.most_n)


@pytest.mark.parametrize("at_mm", [0.0, -3.0, 9000.0])
def test_a_bow_lies_on_the_string(at_mm: float) -> None:
    """At or beyond an end there is nothing to bow."""
    with pytest.raises(BadInput, match="beyond"):
        bow_force(piano().course(Key(40)), at_mm)
