"""Pins narrow the options of figures before anything is solved."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from rimside.casting.pin import RULE, SIDES, Pin
from rimside.casting.problem import Lane, Problem, Task
from rimside.casting.scale import TIE_MM
from rimside.errors import BadInput
from rimside.pitch import label

CONTACT_MM = 60.0
"""A pinned contact means the nearest lane, when that is no further away."""

Pins = tuple[Pin, ...]


def apply(problem: Problem, pins: Iterable[Pin]) -> Problem:
    """The same question, each pinned figure with the options that its pins leave it.

    A figure that keeps no option is barred under the rule "pin", with a smallest set of its pins that clash.

    Raises
    ------
    BadInput : a pin on a figure that is not there, a hand of a figure that takes none or both, a contact that is near
        no lane.
    """
    number = {task.work.id: task.index for task in problem.tasks if task.figure is not None}
    mine: dict[str, list[Pin]] = defaultdict(list)
    asked_for = tuple(pins)
    for pin in asked_for:
        if pin.figure not in number:
            raise BadInput("a pin on a figure that is not there", where="pins", value=pin.figure)
        mine[pin.figure] += pin.apart()
    tasks = list(problem.tasks)
    for figure, asked in mine.items():
        tasks[number[figure]] = _pinned(problem, tasks[number[figure]], asked)
    return replace(problem, tasks=tuple(tasks), pins=(*problem.pins, *asked_for))


def asked_kinds(pins: Iterable[Pin], kinds: Iterable[str]) -> dict[str, frozenset[str]]:
    """For each figure with a pin on its implement, the kinds that such pins leave.

    The name of an implement begins with its kind.
    """
    every = frozenset(kinds)
    left: dict[str, frozenset[str]] = {}
    for pin in pins:
        if not pin.implement:
            continue
        of = {kind for kind in every if pin.implement == kind or pin.implement.startswith(f"{kind} ")}
        kind = max(of, key=len, default=None)
        if kind is not None and not pin.forbid:
            left[pin.figure] = left.get(pin.figure, every) & {kind}
        elif pin.forbid and kind == pin.implement:
            left[pin.figure] = left.get(pin.figure, every) - {kind}
    return left


def _pinned(problem: Problem, task: Task, pins: list[Pin]) -> Task:
    if task.barred is not None:
        return task
    left = _left(problem, task, pins)
    ways = left.ways(problem, task)
    if not ways:
        nothing = replace(task, players=(), places=(), lanes=(), implements=())
        return replace(nothing, barred=(RULE, _clash(problem, task, pins)))
    lanes = sorted({lane for _, _, lane in ways})
    return replace(
        task,
        players=tuple(sorted({player for player, _, _ in ways})),
        places=tuple(sorted({place for _, place, _ in ways})),
        lanes=tuple(task.lanes[lane] for lane in lanes),
        implements=tuple(tool for tool in task.implements if tool in left.tools),
        taking=tuple(sorted(left.taking)),
        side=next(iter(left.sides)) if len(left.sides) == 1 else "",
    )


@dataclass(slots=True, kw_only=True)
class _Left:
    """What pins leave of a task's options; `kind` tells whether its kind of implement still serves."""

    players: frozenset[int]
    places: frozenset[int]
    lanes: frozenset[int]
    tools: frozenset[int]
    taking: frozenset[int]
    sides: frozenset[str]
    kind: bool = True

    def ways(self, problem: Problem, task: Task) -> list[tuple[int, int, int]]:
        """(player, place, lane) with enough implements in reach."""
        need = task.need if task.from_rest else 0
        if not (self.kind and self.sides and len(self.taking) <= need and self.taking <= self.tools):
            return []
        return [
            (player, place, lane)
            for player in self.players
            for place in self.places
            if self._served(problem, player, place, need)
            for lane in self.lanes
            if problem.allows(task, player, lane, place)
        ]

    def _served(self, problem: Problem, player: int, place: int, need: int) -> bool:
        near = {tool for tool in self.tools if problem.rest_mm[tool][place] <= problem.full_mm[player]}
        return len(near) >= need and self.taking <= near


def _left(problem: Problem, task: Task, pins: Iterable[Pin]) -> _Left:
    left = _Left(
        players=frozenset(task.players),
        places=frozenset(task.places),
        lanes=frozenset(range(len(task.lanes))),
        tools=frozenset(task.implements),
        taking=frozenset(task.taking),
        sides=frozenset({task.side} if task.side else SIDES),
    )
    for pin in pins:
        (name,) = pin.named
        _NARROW[name](problem, task, left, pin)
    return left


def _only(options: frozenset[int], meant: Iterable[int], forbid: bool) -> frozenset[int]:
    return options - frozenset(meant) if forbid else options & frozenset(meant)


def _player(problem: Problem, task: Task, left: _Left, pin: Pin) -> None:
    meant = (number for number, player in enumerate(problem.players) if player.id == pin.player)
    left.players = _only(left.players, meant, pin.forbid)


def _place(problem: Problem, task: Task, left: _Left, pin: Pin) -> None:
    meant = (number for number, place in enumerate(problem.piano.places) if place.id == pin.place)
    left.places = _only(left.places, meant, pin.forbid)


def _hand(problem: Problem, task: Task, left: _Left, pin: Pin) -> None:
    if task.hands != 1:
        takes = "both hands" if task.hands > 1 else "no hand"
        raise BadInput(f"the figure takes {takes}", where=f"pin on {pin.figure}", value=f"hand {pin.hand}")
    left.sides = left.sides - {pin.hand} if pin.forbid else left.sides & {pin.hand}


def _implement(problem: Problem, task: Task, left: _Left, pin: Pin) -> None:
    if pin.implement == task.kind or pin.implement in _bow_names(task):
        left.kind = left.kind and not pin.forbid
        return
    meant = frozenset(n for n, implement in enumerate(problem.implements) if implement.id == pin.implement)
    if pin.forbid:
        left.tools -= meant
    elif meant & left.tools:
        left.taking |= meant
    else:
        left.kind = False


def _bow_names(task: Task) -> tuple[str, ...]:
    """What a casting calls the only bow of a pitch."""
    return () if task.bow_key is None else (f"{task.kind} {label(task.bow_key)}",)


def _contact(problem: Problem, task: Task, left: _Left, pin: Pin) -> None:
    left.lanes = _only(left.lanes, (lane_at(task, pin),), pin.forbid)


def lane_at(task: Task, pin: Pin) -> int:
    """The lane that a pinned contact means; BadInput, with all lanes, when none is near."""
    assert pin.contact_mm is not None
    where = f"pin on {pin.figure}"
    if any(contact.from_near_end_mm is None for lane in task.lanes for contact in lane.contacts[:1]):
        raise BadInput("the figure is not played along a string", where=where, value=f"contact_mm {pin.contact_mm:g}")
    away_mm = [(abs(lane.mark_mm - pin.contact_mm), number) for number, lane in enumerate(task.lanes)]
    nearest = min(away_mm, default=None)
    if nearest is None or nearest[0] > CONTACT_MM + TIE_MM:
        raise BadInput(
            "no contact of the figure is near",
            where=where,
            value=f"contact_mm {pin.contact_mm:g}",
            allowed=f"within {CONTACT_MM:g} mm of {_marks(task.lanes)} mm from the near end",
        )
    return nearest[1]


def _marks(lanes: Iterable[Lane]) -> str:
    return ", ".join(f"{lane.mark_mm:g}" for lane in lanes)


_NARROW: Mapping[str, Callable[[Problem, Task, _Left, Pin], None]] = {
    "player": _player,
    "place": _place,
    "hand": _hand,
    "implement": _implement,
    "contact_mm": _contact,
}


def _clash(problem: Problem, task: Task, pins: list[Pin]) -> str:
    """A smallest set of a figure's own pins that leaves nothing, in words; without any one, something is left."""
    kept = list(pins)
    for pin in pins:
        fewer = [other for other in kept if other is not pin]
        if not _left(problem, task, fewer).ways(problem, task):
            kept = fewer
    return clash_words(kept)


def clash_words(pins: Iterable[Pin]) -> str:
    """Pins that clash, named one by one."""
    told = [pin.words for pin in pins]
    if len(told) == 1:
        return f"the pin ({told[0]}) leaves no way to play it"
    return f"these pins clash: {'; '.join(told)}"
