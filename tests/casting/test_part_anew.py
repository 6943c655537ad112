"""One part decided anew: the rest stays, and no level above gets worse."""

from __future__ import annotations

from collections.abc import Iterable
from random import Random
from typing import Any

import pytest

from rimside.casting import objective
from rimside.casting.part import Part, decide, only
from rimside.casting.problem import Assignment, Choice, Problem
from rimside.casting.search import Search
from rimside.casting.solve import Status
from rimside.score.model import Figure, Technique
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.worlds import figure


def standing(seed: int) -> tuple[Problem, dict[int, Choice]]:
    """Twelve figures and a casting of them that was only made for coverage."""
    rng, made = Random(seed), list[Figure]()
    for number in range(12):
        start_s, motif = 2.5 * number, "ab"[number % 2]
        technique = rng.choice((Technique.LINE_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK))
        made.append(figure(f"F{number:02}", technique, (rng.randint(22, 60),), start_s, start_s + 1.5, motif=motif))
    search = Search(problem=question(world(*made)), seconds=2.0, depth=1)
    search.run()
    return search.problem, search.best


def anew(problem: Problem, free: Iterable[int], level: int, before: Assignment, **how: Any) -> Part:
    """Decide a part for one level alone."""
    return decide(problem, free, (level,), before, effort=2.0, seconds=10.0, **how)


@pytest.mark.parametrize("level", range(6))
@pytest.mark.parametrize("seed", range(2))
def test_a_part_is_no_worse_and_the_rest_stays(seed: int, level: int) -> None:
    """Six figures anew at each level: up to it nothing is worse, the other six are as they were."""
    problem, before = standing(seed)
    inside = range(3, 9)
    part = anew(problem, inside, level, before)
    assert part.outcome.usable
    new, old = objective.count(problem, part.answer), objective.count(problem, before)
    assert all(mine <= theirs for mine, theirs in zip(new[: level + 1], old[: level + 1], strict=True))
    outside = frozenset(before) - frozenset(inside)
    assert only(part.answer, outside) == only(before, outside)
    assert part.bound <= new[level]
    assert part.work > 0.0


def two_plucks() -> Problem:
    """Two figures on one string at one time: only one can be cast."""
    return question(world(*(figure(name, Technique.FINGER_PLUCK, (40,), 0.0, 2.0) for name in "AB")))


def test_alone_forgets_the_others() -> None:
    """A figure whose string is taken is cast when it is asked for alone, and not beside the other."""
    problem = two_plucks()
    first = anew(problem, [0], objective.UNCAST, {}, alone=True)
    beside = anew(problem, [1], objective.UNCAST, first.answer)
    alone = anew(problem, [1], objective.UNCAST, first.answer, alone=True)
    assert (beside.bound, alone.bound) == (1, 0)
    assert beside.closed
    assert alone.closed
    assert (1 in beside.answer, 1 in alone.answer) == (False, True)


def test_caps_that_cannot_be_kept_are_impossible() -> None:
    """A cap below what a level must cost leaves no answer, and says so."""
    part = anew(two_plucks(), [0, 1], objective.RISK, {}, alone=True, caps={objective.UNCAST: 0})
    assert part.outcome.status is Status.IMPOSSIBLE
    assert part.answer == {}
    assert not part.closed
