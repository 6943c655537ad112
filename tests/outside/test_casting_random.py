"""Random small questions: the judge, who never met the solver, finds nothing wrong with any casting."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.casting.solving import solved
from tests.casting.strategies import small_worlds
from tests.casting.worlds import World

pytestmark = pytest.mark.filterwarnings("ignore:Generating overly large repr")


RANDOM = settings(
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def passes_the_judge(where: World, depth: int) -> None:
    """No breach (told by `solved`); each figure is cast or listed, with a reason."""
    casting = solved(where, seconds=0.6, depth=depth)
    named = sorted([row.figure for row in casting.cast] + [entry.figure for entry in casting.uncast])
    assert named == sorted(figure.id for figure in where.figures)
    assert all(entry.reason for entry in casting.uncast)


# Authority: casting/verify.py, written apart from the solver and its rules.
@given(small_worlds())
@settings(RANDOM, max_examples=50)
def test_castings_made_for_coverage_pass_the_judge(where: World) -> None:
    """50 questions of 3 to 14 figures, 2 to 5 players and small kits, cast for coverage alone: no breach."""
    passes_the_judge(where, 1)


# Authority: casting/verify.py, written apart from the solver and its rules.
@given(small_worlds(), st.sampled_from([2, 3, 6]))
@settings(RANDOM, max_examples=10)
def test_castings_made_for_the_lower_levels_pass_the_judge(where: World, depth: int) -> None:
    """10 more, made better at two, three or all six levels: no breach."""
    passes_the_judge(where, depth)


@pytest.mark.soak
@given(small_worlds(), st.sampled_from([1, 2, 3, 6]))
@settings(RANDOM, max_examples=500)
def test_castings_of_any_depth_pass_the_judge(where: World, depth: int) -> None:
    """500 for long runs, at any depth."""
    passes_the_judge(where, depth)
