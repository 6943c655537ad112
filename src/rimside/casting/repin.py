"""A casting after some pins have changed: what they touch is decided anew, the rest stays as it is."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import nsmallest

from rimside.casting import objective
from rimside.casting.assemble import assemble
from rimside.casting.draft import opened
from rimside.casting.explain import why_uncast
from rimside.casting.hands import Hands
from rimside.casting.mends import with_mends
from rimside.casting.part import decide, only
from rimside.casting.pin import Pin
from rimside.casting.pin_clash import with_pin_reasons
from rimside.casting.pins import apply
from rimside.casting.problem import Assignment, Choice, Liked, Problem, gap_s, in_order
from rimside.casting.question import Question
from rimside.casting.result import Casting, Proof, Uncast
from rimside.casting.standing import hands_from, standing_from
from rimside.casting.tidy import tidied

KEEP = (objective.UNCAST, objective.STAY)
"""What counts first when pins have changed: nothing lost, few figures changed."""
CALM = (*KEEP, objective.CHANGED, objective.RISK, objective.MOVES)
"""What counts then among the figures that must change: the same, and they change by little, and are as calm as ever."""
WIDTHS = (6, 12, 24, 48, 120)
"""How many figures near each touched one are opened with it; the next only when the one before loses something."""
EFFORT, SECONDS = 12.0, 60.0
"""Work and time allowed for all questions together; hardly any pin needs a tenth of it."""
MENDED_AT_MOST, MEND_EFFORT = 3, 0.5
"""Newly uncast figures for which mends are sought, and the work for each: a new pin is answered at once."""
PART_SHARE = 0.4
"""Of the work that is left: the most for one question."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repinned:
    """The answer, and the tasks that were opened for it; every other choice and hand is as it was.

    `problem` is the question with the hands of all that was kept written into it.
    """

    problem: Problem
    assignment: Mapping[int, Choice]
    opened: frozenset[int]


def recast(
    plain: Problem, pins: tuple[Pin, ...], casting: Casting, *, seed: int = 0, question: Question | None = None
) -> Casting:
    """The casting that honours these pins and keeps all that they do not touch.

    Parameters
    ----------
    plain : the question without pins.
    casting : an answer to the same question, whatever its pins were.
    question : what the problem with its pins is built from; with it, what would mend what is newly uncast is sought.

    Raises
    ------
    BadInput : a pin that cannot be meant so.
    """
    started_s = time.monotonic()
    problem = apply(plain, pins)
    standing, hands = standing_from(casting, problem), hands_from(casting, problem)
    changed = touched(problem, casting, standing, hands, pins)
    liked = _liked(casting, problem, changed)
    found = repin(problem, standing, changed, hands=hands, liked=liked, seed=seed)
    proof = proofs(problem, found.assignment, casting, pins, changed)
    whole = assemble(found.problem, found.assignment, proof, casting.pedals, 0.0, explain=False, before=hands)
    reasons = _reasons(problem, found, casting, question)
    whole = with_pin_reasons(replace(whole, uncast=reasons), plain, problem, found.assignment)
    return replace(whole, like=casting.like, seconds=round(time.monotonic() - started_s, 3))


def repin(
    problem: Problem,
    standing: Assignment,
    changed: Iterable[int],
    *,
    hands: Hands | None = None,
    liked: Mapping[int, Liked] | None = None,
    effort: float = EFFORT,
    seconds: float = SECONDS,
    seed: int = 0,
) -> Repinned:
    """Decide the changed tasks anew, and of the others only what is near and in their way.

    Parameters
    ----------
    problem : the question with its pins.
    standing : the choices so far that the pins still allow; those of `changed` are looked at again.
    hands : the hands so far; those of whatever is not opened stay.
    liked : what the changed tasks were given before, to stay close to it.
    """
    again = frozenset(index for index in changed if problem.tasks[index].barred is None)
    asking = _Asking(problem=problem, standing=standing, hands=hands or {}, liked=liked or {}, seed=seed)
    asking.left, asking.until_s = effort, time.monotonic() + seconds
    goal = _lost(problem, dict.fromkeys((*standing, *again), Choice(player=0, place=0, lane=0)))
    best, inside = _without(problem, standing, again), frozenset[int]()
    for width in WIDTHS if again else ():
        wider = opened(problem, near(problem, again, width))
        if wider == inside or _lost(problem, best) <= goal:
            break
        inside = wider
        answer = asking.decide(inside, KEEP)
        if answer and _lost(problem, answer) < _lost(problem, best):
            best = answer
    altered = {*again, *(index for index in inside if best.get(index) != standing.get(index))}
    few = opened(problem, altered)
    calm = asking.decide(few, CALM) if few else {}
    if calm and _lost(problem, calm) <= _lost(problem, best):
        # else the hands of what was opened but not altered may have to change too
        best, inside = calm, few
    return Repinned(problem=asking.question(inside), assignment=best, opened=inside)


@dataclass(slots=True, kw_only=True)
class _Asking:
    """The questions of one re-solve, paid from one purse of work and time."""

    problem: Problem
    standing: Assignment
    hands: Hands
    liked: Mapping[int, Liked]
    seed: int
    left: float = EFFORT
    until_s: float = 0.0

    def question(self, inside: frozenset[int]) -> Problem:
        """The problem with all hands outside as they are."""
        return held_hands(self.problem, self.hands, self.standing, inside)

    def decide(self, inside: frozenset[int], aims: Sequence[int]) -> dict[int, Choice]:
        """The whole answer with some tasks decided anew; empty when there is none, or nothing left to pay with."""
        seconds = self.until_s - time.monotonic()
        if self.left <= 0.0 or seconds <= 0.0:
            return {}
        asked, effort = replace(self.question(inside), liked=self.liked), self.left * PART_SHARE
        part = decide(asked, inside, aims, self.standing, effort=effort, seconds=seconds, seed=self.seed)
        self.left -= part.work
        return dict(part.answer)


def _lost(problem: Problem, assignment: Assignment) -> int:
    return objective.uncast_weight(problem, assignment)


def _without(problem: Problem, standing: Assignment, gone: frozenset[int]) -> dict[int, Choice]:
    """What stands without some tasks, and without chores that nobody needs any more."""
    return tidied(problem, only(standing, frozenset(standing) - gone))


def near(problem: Problem, tasks: Iterable[int], width: int) -> frozenset[int]:
    """Some tasks, for each the figures nearest in time, and from the second width on those that use its bow."""
    wanted = frozenset(tasks)
    others = [task for task in problem.tasks if task.barred is None and task.weight]
    found = set(wanted)
    for index in wanted:
        mine = problem.tasks[index]
        found.update(
            task.index for task in nsmallest(width, others, key=lambda task: max(0.0, gap_s(*in_order(mine, task))))
        )
        if width > WIDTHS[0] and mine.bow_key is not None:
            found.update(task.index for task in others if task.bow_key == mine.bow_key)
    return frozenset(found)


def held_hands(problem: Problem, hands: Hands, standing: Assignment, inside: frozenset[int]) -> Problem:
    """The same question, with the hand of every one-handed task that stands outside pinned to what it is."""
    tasks = list(problem.tasks)
    for index, given in hands.items():
        if len(given) == 1 == tasks[index].hands and index in standing and index not in inside:
            tasks[index] = replace(tasks[index], side=given[0])
    return replace(problem, tasks=tuple(tasks))


def touched(
    problem: Problem, casting: Casting, standing: Assignment, hands: Hands, pins: tuple[Pin, ...]
) -> frozenset[int]:
    """Figures whose part in a casting the pins no longer allow, and uncast ones near a pin that has changed."""
    cast = {row.figure for row in casting.cast}
    altered = {pin.figure for pin in {*pins} ^ {*casting.pins}}
    ways = [task for task in problem.tasks if task.figure is not None and task.barred is None]
    moved = [task for task in problem.tasks if task.work.id in altered]
    broken = {
        task.index
        for task in ways
        if task.work.id in cast
        and (task.index not in standing or (task.side and hands.get(task.index) != (task.side,)))
    }
    horizon_s = problem.horizon_s
    freed = {
        task.index
        for task in ways
        if task.work.id not in cast and any(gap_s(*in_order(task, other)) < horizon_s for other in moved)
    }
    return frozenset(broken | freed)


def _liked(casting: Casting, problem: Problem, changed: frozenset[int]) -> dict[int, Liked]:
    players = {player.id: number for number, player in enumerate(problem.players)}
    places = {place.id: number for number, place in enumerate(problem.piano.places)}
    rows = {row.figure: row for row in casting.cast}
    found = {index: rows.get(problem.tasks[index].work.id) for index in changed}
    return {
        index: Liked(
            player=players.get(row.player),
            places=frozenset({places[row.place]} if row.place in places else ()),
            kind=problem.tasks[index].kind,
        )
        for index, row in found.items()
        if row is not None
    }


def proofs(
    problem: Problem, assignment: Assignment, casting: Casting, pins: tuple[Pin, ...], changed: frozenset[int]
) -> tuple[Proof, ...]:
    """Value and bound of every level.

    More pins leave fewer castings, so that what was proved of more castings still holds: for coverage always, for a
    level below as long as no level above it is worse than it was, because a bound speaks of castings no worse there.
    When a pin has gone, nothing that was proved need hold.
    """
    values, names = objective.count(problem, assignment), objective.named(problem)
    before = {proof.level: proof for proof in casting.proof} if {*casting.pins} <= {*pins} else {}
    told: list[Proof] = []
    valid = True
    for name, value in zip(names, values, strict=True):
        earlier = before.get(name)
        bound = earlier.bound if earlier is not None and valid else 0
        if not told:
            bound = max(bound, _barred_weight(problem))
            bound = max(bound, _least_uncast(problem, assignment, changed)) if bound < value else bound
        valid = valid and earlier is not None and value <= earlier.value
        told.append(Proof(level=name, value=value, bound=bound))
    return tuple(told)


def _barred_weight(problem: Problem) -> int:
    return sum(task.weight for task in problem.tasks if task.barred is not None)


def _least_uncast(problem: Problem, assignment: Assignment, changed: frozenset[int]) -> int:
    """What the surroundings of the touched figures leave out at least, on their own; and whatever is barred."""
    uncast = frozenset(index for index in changed if index not in assignment)
    if not uncast:
        return 0
    part = decide(
        problem, near(problem, uncast, WIDTHS[1]), (objective.UNCAST,), {}, effort=1.0, seconds=SECONDS, bare=True
    )
    return part.bound + _barred_weight(problem)


def _reasons(problem: Problem, found: Repinned, casting: Casting, question: Question | None) -> tuple[Uncast, ...]:
    """Why each uncast figure is so; what was said before is kept where nothing near has changed."""
    said = {row.figure: row for row in casting.uncast}
    horizon_s = problem.horizon_s
    reopened = [problem.tasks[index] for index in found.opened]
    told: list[Uncast] = []
    sought = 0
    for task in problem.tasks:
        if task.figure is None or task.index in found.assignment:
            continue
        fresh = task.barred is not None or any(gap_s(*in_order(task, other)) < horizon_s for other in reopened)
        known = None if fresh else said.get(task.work.id)
        row = known or why_uncast(problem, found.assignment, task)
        if question is not None and known is None and sought < MENDED_AT_MOST:
            sought += 1
            row = with_mends(question, problem, found.assignment, task, row, effort=MEND_EFFORT)
        told.append(row)
    return tuple(told)
