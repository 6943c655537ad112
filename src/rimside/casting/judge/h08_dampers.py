"""H8 as the judge reads it: strings that must ring are free, those that must fall silent are not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rimside.casting.judge.plan import TIE_S, Breach, Plan, Task, named
from rimside.casting.result import HELD_KEYS, CastChore, Casting, PedalAction
from rimside.pitch import Key, label
from rimside.score.model import Figure, Pedal

DRY_S = 0.3
"""A dry figure asks for silence so long after its end."""


_Span = tuple[float, float]
"""From when to when, s."""


def breaches(plan: Plan) -> Iterator[Breach]:
    """A course that must ring is free all the while, one that must fall silent is not; somebody holds the pedals."""
    for task in plan.tasks:
        damped = [key for key in task.figure.keys if (c := plan.course(key)) is not None and c.damper is not None]
        free = {key: _free(plan, key) for key in damped} if task.row.damper_up or task.figure.dry else {}
        if fallen := [key for key in damped if task.row.damper_up and not _rings(free[key], task.figure)]:
            names = " ".join(label(key) for key in fallen)
            yield _h8(f"{named(task.figure)}: nothing keeps the damper of {names} up for its whole length.", task)
        if ringing := [key for key in damped if task.figure.dry and not _stops(plan, free[key], task.figure, key)]:
            names = " ".join(label(key) for key in ringing)
            yield _h8(f"{named(task.figure)} must fall silent at its end; the damper of {names} is up then.", task)
    for action in plan.casting.pedals:
        yield from _held_by_somebody(plan, action)


def _h8(message: str, *tasks: Task) -> Breach:
    return Breach(rule="H8", message=message, figures=tuple(task.figure.id for task in tasks))


def _free(plan: Plan, key: Key) -> list[_Span]:
    """When a damped course is free: by its key, by the damper pedal, or caught by the sostenuto pedal.

    The sostenuto pedal catches what one of the others holds up from before until after the moment it goes down; what
    goes up or comes down at that very moment is not certain, and so not caught.
    """
    by_key = _joined_spans([*_key_held(plan, key)])
    by_damper = _pedal_down(plan, Pedal.DAMPER)
    raised = [*by_key, *by_damper]
    caught = [
        span
        for span in _pedal_down(plan, Pedal.SOSTENUTO)
        if any(down_s < span[0] - TIE_S and span[0] < up_s - TIE_S for down_s, up_s in raised)
    ]
    return _joined_spans([*raised, *caught])


def _key_held(plan: Plan, key: Key) -> Iterator[_Span]:
    """When a key is down: held silently, or played on the keyboard."""
    for action in plan.casting.pedals:
        if action.pedal == HELD_KEYS and key in action.keys:
            yield (action.down_s, action.up_s)
    for task in plan.tasks:
        if task.row.at_keyboard:
            yield from ((hit.onset_s, hit.until_s) for hit in task.figure.strokes if hit.key == key)


def _pedal_down(plan: Plan, pedal: Pedal) -> list[_Span]:
    """When a pedal that this piano has is down, whoever holds it."""
    held = [action for action in plan.casting.pedals if action.pedal == pedal and pedal in plan.piano.pedals]
    return _joined_spans([(action.down_s, action.up_s) for action in held])


def _joined_spans(spans: Iterable[_Span]) -> list[_Span]:
    """Spans that share a moment as one; where one begins just as another ends, what they hold may fall."""
    joined: list[_Span] = []
    for start_s, end_s in sorted(span for span in spans if span[1] > span[0]):
        if joined and start_s < joined[-1][1] - TIE_S:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end_s))
        else:
            joined.append((start_s, end_s))
    return joined


def _rings(free: Sequence[_Span], figure: Figure) -> bool:
    return any(from_s <= figure.start_s + TIE_S and figure.end_s <= to_s + TIE_S for from_s, to_s in free)


def _stops(plan: Plan, free: Sequence[_Span], figure: Figure, key: Key) -> bool:
    """Whether the damper lies on a course from a figure's end until the next figure there, or long enough."""
    later = (
        other.start_s
        for other in plan.casting.figures
        if other.id != figure.id and key in other.keys and other.start_s >= figure.end_s - TIE_S
    )
    until_s = min((figure.end_s + DRY_S, *later))
    return not any(from_s < until_s - TIE_S and figure.end_s < to_s - TIE_S for from_s, to_s in free)


def _held_by_somebody(plan: Plan, action: PedalAction) -> Iterator[Breach]:
    """A named player has a chore that lasts as long; a wedge is put and taken away by somebody, inside the piece."""
    what = "keys" if action.pedal == HELD_KEYS else f"{action.pedal} pedal"
    said = f"the {what} from {action.down_s:g} to {action.up_s:g} s"
    if action.by == "unassigned":
        return
    if action.by != "wedge":
        if not any(_holds(chore, action) for chore in plan.casting.chores):
            yield _h8(f"{action.by} holds {said}, without a chore that lasts as long.")
    elif action.pedal == HELD_KEYS:
        yield _h8(f"A wedge holds {said}; keys are held by hands.")
    else:
        for kind, moment_s in (("wedge pedal", action.down_s), ("free pedal", action.up_s)):
            if _within(plan.casting, moment_s) and not _done_at(plan, kind, action.pedal, moment_s):
                yield _h8(f"A wedge holds {said}, and nobody has the chore to {kind} at {moment_s:g} s.")


def _holds(chore: CastChore, action: PedalAction) -> bool:
    kind = "hold key" if action.pedal == HELD_KEYS else "hold pedal"
    right = chore.kind == kind and (action.pedal == HELD_KEYS or chore.target == action.pedal)
    covers = chore.start_s <= action.down_s + TIE_S and action.up_s <= chore.end_s + TIE_S
    return chore.player == action.by and right and covers


def _done_at(plan: Plan, kind: str, pedal: str, moment_s: float) -> bool:
    """Whether somebody is at a pedal at a moment, or has just done with it."""
    return any(
        chore.kind == kind
        and chore.target == pedal
        and chore.player is not None
        and chore.start_s <= moment_s + TIE_S
        and moment_s <= chore.end_s + TIE_S
        for chore in plan.casting.chores
    )


def _within(casting: Casting, moment_s: float) -> bool:
    """Whether a moment lies strictly inside the piece."""
    return TIE_S < moment_s < max((figure.end_s for figure in casting.figures), default=0.0) - TIE_S
