"""H9 as the judge reads it: mutes lie exactly when figures ask for them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rimside.casting.judge.plan import LAY, LIFT, MUTE_KINDS, TIE_S, Breach, Plan, named
from rimside.casting.result import CastChore
from rimside.pitch import Key, label
from rimside.score.model import Mute

MUTE_STOCK = "moulded mute"
"""The kind of stock that counts mutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lie:
    """One mute on one course: from when it is being laid until it is gone, and when it surely lies between, s."""

    chore: str
    begun_s: float
    laid_s: float
    lifting_s: float
    gone_s: float


def breaches(plan: Plan) -> Iterator[Breach]:
    """A mute lies on a course for the whole of each figure that asks for it, and of no other figure."""
    lies: list[_Lie] = []
    for course in plan.piano.courses:
        rows = _mute_chores(plan, course.key)
        yield from _in_turn(plan, course.key, rows)
        lying = _lying(rows)
        yield from _as_asked(plan, course.key, lying)
        lies += lying
    yield from _enough_mutes(plan, lies)
    for chore in plan.casting.chores:
        if chore.kind in MUTE_KINDS and not any(_touches(chore, course.key) for course in plan.piano.courses):
            yield _h9(f"The chore {chore.id} is about no course of this piano.")


def _touches(chore: CastChore, key: Key) -> bool:
    """Whether a chore is about this course: by its contacts, or without any by its target."""
    return any(contact.key == key for contact in chore.contacts) or (not chore.contacts and chore.target == label(key))


def _mute_chores(plan: Plan, key: Key) -> list[CastChore]:
    """All that is done to the mute of one course, in order of time, what nobody does too."""
    rows = [chore for chore in plan.casting.chores if chore.kind in MUTE_KINDS and _touches(chore, key)]
    return sorted(rows, key=lambda chore: (chore.start_s, chore.end_s))


def _in_turn(plan: Plan, key: Key, rows: Sequence[CastChore]) -> Iterator[Breach]:
    """Laid, lifted, laid again and so on, and lifted at last; a lift that nobody could be found for is told as that."""
    done = [chore for chore in rows if chore.player is not None]
    for chore, before in zip(done, (None, *done), strict=False):
        if chore.kind == (LIFT if before is None else before.kind):
            what = "laid where one lies" if chore.kind == LAY else "lifted where none lies"
            yield _h9(f"The chore {chore.id}: a mute on {label(key)} would be {what}.")
        elif before is not None and chore.start_s < before.end_s - TIE_S:
            yield _h9(f"The chore {chore.id} begins before {before.id} has ended, on {label(key)}.")
    told = any(chore.kind == LIFT and chore.player is None for chore in rows[-1:])
    if done and done[-1].kind == LAY and not told:
        yield _h9(f"Nobody lifts the mute on {label(key)} that {done[-1].id} lays.")


def _lying(rows: Sequence[CastChore]) -> list[_Lie]:
    """Each time that a mute is laid on a course."""
    done = [chore for chore in rows if chore.player is not None]
    lifts = [chore for chore in done if chore.kind == LIFT]
    found = []
    for lay in (chore for chore in done if chore.kind == LAY):
        lift = next((one for one in lifts if one.start_s >= lay.end_s - TIE_S), None)
        lifting_s, gone_s = (math.inf, math.inf) if lift is None else (lift.start_s, lift.end_s)
        found.append(_Lie(chore=lay.id, begun_s=lay.start_s, laid_s=lay.end_s, lifting_s=lifting_s, gone_s=gone_s))
    return found


def _as_asked(plan: Plan, key: Key, lying: Sequence[_Lie]) -> Iterator[Breach]:
    figures = [task.figure for task in plan.tasks if key in task.figure.keys]
    for figure in figures:
        sure = any(lie.laid_s <= figure.start_s + TIE_S and figure.end_s <= lie.lifting_s + TIE_S for lie in lying)
        if figure.mute is Mute.MOULDED and not sure:
            yield _h9(f"{named(figure)} asks for a mute on {label(key)}, and none lies there all the while.", figure.id)
        near = any(lie.begun_s < figure.end_s - TIE_S and figure.start_s < lie.gone_s - TIE_S for lie in lying)
        if figure.mute is not Mute.MOULDED and near:
            message = f"{named(figure)} asks for no mute, and one lies on {label(key)}, or is being laid or lifted."
            yield _h9(message, figure.id)
    asking = [figure for figure in figures if figure.mute is Mute.MOULDED]
    for lie in lying:
        if not any(lie.laid_s <= one.start_s + TIE_S and one.end_s <= lie.lifting_s + TIE_S for one in asking):
            yield _h9(f"{lie.chore} lays a mute on {label(key)} that no figure asks for before it is lifted.")


def _enough_mutes(plan: Plan, lies: Sequence[_Lie]) -> Iterator[Breach]:
    """No more at one moment than the kit has, if it counts them; one being laid or lifted is in use."""
    stock = plan.stock(MUTE_STOCK)
    if stock is None:
        return
    for lie in lies:
        number = sum(o.begun_s <= lie.begun_s + TIE_S and lie.begun_s < o.gone_s - TIE_S for o in lies)
        if number > stock.count:
            yield _h9(f"The kit holds {stock.count} of {MUTE_STOCK}; from {lie.chore} on {number} are in use.")


def _h9(message: str, *figures: str) -> Breach:
    return Breach(rule="H9", message=message, figures=figures)
