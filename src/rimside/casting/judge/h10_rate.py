"""H10 as the judge reads it: no hand is too fast."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rimside import people
from rimside.casting.judge.plan import KEY_PITCH_MM, TIE_S, Breach, Plan, Task, ceil_s, floor_s, named, point_of
from rimside.kit import TARGET_WIDTH_MM, TechniqueRow
from rimside.piano.model import Point
from rimside.pitch import Key
from rimside.score.model import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hit:
    """What one hand does at one moment: where its middle is, and which courses it sounds."""

    onset_s: float
    at: Point | None
    keys: frozenset[Key]


def breaches(plan: Plan) -> Iterator[Breach]:
    """Hands that would be too fast."""
    for task in plan.tasks:
        why = _courses_too_fast(task) if task.row.hands == 0 else _too_fast(task, _at_once(plan, task))
        if why:
            message = f"{task.player.name} cannot play {named(task.figure)}: {why}."
            yield Breach(rule="H10", message=message, figures=(task.figure.id,))


def _moments(figure: Figure) -> list[tuple[float, frozenset[Key]]]:
    """The moments of attack with the courses of each."""
    found: list[tuple[float, frozenset[Key]]] = []
    for stroke in sorted(figure.strokes, key=lambda stroke: stroke.onset_s):
        keys = frozenset() if stroke.key is None else frozenset({stroke.key})
        if found and stroke.onset_s - found[-1][0] <= TIE_S:
            found[-1] = (found[-1][0], found[-1][1] | keys)
        else:
            found.append((stroke.onset_s, keys))
    return found


def _at_once(plan: Plan, task: Task) -> int:
    """Courses that one hand sounds at once: what the technique allows, and a stick no more than it has sides."""
    if task.row.neighbours == 1 or not task.row.implement:
        return task.row.neighbours
    sides = [stock.sides for tool in task.tools if (stock := plan.stock(tool.kind)) is not None]
    return min([task.row.neighbours, *sides])


def _grips(keys: frozenset[Key], row: TechniqueRow, at_once: int) -> list[frozenset[Key]]:
    """The courses of one moment shared out among as few hands as can hold them, from the lowest up."""
    span, left, grips = max(row.span_keys, at_once), sorted(keys), list[frozenset[Key]]()
    while left:
        grip = [key for key in left if key < left[0] + span][:at_once]
        grips.append(frozenset(grip))
        left = left[len(grip) :]
    return grips or [frozenset()]


def _too_fast(task: Task, at_once: int) -> str | None:
    """Why the striking hands cannot keep up; two hands of one tool move as one."""
    hands = 1 if task.row.hands > 1 else task.striking_hands
    moments = [(onset_s, _grips(keys, task.row, at_once)) for onset_s, keys in _moments(task.figure)]
    widest = max(len(grips) for _, grips in moments)
    if widest > hands:
        return f"one moment asks for {widest} hands and {max(hands, 0)} can strike"
    firsts = [_shared_out(task, moments, hands, first) for first in range(hands)]
    reasons = [next((why for hits in way if (why := _hand_too_fast(task.row, hits))), None) for way in firsts]
    return None if None in reasons else reasons[0]


def _shared_out(
    task: Task, moments: Sequence[tuple[float, list[frozenset[Key]]]], hands: int, first: int
) -> list[list[_Hit]]:
    """What each hand does: strokes in turn from hand `first` on; a moment that needs all hands gets all."""
    given: list[list[_Hit]] = [[] for _ in range(hands)]
    turn = first
    for onset_s, grips in moments:
        if len(grips) == 1:
            given[turn].append(_hit(task, onset_s, grips[0]))
            turn = (turn + 1) % hands
        else:
            for hand, grip in enumerate(grips):
                given[hand].append(_hit(task, onset_s, grip))
    return given


def _hit(task: Task, onset_s: float, keys: frozenset[Key]) -> _Hit:
    points = [point_of(contact) for contact in task.contacts("play") if contact.key in keys]
    if not points:
        return _Hit(onset_s=onset_s, at=None, keys=keys)
    x_mm, y_mm = (sum(values) / len(points) for values in zip(*((p.x_mm, p.y_mm) for p in points), strict=True))
    return _Hit(onset_s=onset_s, at=Point(x_mm=x_mm, y_mm=y_mm), keys=keys)


def _hand_too_fast(row: TechniqueRow, hits: Sequence[_Hit]) -> str | None:
    for a, b in pairwise(hits):
        gap_s, need_s = b.onset_s - a.onset_s, 1.0 / row.repeat_limit_hz
        if need_s > gap_s + TIE_S:
            return f"a hand would strike twice in {floor_s(gap_s)}, and needs {ceil_s(need_s)}"
        leap_s = _leap_s(row, a, b)
        if leap_s > gap_s + TIE_S:
            return f"a hand would leap to another course in {floor_s(gap_s)}, and needs {ceil_s(leap_s)}"
    return None


def _leap_s(row: TechniqueRow, a: _Hit, b: _Hit) -> float:
    """Fitts's line between two courses; a hand on the keys need not leap within its own span."""
    if a.keys == b.keys or a.at is None or b.at is None:
        return 0.0
    leap_mm = a.at.distance_mm(b.at)
    within_span = row.at_keyboard and leap_mm <= row.span_keys * KEY_PITCH_MM
    return 0.0 if within_span else people.fitts_s(leap_mm, TARGET_WIDTH_MM)


def _courses_too_fast(task: Task) -> str | None:
    """A technique without hands repeats on each course by itself."""
    for key in task.figure.keys:
        onsets_s = sorted(stroke.onset_s for stroke in task.figure.strokes if stroke.key == key)
        hits = [_Hit(onset_s=onset_s, at=None, keys=frozenset({key})) for onset_s in onsets_s]
        if why := _hand_too_fast(task.row, hits):
            return why
    return None
