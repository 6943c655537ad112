"""One part of a piece decided anew at one level, everything else kept, the levels above not made worse."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rimside.casting import objective
from rimside.casting.draft import Draft, opened, touching
from rimside.casting.problem import Assignment, Choice, Problem
from rimside.casting.rules import MODEL_RULES, h09_chores
from rimside.casting.solve import Outcome, Status, solve

WORK_PER_CONSTRAINT = 4e-6
"""What writing one clause or row costs, in the solver's units of work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The answer for the whole piece after one part was decided anew (empty when none), and what the solver said.

    `bound` is what the first level aimed at costs in this part at least.
    """

    outcome: Outcome
    answer: Mapping[int, Choice]
    bound: int
    work: float

    @property
    def closed(self) -> bool:
        """Whether the part is proved best."""
        return self.outcome.status is Status.BEST


def decide(
    problem: Problem,
    free: Iterable[int],
    aims: Sequence[int],
    standing: Assignment,
    *,
    effort: float,
    seconds: float,
    seed: int = 0,
    alone: bool = False,
    bare: bool = False,
    otherwise: float = 0.0,
    caps: Mapping[int, int] | None = None,
    stop: threading.Event | None = None,
) -> Part:
    """Decide `free` anew.

    Parameters
    ----------
    aims : the levels to make as low as possible, the first before the second and so on, counted from 0. The levels
        above the first are not made worse.
    standing : all choices so far; those of `free` are a hint, the others stay.
    effort, seconds, seed, stop : as in `solve`.
    alone : leave all other figures out, as if they were not there.
    bare : leave out chores too; what is proved so holds with them all the more.
    otherwise : effort for the solver's usual search when the one by cores did not close; what cores find hopeless, it
        often sees at once (too few hands for too many figures).
    caps : what the levels above may cost, by level (one that is not there may cost anything); what they cost in
        `standing` when None.
    """
    inside = frozenset(free) if bare else opened(problem, free)
    draft = Draft(problem, inside, {} if alone or bare else touching(problem, inside, standing))
    for rule in MODEL_RULES:
        if not (bare and rule is h09_chores):
            rule.add(draft)
    for upper in above(problem, aims[0]):
        if caps is not None and upper not in caps:
            continue
        terms, constant = objective.terms(draft, upper, standing)
        cap = caps[upper] if caps is not None else _cap(problem, upper, standing, inside)
        draft.model.at_most(terms, cap - constant)
    weight, offset = _aim(draft, aims, standing)
    if not inside.isdisjoint(standing):
        draft.assume(standing)
    by_core = aims[0] != objective.LOAD
    outcome = solve(draft.model, effort=effort, seconds=seconds, seed=seed, by_core=by_core, stop=stop)
    if otherwise and outcome.status in (Status.FOUND, Status.OUT_OF_TIME):
        usual = solve(draft.model, effort=otherwise, seconds=seconds, seed=seed, by_core=False, stop=stop)
        outcome = better(outcome, usual)
    rest = {index: choice for index, choice in standing.items() if index not in inside}
    answer = {**rest, **draft.read(list(outcome.values))} if outcome.usable else {}
    size = len(draft.model.clauses) + len(draft.model.rows)
    # what lies below the first level adds less than its weight, so whole weights are what is proved of it
    bound = max(0, outcome.bound // weight + offset) if outcome.bound is not None else 0
    return Part(outcome=outcome, answer=answer, bound=bound, work=outcome.effort + WORK_PER_CONSTRAINT * size)


def better(one: Outcome, other: Outcome) -> Outcome:
    """What two searches for one question say together."""
    if Status.BEST in (one.status, other.status):
        best = one if one.status is Status.BEST else other
        return replace(best, effort=one.effort + other.effort)
    usable = [outcome for outcome in (one, other) if outcome.usable and outcome.objective is not None]
    found = min(usable, key=lambda outcome: outcome.objective or 0, default=other)
    bounds = [outcome.bound for outcome in (one, other) if outcome.bound is not None]
    return replace(found, bound=max(bounds, default=None), effort=one.effort + other.effort)


def _aim(draft: Draft, aims: Sequence[int], standing: Assignment) -> tuple[int, int]:
    """Write one objective in which each level outweighs all below it; returns the first one's weight and constant."""
    weight, offset = 1, 0
    for level in reversed(aims):
        terms, offset = objective.terms(draft, level, standing)
        if level != aims[-1]:
            weight = 1 + sum(abs(c) * max(map(abs, draft.model.bounds[v])) for c, v in draft.model.objective)
        draft.model.objective += [(weight * coefficient, variable) for coefficient, variable in terms]
    return weight, offset


def _cap(problem: Problem, level: int, standing: Assignment, inside: frozenset[int]) -> int:
    """What the part costs at a level as it stands."""
    if level == objective.UNCAST:
        return objective.uncast_weight(problem, standing, inside)
    if level == objective.RISK:
        return objective.risk_ms(problem, standing, inside)
    if level == objective.MOVES:
        return objective.moves(problem, {**touching(problem, inside, standing), **only(standing, inside)})
    return objective.count(problem, standing)[objective.order(problem).index(level)]


def above(problem: Problem, level: int) -> tuple[int, ...]:
    """The levels that come before one; before STAY, which is none, there is coverage alone."""
    order = objective.order(problem)
    return order[: order.index(level)] if level in order else order[:1]


def only(assignment: Assignment, inside: frozenset[int]) -> dict[int, Choice]:
    """The choices of some tasks alone."""
    return {index: choice for index, choice in assignment.items() if index in inside}
