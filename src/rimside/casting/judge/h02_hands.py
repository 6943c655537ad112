"""H2 as the judge reads it: nobody needs more than two hands, one foot, or two places at once."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from rimside.casting.judge.plan import CHORE_LIMBS, HANDS, Breach, Plan, Stay, Task, by_player, named, overlap
from rimside.casting.result import CastChore
from rimside.score.model import Technique

FEET = 1
"""Feet that a player has for pedals; the other bears the weight."""


def breaches(plan: Plan) -> Iterator[Breach]:
    """Too many hands or feet asked of one player, or two places."""
    yield from (breach for task in plan.tasks for breach in _own_hands(plan, task))
    yield from (breach for stay in plan.stays if stay.chore is not None for breach in _own_limbs(stay, stay.chore))
    for group in by_player(plan.stays):
        for a, b in combinations(group, 2):
            if overlap(a, b):
                yield from _together(a, b)


def _hands_needed(plan: Plan, task: Task) -> int:
    """Hands that a figure asks for however slow it is; H10 asks for a second one when it is fast."""
    bowed = task.figure.technique is Technique.LINE_BOW
    return (plan.kit.line_bow_hands if bowed else task.row.hands) + task.extra_hands


def _own_hands(plan: Plan, task: Task) -> Iterator[Breach]:
    need, given = _hands_needed(plan, task), len(set(task.cast.hands))
    if need > len(HANDS):
        yield _h2(f"{named(task.figure)} needs {need} hands; nobody has more than two.", task.figure.id)
    elif given < need:
        yield _h2(
            f"{task.player.name} needs {need} hands for {named(task.figure)} and is given {given}.", task.figure.id
        )


def _own_limbs(stay: Stay, chore: CastChore) -> Iterator[Breach]:
    """Each kind of chore asks for what it cannot be done without."""
    hands, feet = CHORE_LIMBS.get(chore.kind, (0, 0))
    if len(set(chore.hands)) < hands:
        yield _h2(f"{stay.player.name} needs a hand for {stay.name} and is given none.")
    if not feet <= chore.feet <= FEET:
        yield _h2(f"{stay.player.name} is asked for {chore.feet} feet for {stay.name}; it takes {feet}.")


def _together(a: Stay, b: Stay) -> Iterator[Breach]:
    if shared := set(a.hands) & set(b.hands):
        hands = " and ".join(sorted(shared))
        yield _h2(f"{a.player.name}'s {hands} hand is asked for {a.name} and {b.name} at once.", *a.figures, *b.figures)
    if a.feet + b.feet > FEET:
        yield _h2(f"{a.player.name} has one foot for pedals; {a.name} and {b.name} ask for more.")
    if a.place.id != b.place.id:
        where = f"at {a.place.id} for {a.name} and at {b.place.id} for {b.name}"
        yield _h2(f"{a.player.name} would have to stand {where} at once.", *a.figures, *b.figures)


def _h2(message: str, *figures: str) -> Breach:
    return Breach(rule="H2", message=message, figures=figures)
