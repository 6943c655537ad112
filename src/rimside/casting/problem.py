"""The question put to the solver: read-only, complete, in indices; it knows nothing of how it will be solved."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from rimside.casting.chore import Chore, Muting, Need
from rimside.casting.pin import Pin
from rimside.casting.result import CastPlayer, Contact
from rimside.casting.scale import TIE_S
from rimside.kit import Implement, Kit
from rimside.piano.model import Piano
from rimside.pitch import Key
from rimside.score.model import Figure, PedalSpan


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One way to lay hands on a figure's courses: its contact points, and how far they are from each place (mm, up).

    `mark_mm` is where on the first course it lies, from the near end: the same mark on one course is the same lane.
    """

    mark_mm: float
    contacts: tuple[Contact, ...]
    distance_mm: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A figure, or a chore at one of the moments when it could begin, with all that one player could do about it.

    `players`, `places`, `lanes` and `implements` are indices that can take part in at least one allowed option.
    `need` is how many implements it takes; `bow_key` is set when its implement belongs to that pitch and lies at the
    chosen lane. `things` are what a player has to remember for it. `barred` tells why there is no option at all.
    `unit` is the same number for tasks that are alternatives: at most one of them is done, and `weight` is what it
    costs when none is. `side` pins a task of one hand to "left" or "right", `taking` are implements that it must take.
    """

    index: int
    unit: int
    work: Figure | Chore
    start_s: float
    end_s: float
    hands: int
    feet: int = 0
    need: int
    kind: str
    bow_key: Key | None
    bow_count: int
    players: tuple[int, ...]
    places: tuple[int, ...]
    lanes: tuple[Lane, ...]
    implements: tuple[int, ...]
    pick_s: float
    put_s: float
    weight: int
    things: frozenset[str]
    barred: tuple[str, str] | None = None
    side: str = ""
    taking: tuple[int, ...] = ()

    @property
    def figure(self) -> Figure | None:
        """The figure; None for a chore."""
        return self.work if isinstance(self.work, Figure) else None

    @property
    def spot(self) -> str | None:
        """The spot that a figure sounds."""
        return self.work.spot if isinstance(self.work, Figure) else None

    @property
    def motif(self) -> str:
        """The figure's motif; "" for a chore."""
        return self.work.motif if isinstance(self.work, Figure) else ""

    @property
    def from_rest(self) -> bool:
        """Whether it takes implements that belong to no one pitch, each from its own rest."""
        return self.need > 0 and self.bow_key is None and self.barred is None

    @property
    def length_s(self) -> float:
        """How long it takes, s."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One option of one figure: indices of player, place and lane, and of the implements taken from rests."""

    player: int
    place: int
    lane: int
    implements: tuple[int, ...] = ()


HANDS = 2
"""Of one player."""
FEET = 1
"""That one player has for pedals; the other bears the weight."""
RESERVE_S = 1.0
"""Comfortable slack of a change. Our assumption; a director may ask for more."""

Assignment = Mapping[int, Choice]
"""Task index to its choice; a task that is not in it is uncast."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Liked:
    """What an earlier casting does with a figure, in this problem's terms.

    `player` is None when that player is not here. `places` are those that count as the same place as before; `kinds`
    the kinds of implement it was played with.
    """

    player: int | None
    places: frozenset[int]
    kind: str


@dataclass(frozen=True, kw_only=True)
class Problem:
    """Tasks in order of start, and the tables that the rules share.

    `needs` tie figures to the chores without which they cannot be played, `mutings` those of one course to its mute.
    `liked` is what a refit stays close to, by task index; empty for a new casting. `saved_s` is what practice takes off
    single changes, by (earlier, later) task index; empty but when it is asked what practice would mend. `pins` have
    narrowed the tasks already.
    `walk_s[a][b]` is turn and walk between two places (0 for the same); `apart_mm[a][b]` the smaller of the straight
    distance and the way along the rim, rounded down; `rest_mm[i][q]` from place q to implement i's rest, rounded up.
    """

    piano: Piano
    kit: Kit
    pedals: tuple[PedalSpan, ...]
    players: tuple[CastPlayer, ...]
    full_mm: tuple[int, ...]
    comfortable_mm: tuple[int, ...]
    breadth_mm: tuple[float, ...]
    tasks: tuple[Task, ...]
    implements: tuple[Implement, ...]
    counts: Mapping[str, int]
    walk_s: tuple[tuple[float, ...], ...]
    apart_mm: tuple[tuple[int, ...], ...]
    rest_mm: tuple[tuple[int, ...], ...]
    lean_limit_s: float
    reserve_s: float
    needs: tuple[Need, ...] = ()
    mutings: tuple[Muting, ...] = ()
    liked: Mapping[int, Liked] = field(default_factory=dict)
    saved_s: Mapping[tuple[int, int], float] = field(default_factory=dict)
    pins: tuple[Pin, ...] = ()

    @cached_property
    def units(self) -> tuple[tuple[int, ...], ...]:
        """Task indices of each unit, the units in order of their number."""
        members: dict[int, list[int]] = defaultdict(list)
        for task in self.tasks:
            members[task.unit].append(task.index)
        return tuple(tuple(members[unit]) for unit in sorted(members))

    @cached_property
    def slots(self) -> dict[str, tuple[int, ...]]:
        """Task indices of each chore, by its id: the moments when it could be done."""
        return {self.tasks[unit[0]].work.id: unit for unit in self.units if self.tasks[unit[0]].figure is None}

    @cached_property
    def needed(self) -> tuple[tuple[int, Need], ...]:
        """Each need with the task index of its figure."""
        return tuple((self.numbers[need.figure], need) for need in self.needs)

    @cached_property
    def numbers(self) -> dict[str, int]:
        """The task index of each figure, by its id."""
        return {task.work.id: task.index for task in self.tasks if task.figure is not None}

    @cached_property
    def helpers(self) -> Mapping[int, frozenset[int]]:
        """For each figure the chores that may have to be done for it: what it needs, its mutes laid and lifted."""
        found: dict[int, set[int]] = defaultdict(set)
        for index, need in self.needed:
            found[index].update(self.slots_of(need.chores))
        for muting in self.mutings:
            for run, figures in enumerate(muting.runs):
                beside = self.slots_of(muting.chores[max(0, run - 1) : run + 1])
                for name in figures:
                    found[self.numbers[name]].update(beside)
        return {index: frozenset(slots) for index, slots in found.items()}

    @cached_property
    def tied(self) -> tuple[frozenset[int], ...]:
        """Groups of which no task is decided without knowing of the others: what one figure needs, one muted course."""
        groups = [frozenset({index, *self.slots_of(need.chores)}) for index, need in self.needed]
        for muting in self.mutings:
            figures = (self.numbers[name] for run in muting.runs for name in run)
            if muting.chores:
                groups.append(frozenset({*figures, *self.slots_of(muting.chores)}))
        return tuple(groups)

    def slots_of(self, chores: Iterable[str]) -> list[int]:
        """The tasks that some chores could be done as."""
        return [slot for chore in chores for slot in self.slots.get(chore, ())]

    @property
    def settle_s(self) -> float:
        """Time to come to rest before a figure, s."""
        return self.kit.times.settle_s

    @cached_property
    def horizon_s(self) -> float:
        """Figures further apart than this cannot hinder each other, s."""
        longest_walk = max((max(row) for row in self.walk_s), default=0.0)
        slowest = max((task.pick_s + task.put_s for task in self.tasks), default=0.0)
        return self.settle_s + longest_walk + slowest + self.reserve_s

    def allows(self, task: Task, player: int, lane: int, place: int) -> bool:
        """Whether one option is within reach, and not a lean that lasts too long."""
        distance = task.lanes[lane].distance_mm[place]
        return distance <= self.full_mm[player] and (
            distance <= self.comfortable_mm[player] or task.length_s <= self.lean_limit_s
        )

    def leans(self, task: Task, choice: Choice) -> bool:
        """Whether an option asks for more than comfortable reach."""
        return task.lanes[choice.lane].distance_mm[choice.place] > self.comfortable_mm[choice.player]


def gap_s(earlier: Task, later: Task) -> float:
    """From the end of one to the start of the other, s; negative when they overlap."""
    return later.start_s - earlier.end_s


def overlap(a: Task, b: Task) -> bool:
    """Whether two figures sound together at any moment."""
    return a.start_s < b.end_s - TIE_S and b.start_s < a.end_s - TIE_S


def in_order(a: Task, b: Task) -> tuple[Task, Task]:
    """The two, the earlier start first (ties by index)."""
    return (a, b) if (a.start_s, a.index) <= (b.start_s, b.index) else (b, a)


def clearance_mm(a: Lane, b: Lane) -> float:
    """The smallest distance between contacts of two lanes, mm; infinite when one of them touches nothing."""
    apart = (((p.x_mm - q.x_mm) ** 2 + (p.y_mm - q.y_mm) ** 2) ** 0.5 for p in a.contacts for q in b.contacts)
    return float(min(apart, default=math.inf))


def held(task: Task, choice: Choice) -> frozenset[tuple[str, float]]:
    """The implements of a choice: a bow by its pitch and where it lies, others by their number."""
    if task.bow_key is not None:
        return frozenset({(f"{task.kind} {int(task.bow_key)}", task.lanes[choice.lane].mark_mm)})
    return frozenset(("", float(number)) for number in choice.implements)
