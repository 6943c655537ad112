"""H8 and H9 in the model: a figure is only cast when the chores that it needs are done, each by somebody.

A muted course is followed from run to run: its mute lies or not, and changes exactly where it is laid or lifted.
"""

from __future__ import annotations

from collections import defaultdict

from rimside.casting.chore import Muting
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
    of_mutes = {chore for muting in problem.mutings for chore in muting.chores}
    for chore, slots in problem.slots.items():
        inside = [index for index in slots if index in draft.free and chore not in of_mutes]
        if inside and problem.tasks[inside[0]].weight == 0:
            ways = [literal for way, literal in gone.items() if chore in way]
            for index in inside:
                model.clause([draft.u[index], *ways])
    for muting in problem.mutings:
        chosen = (problem.numbers[name] for run in muting.runs for name in run)
        silent = (slot for chore in muting.chores for slot in problem.slots[chore])
        if muting.chores and not draft.free.isdisjoint((*chosen, *silent)):
            _follow(draft, muting)


def _follow(draft: Draft, muting: Muting) -> None:
    """Whether a mute lies in each run, as the changes between them say and the figures ask."""
    model, deeds = draft.model, [_deed(draft, chore) for chore in muting.chores]
    lies = [model.boolean()]
    for number, deed in enumerate(deeds):
        before, after = lies[-1], lies[-1] if deed is None else model.boolean()
        lies.append(after)
        if deed is not None:
            laid = muting.muted_in(number + 1)
            model.clause([~deed, after if laid else ~after])
            model.clause([~deed, ~before if laid else before])
            model.clause([deed, ~before, after])
            model.clause([deed, before, ~after])
    for number, played in enumerate(_played(draft, muting)):
        for cast in played:
            model.clause([~cast, lies[number] if muting.muted_in(number) else ~lies[number]])
    _no_idle_change(draft, muting, deeds)


def _no_idle_change(draft: Draft, muting: Muting, deeds: list[int | None]) -> None:
    """Before, between and after changes somebody plays: no mute is laid or lifted for nobody."""
    played, last = _played(draft, muting), len(deeds)
    for number, deed in enumerate(deeds):
        if deed is not None:
            draft.model.clause([~deed, *(cast for run in range(number, -1, -2) for cast in played[run])])
            draft.model.clause([~deed, *(cast for run in range(number + 1, last + 1, 2) for cast in played[run])])
            for later in range(number + 1, last, 2):
                if (other := deeds[later]) is not None:
                    between = (cast for run in range(number + 1, later + 1, 2) for cast in played[run])
                    draft.model.clause([~deed, ~other, *between])


def _played(draft: Draft, muting: Muting) -> list[list[int]]:
    """For each run the literals of its figures being cast, as far as they take part here."""
    numbers = draft.problem.numbers
    return [[~draft.u[numbers[name]] for name in run if numbers[name] in draft.u] for run in muting.runs]


def _deed(draft: Draft, chore: str) -> int | None:
    """The literal of a chore being done; None when it takes no part here, and so is not done."""
    done = [~draft.u[index] for index in draft.problem.slots[chore] if index in draft.u]
    if len(done) < 2:
        return done[0] if done else None
    deed = draft.model.any_of(done)
    draft.model.clause([~deed, *done])
    return deed


def _gone(draft: Draft, way: tuple[str, ...]) -> int:
    """The literal that, when true, means that all chores of a way are done."""
    literal = draft.model.boolean()
    for chore in way:
        done = [~draft.u[index] for index in draft.problem.slots.get(chore, ()) if index in draft.u]
        draft.model.clause([~literal, *done])
    return literal
