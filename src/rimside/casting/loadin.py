"""Load-in and load-out: what is laid into the piano before the first figure, and taken out after the last.

Nothing of it competes with figures, so it is laid out afterwards, one thing after the other from the edge of the piece
outwards: each goes to whoever can do it soonest, so the work is shared. Nothing may be left inside.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from rimside.casting.allowances import chore_s
from rimside.casting.chore import Chore, ChoreKind, Muting
from rimside.casting.chore_tasks import lanes_of
from rimside.casting.problem import Lane, Problem, clearance_mm
from rimside.casting.result import CastChore, Casting, Contact
from rimside.casting.rules.h05_room import too_close
from rimside.casting.scale import length_up_mm, written_s
from rimside.casting.stays import stays
from rimside.kit import HAND_CLEARANCE_MM, Implement
from rimside.piano.model import Point
from rimside.pitch import Key, label

EDGE_S = 10.0
"""Between this work and the piece, so that all stand in place and every implement lies at its rest. Our assumption."""
BOTH, ONE = ("left", "right"), ("right",)
WEDGED = "wedge"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """Deeds that one person does one after the other at one place, in the order of the load-in."""

    target: str
    deeds: tuple[tuple[ChoreKind, float], ...]
    hands: tuple[str, ...]
    lanes: tuple[Lane, ...]
    implements: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stand:
    """Somebody at a place, `from_s` to `to_s` counted from the edge of the piece outwards, settling on both sides."""

    player: int
    place: int
    from_s: float
    to_s: float
    lane: Lane


@dataclass(slots=True)
class _Side:
    """One of the two sides of the piece: where each player is at its edge, and what has been given out so far."""

    problem: Problem
    ready: dict[int, tuple[float, int]]
    stands: list[_Stand] = field(default_factory=list)

    def place(self, job: _Job, length_s: float) -> _Stand | None:
        """The soonest stand for a job, or None when nobody reaches."""
        offers = [
            self._offer(player, place, lane, length_s)
            for lane in job.lanes
            for player, reach_mm in enumerate(self.problem.full_mm)
            for place, distance_mm in enumerate(lane.distance_mm)
            if distance_mm <= reach_mm
        ]
        best = min(offers, key=lambda stand: (stand.to_s, stand.player, stand.place), default=None)
        if best is not None:
            self.stands.append(best)
            self.ready[best.player] = (best.to_s, best.place)
        return best

    def _offer(self, player: int, place: int, lane: Lane, length_s: float) -> _Stand:
        settle_s = self.problem.settle_s
        free_s, here = self.ready.get(player, (0.0, place))
        from_s = max(EDGE_S, free_s + settle_s + self.problem.walk_s[here][place])
        stand = _Stand(player=player, place=place, from_s=from_s, to_s=from_s + length_s, lane=lane)
        while (wait_s := self._hindered_until(stand)) is not None:
            stand = replace(stand, from_s=wait_s, to_s=wait_s + length_s)
        return stand

    def _hindered_until(self, stand: _Stand) -> float | None:
        """When the first stand that is in the way of this one has ended; None when none is."""
        ends = [
            other.to_s + 2.0 * self.problem.settle_s
            for other in self.stands
            if other.player != stand.player and self._together(stand, other) and self._in_the_way(stand, other)
        ]
        return min(ends, default=None)

    def _together(self, a: _Stand, b: _Stand) -> bool:
        margin_s = 2.0 * self.problem.settle_s - 1e-9
        return a.from_s < b.to_s + margin_s and b.from_s < a.to_s + margin_s

    def _in_the_way(self, a: _Stand, b: _Stand) -> bool:
        crowded = too_close(self.problem, a.player, b.player, a.place, b.place)
        return crowded or clearance_mm(a.lane, b.lane) < HAND_CLEARANCE_MM


def with_load(casting: Casting, problem: Problem) -> Casting:
    """The casting with everything that is laid in before it and taken out after it."""
    end_s = max((figure.end_s for figure in casting.figures), default=0.0)
    first, last = _edges(casting, problem, end_s)
    wedged = [action for action in casting.pedals if action.by == WEDGED]
    set_before = {c.target for c in casting.chores if c.kind == ChoreKind.WEDGE and c.start_s < 0.0}
    lines = [implement for implement in casting.implements if implement.key is not None]
    before = [muting.key for muting in problem.mutings if _lies(casting, muting)[0]]
    after = [muting.key for muting in problem.mutings if _lies(casting, muting)[1]]
    jobs_in = [
        *_lines(problem, lines, (ChoreKind.THREAD, ChoreKind.LOAD)),
        *_mutes(problem, before, ChoreKind.LAY),
        *_wedges(problem, [a.pedal for a in wedged if a.down_s <= 0.0 and a.pedal not in set_before], ChoreKind.WEDGE),
    ]
    jobs_out = [
        *_wedges(problem, [a.pedal for a in wedged if a.up_s >= end_s], ChoreKind.UNWEDGE),
        *_mutes(problem, after, ChoreKind.LIFT),
        *_lines(problem, lines, (ChoreKind.UNTHREAD,)),
    ]
    load_in = _given(problem, _Side(problem=problem, ready=first), jobs_in, None)
    load_out = _given(problem, _Side(problem=problem, ready=last), jobs_out, end_s)
    chores = sorted((*load_in, *casting.chores, *load_out), key=lambda chore: (chore.start_s, chore.id))
    return replace(casting, chores=tuple(chores))


def _lies(casting: Casting, muting: Muting) -> tuple[bool, bool]:
    """Whether a course's mute lies before the first figure, and after the last, as far as the course is played."""
    cast = {row.figure for row in casting.cast}
    done = {chore.id for chore in casting.chores if chore.player is not None}
    changes = [number for number, chore in enumerate(muting.chores) if chore in done]
    played = [number for number, run in enumerate(muting.runs) if not cast.isdisjoint(run)]
    if changes:
        return muting.muted_in(changes[0]), muting.muted_in(changes[-1] + 1)
    muted = bool(played) and muting.muted_in(played[0])
    return muted, muted


def _edges(
    casting: Casting, problem: Problem, end_s: float
) -> tuple[dict[int, tuple[float, int]], dict[int, tuple[float, int]]]:
    """For each player, how far outside the piece the first thing begins (negative: inside) and where; and the last."""
    busy = stays(casting, problem)
    by_start = sorted(busy, key=lambda stay: (stay.from_s, stay.until_s, stay.place), reverse=True)
    first = {stay.player: (-stay.from_s, stay.place) for stay in by_start}
    last = {stay.player: (stay.until_s - end_s, stay.place) for stay in sorted(busy, key=lambda stay: stay.until_s)}
    return first, last


def _lines(problem: Problem, lines: Sequence[Implement], deeds: tuple[ChoreKind, ...]) -> Iterator[_Job]:
    for line in lines:
        at = Point(x_mm=line.rest_x_mm, y_mm=line.rest_y_mm)
        contact = Contact(
            key=line.key,
            spot=None,
            x_mm=line.rest_x_mm,
            y_mm=line.rest_y_mm,
            from_near_end_mm=line.from_near_end_mm,
            role="chore",
        )
        far = tuple(length_up_mm(place.at.distance_mm(at)) for place in problem.piano.places)
        lane = Lane(mark_mm=line.from_near_end_mm or 0.0, contacts=(contact,), distance_mm=far)
        timed = tuple((kind, chore_s(problem.kit, kind)) for kind in deeds)
        yield _Job(target=line.id, deeds=timed, hands=BOTH, lanes=(lane,), implements=(line.id,))


def _mutes(problem: Problem, keys: Iterable[Key], kind: ChoreKind) -> Iterator[_Job]:
    length_s = chore_s(problem.kit, kind)
    for key in keys:
        chore = _chore(kind, label(key), length_s, (key,))
        yield _Job(target=label(key), deeds=((kind, length_s),), hands=ONE, lanes=tuple(lanes_of(chore, problem.piano)))


def _wedges(problem: Problem, pedals: Iterable[str], kind: ChoreKind) -> Iterator[_Job]:
    length_s = chore_s(problem.kit, kind)
    for pedal in pedals:
        lanes = tuple(lanes_of(_chore(kind, pedal, length_s, ()), problem.piano))
        yield _Job(target=pedal, deeds=((kind, length_s),), hands=ONE, lanes=lanes)


def _chore(kind: ChoreKind, target: str, length_s: float, keys: tuple[Key, ...]) -> Chore:
    return Chore(id=target, kind=kind, target=target, earliest_s=0.0, latest_s=length_s, length_s=length_s, keys=keys)


def _given(problem: Problem, side: _Side, jobs: Sequence[_Job], end_s: float | None) -> Iterator[CastChore]:
    """The chores of all jobs; `end_s` None counts backwards from the start of the piece."""
    settle_s = problem.settle_s
    for job in jobs:
        length_s = sum(time_s for _, time_s in job.deeds) + settle_s * (len(job.deeds) - 1)
        stand = side.place(job, length_s)
        start_s = 0.0 if stand is None else -stand.to_s if end_s is None else end_s + stand.from_s
        for kind, time_s in job.deeds:
            yield _done(problem, job, kind, stand, written_s(start_s), written_s(start_s + time_s))
            start_s += time_s + settle_s


def _done(
    problem: Problem, job: _Job, kind: ChoreKind, stand: _Stand | None, start_s: float, end_s: float
) -> CastChore:
    return CastChore(
        id=f"{kind.value} {job.target}",
        kind=kind.value,
        start_s=start_s,
        end_s=end_s,
        player=None if stand is None else problem.players[stand.player].id,
        place=None if stand is None else problem.piano.places[stand.place].id,
        hands=job.hands,
        target=job.target,
        implements=job.implements,
        contacts=() if stand is None else stand.lane.contacts,
        reason="" if stand is not None else f"nobody reaches to {kind.value} ({job.target})",
    )
