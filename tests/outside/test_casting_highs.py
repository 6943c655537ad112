"""Stretches of the benchmarks' music, each level in turn: another solver finds the same least value."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from benchmarks.families import instance
from rimside.casting import objective
from rimside.casting.draft import Draft
from rimside.casting.model import Model
from rimside.casting.options import build_problem
from rimside.casting.problem import Problem
from rimside.casting.rules import MODEL_RULES
from rimside.casting.solve import Status, solve
from tests.outside.test_casting_theorems import highs

LEVELS = (
    objective.UNCAST,
    objective.RISK,
    objective.MOVES,
    objective.RETURNS,
    objective.MEMORY,
    objective.LOAD,
)
EFFORT, SECONDS = 60.0, 120.0


@cache
def stretch(first: int, figures: int) -> Problem:
    """Some figures of the 3-minute dense piece for six players, played by the first three of them."""
    of = instance(3, "dense", 6)
    return build_problem(of.figures[first : first + figures], of.piano, of.players[:3], of.kit, of.pedals)


def written(problem: Problem) -> Draft:
    """The draft of all figures with every rule, and no objective yet."""
    draft = Draft(problem, [task.index for task in problem.tasks if task.barred is None])
    for rule in MODEL_RULES:
        rule.add(draft)
    return draft


@cache
def models(first: int, figures: int) -> tuple[tuple[Model, int], ...]:
    """For each level its model, the levels above held at their best, and the best that CP-SAT proves."""
    draft, found = written(stretch(first, figures)), []
    for level in LEVELS:
        terms, constant = objective.terms(draft, level, {})
        draft.model.objective, draft.model.offset = terms, constant
        ours = solve(draft.model, effort=EFFORT, seconds=SECONDS, by_core=level != objective.LOAD)
        assert ours.status is Status.BEST
        assert ours.objective is not None
        found.append((_copy(draft.model), ours.objective))
        draft.model.at_most(terms, ours.objective - constant)
    return tuple(found)


def _copy(model: Model) -> Model:
    """The model as it stands: later levels add to the draft's own."""
    return replace(model, bounds=list(model.bounds), clauses=list(model.clauses), rows=list(model.rows))


def agree(first: int, figures: int, level: int, seconds: float) -> None:
    """HiGHS proves the value that CP-SAT proved."""
    model, least = models(first, figures)[level]
    proved, theirs = highs(model, seconds)
    assert proved, f"HiGHS is not done after {seconds:g} s"
    assert theirs == least


# Authority: HiGHS, a mixed-integer solver that shares no code with CP-SAT, on the same model.
@pytest.mark.parametrize("level", LEVELS)
def test_both_solvers_find_the_same_at_each_level(level: int) -> None:
    """Seven figures, three players: least uncast; then, with all above at their best, each level down to the load."""
    agree(10, 7, level, 60.0)


# Authority: HiGHS, as above.
@pytest.mark.soak
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("first", [5, 10, 24])
def test_both_solvers_agree_on_longer_stretches(first: int, level: int) -> None:
    """Twelve figures from three places of the piece."""
    agree(first, 12, level, 300.0)
