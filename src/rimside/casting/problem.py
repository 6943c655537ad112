"""The question put to the solver: read-only, complete, in indices; it knows nothing of how it will be solved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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
    """A figure with everything that one player could do about it, before other figures get in the way.

    `players`, `places`, `lanes` and `implements` are indices that can take part in at least one allowed option.
    `need` is how many implements it takes; `bow_key` is set when its implement belongs to that pitch and lies at the
    chosen lane. `things` are what a player has to remember for it. `barred` tells why there is no option at all.
    """

    index: int
    figure: Figure
    hands: int
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

    @property
    def from_rest(self) -> bool:
        """Whether it takes implements that belong to no one pitch, each from its own rest."""
        return self.need > 0 and self.bow_key is None and self.barred is None

    @property
    def start_s(self) -> float:
        """Start of the figure, s."""
        return self.figure.start_s

    @property
    def end_s(self) -> float:
        """End of the figure, s."""
        return self.figure.end_s

    @property
    def length_s(self) -> float:
        """Length of the figure, s."""
        return self.figure.end_s - self.figure.start_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One option of one figure: indices of player, place and lane, and of the implements taken from rests."""

    player: int
    place: int
    lane: int
    implements: tuple[int, ...] = ()


HANDS = 2
"""Of one player."""
RESERVE_S = 1.0
"""Comfortable slack of a change. Our assumption; a director may ask for more."""

Assignment = Mapping[int, Choice]
"""Task index to its choice; a task that is not in it is uncast."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Tasks in order of start, and the tables that the rules share.

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

    @property
    def settle_s(self) -> float:
        """Time to come to rest before a figure, s."""
        return self.kit.times.settle_s

    @property
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
    """The smallest distance between contacts of two lanes, mm."""
    return float(min(((p.x_mm - q.x_mm) ** 2 + (p.y_mm - q.y_mm) ** 2) ** 0.5 for p in a.contacts for q in b.contacts))


def held(task: Task, choice: Choice) -> frozenset[tuple[str, float]]:
    """The implements of a choice: a bow by its pitch and where it lies, others by their number."""
    if task.bow_key is not None:
        return frozenset({(f"{task.kind} {int(task.bow_key)}", task.lanes[choice.lane].mark_mm)})
    return frozenset(("", float(number)) for number in choice.implements)
