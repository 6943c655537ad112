"""Chores as the judge reads them: within reach, and done by somebody."""

from __future__ import annotations

from collections.abc import Iterator

from rimside.casting.judge.plan import CHORE_LIMBS, TIE_MM, Breach, Plan, Stay, point_of
from rimside.casting.result import CastChore

FOOT_REACH_MM = 350.0
PEDAL_X_MM = {"una-corda": 537.5, "sostenuto": 612.5, "damper": 687.5}
"""Along the keyboard, from its bass end (docs/decisions/0003)."""
FOOT_CHORES = ("hold pedal", "wedge pedal", "free pedal")


def breaches(plan: Plan) -> Iterator[Breach]:
    """Chores are of a known kind, within reach, and those that a cast figure needs are done by somebody."""
    cast = {row.figure for row in plan.casting.cast}
    for chore in plan.casting.chores:
        wanting = tuple(figure for figure in chore.needed_by if figure in cast)
        if chore.kind not in CHORE_LIMBS:
            yield _chore_breach(f"Nobody knows the chore {chore.id}: {chore.kind}.")
        if not chore.end_s > chore.start_s:
            yield _chore_breach(f"The chore {chore.id} ends before it begins.")
        if chore.player is None and wanting:
            yield _chore_breach(f"The chore {chore.id} is given to nobody and figures need it.", *wanting)
        elif chore.player is None and not chore.reason.strip():
            yield _chore_breach(f"The chore {chore.id} is given to nobody, without a reason.")
        elif chore.player is not None and chore.place is None:
            yield _chore_breach(f"The chore {chore.id} is given to {chore.player}, and nowhere to stand.")
    for stay in plan.stays:
        if stay.chore is not None:
            yield from _chore_near_enough(plan, stay, stay.chore)


def _chore_breach(message: str, *figures: str) -> Breach:
    return Breach(rule="chores", message=message, figures=figures)


def _chore_near_enough(plan: Plan, stay: Stay, chore: CastChore) -> Iterator[Breach]:
    """H3 of a chore: hands reach its contacts, feet their pedal, keys and pedals are for those at the keyboard."""
    far_mm = max((stay.place.at.distance_mm(point_of(contact)) for contact in chore.contacts), default=0.0)
    if far_mm > stay.player.reach_mm + TIE_MM:
        yield _chore_far(
            f"{stay.player.name} reaches {stay.player.reach_mm:.0f} mm; {stay.name} is {far_mm:.0f} mm away."
        )
    if chore.kind in (*FOOT_CHORES, "hold key") and not stay.place.at_keyboard:
        yield _chore_far(f"{stay.player.name} cannot do {stay.name}: {stay.place.id} is not at the keyboard.")
    if chore.kind not in FOOT_CHORES:
        return
    if chore.target not in PEDAL_X_MM or chore.target not in plan.piano.pedals:
        yield _chore_breach(f"{stay.name} is about the {chore.target} pedal, which this piano does not have.")
        return
    aside_mm = abs(stay.place.at.x_mm - PEDAL_X_MM[chore.target])
    if aside_mm > FOOT_REACH_MM + TIE_MM:
        yield _chore_far(
            f"From {stay.place.id} the {chore.target} pedal is {aside_mm:.0f} mm aside; a foot reaches"
            f" {FOOT_REACH_MM:g} mm: {stay.name}."
        )


def _chore_far(message: str) -> Breach:
    return Breach(rule="H3", message=message, figures=())
