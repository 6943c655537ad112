"""H8 and H9 in the model: a figure is only cast when the chores that it needs are done, each by somebody."""

from __future__ import annotations

from collections import defaultdict

from rimside.casting.draft import Draft

RULE, NAME = "H9", "chores done"


def add(draft: Draft) -> None:
    """Of the ways to get ready for a figure one is gone whole; no chore is done that nobody needs."""
    problem, model = draft.problem, draft.model
    gone: dict[tuple[str, ...], int] = {}
    asking: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for index, need in problem.needed:
        wanted = (slot for way in need.ways for chore in way for slot in problem.slots.get(chore, ()))
        if index not in draft.u or (index not in draft.free and draft.free.isdisjoint(wanted)):
            continue
        for way in need.ways:
            if way not in gone:
                gone[way] = _gone(draft, way)
            asking[way].append(index)
        model.clause([draft.u[index], *(gone[way] for way in need.ways)])
        if len(need.ways) > 1:
            model.at_most([(1, gone[way]) for way in need.ways], 1)
    for way, literal in gone.items():
        model.clause([~literal, *(~draft.u[index] for index in asking[way])])
    for chore, slots in problem.slots.items():
        inside = [index for index in slots if index in draft.free]
        if inside and problem.tasks[inside[0]].weight == 0:
            ways = [literal for way, literal in gone.items() if chore in way]
            for index in inside:
                model.clause([draft.u[index], *ways])


def _gone(draft: Draft, way: tuple[str, ...]) -> int:
    """The literal that, when true, means that all chores of a way are done."""
    literal = draft.model.boolean()
    for chore in way:
        done = [~draft.u[index] for index in draft.problem.slots.get(chore, ()) if index in draft.u]
        draft.model.clause([~literal, *done])
    return literal
