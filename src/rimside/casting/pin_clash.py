"""Which pins clash when together they leave a figure uncast, confirmed by solving again without each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rimside.casting.draft import Draft, opened, touching
from rimside.casting.pin import RULE, Pin
from rimside.casting.pins import apply, clash_words
from rimside.casting.problem import Assignment, Choice, Problem, Task, gap_s, in_order
from rimside.casting.result import Casting, Uncast
from rimside.casting.rules import MODEL_RULES
from rimside.casting.solve import Status, solve
from rimside.casting.standing import offered

AROUND = 24
"""Figures nearest in time that may be cast otherwise while it is asked whether one could be cast too."""
EFFORT, SECONDS = 1.0, 10.0
"""For one question."""


def with_pin_reasons(casting: Casting, plain: Problem, pinned: Problem, assignment: Assignment) -> Casting:
    """The casting, in which figures that are uncast because of pins say which.

    Parameters
    ----------
    plain, pinned : the question without and with the pins.
    assignment : the answer, in terms of `pinned`.
    """
    if not pinned.pins:
        return casting
    tasks = {task.work.id: task for task in pinned.tasks}
    told = tuple(_told(row, tasks[row.figure], plain, pinned, assignment) for row in casting.uncast)
    return replace(casting, uncast=told)


def _told(row: Uncast, task: Task, plain: Problem, pinned: Problem, assignment: Assignment) -> Uncast:
    if task.barred is not None:
        return replace(row, proved=True) if task.barred[0] == RULE else row
    found = clashing(plain, pinned, assignment, task)
    if not found:
        return row
    return Uncast(figure=row.figure, rule=RULE, reason=_words(found, row.figure), proved=True)


def _words(pins: Sequence[Pin], figure: str) -> str:
    if len(pins) > 1:
        return clash_words(pins)
    return f"the pin ({pins[0].words}) leaves no way to play {figure} beside all that is cast"


def clashing(plain: Problem, pinned: Problem, assignment: Assignment, task: Task) -> tuple[Pin, ...]:
    """A smallest set of pins near a figure with which it cannot be cast beside all that is; without any one it can.

    Empty when the pins are not to blame, or when the time allowed does not settle it.
    """
    inside = _around(plain, task)
    names = {plain.tasks[index].work.id for index in inside}
    parts = [part for pin in pinned.pins for part in pin.apart()]
    mine, others = [p for p in parts if p.figure in names], [p for p in parts if p.figure not in names]

    def answer(asked: Sequence[Pin]) -> Status:
        return _together(apply(plain, [*others, *asked]), pinned, assignment, inside, task.index)

    if not mine or answer(mine) is not Status.IMPOSSIBLE or answer(()) not in (Status.BEST, Status.FOUND):
        return ()
    step = len(mine) // 2
    while step:
        for start in range(0, len(mine), step):
            fewer = [pin for number, pin in enumerate(mine) if not start <= number < start + step]
            if answer(fewer) is Status.IMPOSSIBLE:
                mine = fewer
                break
        else:
            step //= 2
    return tuple(mine)


def _around(problem: Problem, task: Task) -> frozenset[int]:
    others = [other for other in problem.tasks if other.figure is not None]
    others.sort(key=lambda other: (max(0.0, gap_s(*in_order(task, other))), other.index))
    return frozenset({task.index, *(other.index for other in others[:AROUND])})


def _together(problem: Problem, pinned: Problem, assignment: Assignment, inside: frozenset[int], wanted: int) -> Status:
    """Whether a figure can be cast beside all that is, when what is near may be cast otherwise."""
    free = opened(problem, inside)
    must = {wanted, *(index for index in inside if index in assignment)}
    if any(problem.tasks[index].barred is not None for index in must):
        return Status.IMPOSSIBLE
    draft = Draft(problem, free, touching(problem, free, carried(assignment, pinned, problem)), must=must)
    for rule in MODEL_RULES:
        rule.add(draft)
    return solve(draft.model, effort=EFFORT, seconds=SECONDS).status


def carried(assignment: Assignment, before: Problem, now: Problem) -> dict[int, Choice]:
    """The choices of one question in terms of another that differs in pins; what that does not offer is left open."""
    found: dict[int, Choice] = {}
    for index, choice in assignment.items():
        lane, task = before.tasks[index].lanes[choice.lane], now.tasks[index]
        if lane in task.lanes:
            moved = replace(choice, lane=task.lanes.index(lane))
            if offered(now, task, moved):
                found[index] = moved
    return found
