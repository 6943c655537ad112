"""Left and right: which hand of its player does each thing, once it is settled who does what."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from rimside.casting.problem import Assignment, Choice, Problem, Task, overlap

LEFT, RIGHT = "left", "right"
OTHER = {LEFT: RIGHT, RIGHT: LEFT}
Hands = Mapping[int, tuple[str, ...]]
"""Task index to the hands that do it."""
_Chain = list[tuple[Task, bool]]
"""One-handed tasks of one player, each overlapping one before it, with whether it is in the other hand than the first:
two hands are free to be swapped in the whole chain, and in nothing less."""


def share_hands(problem: Problem, assignment: Assignment, before: Hands | None = None) -> dict[int, tuple[str, ...]]:
    """Left and right for each cast task.

    A chain of overlapping tasks is in the hands that its pins ask for; without pins in those of `before`, as far as it
    has them; else its first task is in the hand that already holds the implement, or the nearer one.
    """
    given: dict[int, tuple[str, ...]] = {}
    for player in sorted({choice.player for choice in assignment.values()}):
        mine = [problem.tasks[index] for index in sorted(assignment) if assignment[index].player == player]
        given |= {task.index: (LEFT, RIGHT)[: task.hands] for task in mine if task.hands != 1}
        for chain in _chains(task for task in mine if task.hands == 1):
            asked = _asked(chain) or _usual(chain, before or {})
            first = asked or _wish(problem, assignment, chain[0][0], mine, given)
            given |= {task.index: (OTHER[first] if flipped else first,) for task, flipped in chain}
    return given


def _chains(tasks: Iterable[Task]) -> Iterator[_Chain]:
    chain: _Chain = []
    for task in tasks:
        partner = next((flipped for other, flipped in reversed(chain) if overlap(other, task)), None)
        if partner is None and chain:
            yield chain
            chain = []
        chain.append((task, partner is False))
    if chain:
        yield chain


def _asked(chain: _Chain) -> str:
    """The hand of the first task that the pins ask for; "" when there is none."""
    return next((OTHER[task.side] if flipped else task.side for task, flipped in chain if task.side), "")


def _usual(chain: _Chain, before: Hands) -> str:
    """The hand of the first task with which most tasks are in the hand that they were in before."""
    were = ((before.get(task.index, ()), flipped) for task, flipped in chain)
    votes = Counter(OTHER[hands[0]] if flipped else hands[0] for hands, flipped in were if len(hands) == 1)
    return max(sorted(votes), key=lambda hand: votes[hand], default="")


def _wish(problem: Problem, assignment: Assignment, task: Task, mine: list[Task], given: Hands) -> str:
    """The hand that already holds the implement, else the nearer one."""
    choice = assignment[task.index]
    earlier = (other for other in reversed(mine) if other.index < task.index and other.index in given)
    same = (given[other.index] for other in earlier if assignment[other.index].implements == choice.implements)
    held = next(same, ()) if choice.implements else ()
    return next(iter(held), None) or nearer_hand(problem, task, choice)


def nearer_hand(problem: Problem, task: Task, choice: Choice) -> str:
    """The hand on whose side the contacts lie, seen from where the player faces."""
    place, lane = problem.piano.places[choice.place], task.lanes[choice.lane]
    if not lane.contacts:
        return RIGHT
    heading = math.radians(place.heading_deg)
    dx = sum(c.x_mm for c in lane.contacts) / len(lane.contacts) - place.at.x_mm
    dy = sum(c.y_mm for c in lane.contacts) / len(lane.contacts) - place.at.y_mm
    return LEFT if math.cos(heading) * dy - math.sin(heading) * dx > 0 else RIGHT
