"""Random small questions: the judge, who never met the solver, finds nothing wrong with any casting."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.casting.solving import solved
from tests.casting.strategies import small_worlds
from tests.casting.worlds import World

pytestmark = pytest.mark.filterwarnings("ignore:Generating overly large repr")


# Authority: casting/verify.py, written apart from the solver and its rules.
@given(small_worlds(), st.sampled_from([1, 1, 2, 6]))
@settings(
    max_examples=300,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_every_casting_passes_the_judge(where: World, depth: int) -> None:
    """300 questions of 3 to 14 figures, 2 to 5 players and small kits: no breach; each figure is cast or listed."""
    casting = solved(where, seconds=1.0, depth=depth)
    named = sorted([row.figure for row in casting.cast] + [entry.figure for entry in casting.uncast])
    assert named == sorted(figure.id for figure in where.figures)
    assert all(entry.reason for entry in casting.uncast)
