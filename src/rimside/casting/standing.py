"""A casting read back into the solver's terms, so that work can go on from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rimside.casting.problem import Choice, Problem, Task
from rimside.casting.result import CastChore, CastFigure, Casting, Contact
from rimside.kit import Implement

SAME_MM = 1.0
"""Contacts no further apart along a string are the same contact; files round to a thousandth, people to a whole mm."""


def standing_from(casting: Casting, problem: Problem) -> dict[int, Choice]:
    """What a casting decides, as choices of this problem's tasks.

    Players, places and implements are found by their ids, lanes by where their contacts lie, chores by their id and the
    slot that starts nearest. What this problem does not offer is left open: a figure, player, place or implement that
    is not there, contacts elsewhere, a place out of reach. Choices are looked at one by one; whether they go together
    in this problem is not asked.
    """
    return dict(_matched(casting, problem))


def hands_from(casting: Casting, problem: Problem) -> dict[int, tuple[str, ...]]:
    """The hands that a casting gives to the tasks that it decides."""
    return {index: row.hands for index, row in _rows(casting, problem) if row.hands}


def _matched(casting: Casting, problem: Problem) -> Iterator[tuple[int, Choice]]:
    players = {player.id: number for number, player in enumerate(problem.players)}
    places = {place.id: number for number, place in enumerate(problem.piano.places)}
    tools = {implement.id: number for number, implement in enumerate(problem.implements)}
    bows = {implement.id: implement for implement in casting.implements if implement.key is not None}
    for index, row in _rows(casting, problem):
        task = problem.tasks[index]
        player, place = players.get(row.player or ""), places.get(row.place or "")
        lane = _lane(task, row.contacts)
        implements = _taken(task, row.implements, tools, bows)
        if player is None or place is None or lane is None or implements is None:
            continue
        choice = Choice(player=player, place=place, lane=lane, implements=implements)
        if offered(problem, task, choice):
            yield index, choice


def _rows(casting: Casting, problem: Problem) -> Iterator[tuple[int, CastFigure | CastChore]]:
    """Each row of a casting with the task that it decides."""
    figures = {task.work.id: task.index for task in problem.tasks if task.figure is not None}
    for row in casting.cast:
        if row.figure in figures:
            yield figures[row.figure], row
    for chore in casting.chores:
        slots = problem.slots.get(chore.id, ()) if chore.player is not None else ()
        if slots:
            start_s = chore.start_s
            yield min(slots, key=lambda index: abs(problem.tasks[index].start_s - start_s)), chore


def _lane(task: Task, contacts: tuple[Contact, ...]) -> int | None:
    """The lane whose contacts are nearest to these, none of them further than `SAME_MM`."""
    apart = ((_apart_mm(lane.contacts, contacts), number) for number, lane in enumerate(task.lanes))
    nearest = min((found for found in apart if found[0] <= SAME_MM), default=None)
    return None if nearest is None else nearest[1]


def _apart_mm(mine: tuple[Contact, ...], yours: tuple[Contact, ...]) -> float:
    """The largest distance between contacts of one course or spot and role; infinite when they are not the same."""
    if [(c.key, c.spot, c.role) for c in mine] != [(c.key, c.spot, c.role) for c in yours]:
        return float("inf")
    pairs = zip(mine, yours, strict=True)
    return max((((a.x_mm - b.x_mm) ** 2 + (a.y_mm - b.y_mm) ** 2) ** 0.5 for a, b in pairs), default=0.0)


def _taken(
    task: Task, ids: Iterable[str], tools: Mapping[str, int], bows: Mapping[str, Implement]
) -> tuple[int, ...] | None:
    """The implements from rests, in order, without the bow that goes with its lane; None when one is not there."""
    wanted = [name for name in ids if not (task.bow_key is not None and name in bows)]
    found = [tools[name] for name in wanted if name in tools]
    return tuple(sorted(found)) if len(found) == len(wanted) else None


def offered(problem: Problem, task: Task, choice: Choice) -> bool:
    """Whether a choice is one of a task's options, its implements in reach."""
    need = task.need if task.from_rest else 0
    return (
        task.barred is None
        and choice.player in task.players
        and choice.place in task.places
        and len(choice.implements) == need
        and set(task.taking) <= set(choice.implements) <= set(task.implements)
        and problem.allows(task, choice.player, choice.lane, choice.place)
        and all(problem.rest_mm[tool][choice.place] <= problem.full_mm[choice.player] for tool in choice.implements)
    )
