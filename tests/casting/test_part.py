"""One part decided anew: the rest stays, and no level above gets worse."""

from __future__ import annotations

from random import Random

import pytest
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.worlds import figure

from rimside.casting import objective
from rimside.casting.part import decide, only
from rimside.casting.problem import Choice, Problem
from rimside.casting.search import Search
from rimside.casting.solve import Status
from rimside.score.model import Figure, Technique


def standing(seed: int) -> tuple[Problem, dict[int, Choice]]:
    """Twelve figures and a casting of them that was only made for coverage."""
    rng, made = Random(seed), list[Figure]()
    for number in range(12):
        start_s, technique = (
            2.5 * number,
            rng.choice((Technique.LINE_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK)),
        )
        made.append(
            figure(f"F{number:02}", technique, (rng.randint(22, 60),), start_s, start_s + 1.5, motif="ab"[number % 2])
        )
    search = Search(problem=question(world(*made)), seconds=2.0, depth=1)
    search.run()
    return search.problem, search.best


@pytest.mark.parametrize("level", range(6))
@pytest.mark.parametrize("seed", range(2))
def test_a_part_is_no_worse_and_the_rest_stays(seed: int, level: int) -> None:
    """Six figures anew at each level: up to it nothing is worse, the other six are as they were."""
    problem, before = standing(seed)
    inside = range(3, 9)
    part = decide(problem, inside, level, before, effort=2.0, seconds=10.0)
    assert part.outcome.usable
    new, old = objective.count(problem, part.answer), objective.count(problem, before)
    assert all(mine <= theirs for mine, theirs in zip(new[: level + 1], old[: level + 1], strict=True))
    outside = frozenset(before) - frozenset(inside)
    assert only(part.answer, outside) == only(before, outside)
    assert part.bound <= new[level]
    assert part.work > 0.0


def test_alone_forgets_the_others() -> None:
    """A figure whose string is taken is cast when it is asked for alone, and not beside the other."""
    two = [figure(name, Technique.FINGER_PLUCK, (40,), 0.0, 2.0) for name in "AB"]
    problem = question(world(*two))
    first = decide(problem, [0], objective.UNCAST, {}, effort=1.0, seconds=5.0, alone=True)
    beside = decide(problem, [1], objective.UNCAST, first.answer, effort=1.0, seconds=5.0)
    alone = decide(problem, [1], objective.UNCAST, first.answer, effort=1.0, seconds=5.0, alone=True)
    assert (beside.outcome.objective, alone.outcome.objective) == (1, 0)
    assert beside.closed
    assert alone.closed


def test_caps_that_cannot_be_kept_are_impossible() -> None:
    """A cap below what a level must cost leaves no answer, and says so."""
    two = [figure(name, Technique.FINGER_PLUCK, (40,), 0.0, 2.0) for name in "AB"]
    part = decide(
        question(world(*two)),
        [0, 1],
        objective.RISK,
        {},
        effort=1.0,
        seconds=5.0,
        alone=True,
        caps={objective.UNCAST: 0},
    )
    assert part.outcome.status is Status.IMPOSSIBLE
    assert part.answer == {}
    assert not part.closed
