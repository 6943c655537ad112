"""The plan as the judge sees it: rows joined with what their ids refer to, words for them, time and space."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from rimside.casting.result import CastChore, CastFigure, Casting, CastPlayer, Contact
from rimside.kit import Implement, Kit, Stock, TechniqueRow, Times
from rimside.people import Player
from rimside.piano.model import Course, Piano, Place, Point
from rimside.pitch import Key, label
from rimside.score.model import Figure, Mute

TIE_S = 1e-6
"""Moments closer than this are one moment."""
TIE_MM = 0.5
"""Lengths closer than this are one length to a hand or a foot."""
WHOLE_TIE = 1e-3
"""Left over from adding fractions, in whole ms and mm: 0.001 ms and 0.001 mm."""
HANDS = ("left", "right")
LAY, LIFT = MUTE_KINDS = ("lay mute", "lift mute")
"""What a casting calls the chores of a mute."""
CHORE_LIMBS = {
    LAY: (1, 0),
    LIFT: (1, 0),
    "thread": (1, 0),
    "draw out": (1, 0),
    "rosin": (1, 0),
    "hold pedal": (0, 1),
    "wedge pedal": (1, 0),
    "free pedal": (1, 0),
    "hold key": (1, 0),
    "give cue": (0, 0),
    "turn card": (1, 0),
}
"""For each kind of chore: the fewest hands and feet that it takes."""
KEY_PITCH_MM = 1225.0 / 88.0
"""Mean distance of neighbouring keys. Source: mean pitch per key at the hammers, as for `kit.TARGET_WIDTH_MM`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """One way in which a casting breaks a rule, said as a player would say it, with the figures it is about."""

    rule: str
    message: str
    figures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One cast row joined with its figure, player, place, implements and technique row."""

    figure: Figure
    cast: CastFigure
    player: CastPlayer
    place: Place
    tools: tuple[Implement, ...]
    row: TechniqueRow

    def contacts(self, role: str) -> tuple[Contact, ...]:
        """The contacts of one role."""
        return tuple(contact for contact in self.cast.contacts if contact.role == role)

    @property
    def extra_hands(self) -> int:
        """Hands that touch a node or mute, and so make no stroke."""
        return (self.figure.touch is not None) + (self.figure.mute is Mute.FINGER)

    @property
    def striking_hands(self) -> int:
        """The hands that strike, when others only hold."""
        return len(self.cast.hands) - self.extra_hands


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A player busy at one place for a time: a figure or a chore."""

    name: str
    start_s: float
    end_s: float
    player: CastPlayer
    place: Place
    hands: tuple[str, ...]
    tools: tuple[Implement, ...]
    bar: str
    figures: tuple[str, ...]
    contacts: tuple[Contact, ...]
    feet: int = 0
    chore: CastChore | None = None

    @property
    def handled(self) -> tuple[Implement, ...]:
        """The implements to pick up before and put down after; what a chore takes for that lies in its length."""
        return self.tools if self.chore is None else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A casting with what it was made for; `tasks` and `stays` leave out rows whose ids lead nowhere."""

    casting: Casting
    piano: Piano
    people: Mapping[str, Player]
    kit: Kit
    tasks: tuple[Task, ...]
    stays: tuple[Stay, ...]

    @property
    def times(self) -> Times:
        """The times that the casting was made with."""
        return self.casting.times

    def course(self, key: Key | None) -> Course | None:
        """The course of a key, None when this piano lacks it."""
        return next((course for course in self.piano.courses if course.key == key), None)

    def stock(self, kind: str) -> Stock | None:
        """What the kit holds of a kind, None when it lists none."""
        return next((stock for stock in self.kit.stock if stock.kind == kind), None)


def plan_of(casting: Casting, piano: Piano, players: tuple[Player, ...], kit: Kit) -> Plan:
    """Join the rows of a casting with what they name."""
    tasks = tasks_of(casting, kit)
    stays = sorted((*figure_stays(tasks), *chore_stays(casting)), key=lambda stay: (stay.start_s, stay.end_s))
    people_by_id = {player.id: player for player in players}
    return Plan(casting=casting, piano=piano, people=people_by_id, kit=kit, tasks=tasks, stays=tuple(stays))


def tasks_of(casting: Casting, kit: Kit) -> tuple[Task, ...]:
    """The cast figures with who plays them, where and with what."""
    figures = {figure.id: figure for figure in casting.figures}
    players = {player.id: player for player in casting.players}
    places = {place.id: place for place in casting.places}
    tools = {implement.id: implement for implement in casting.implements}
    found = [
        Task(
            figure=figures[cast.figure],
            cast=cast,
            player=players[cast.player],
            place=places[cast.place],
            tools=tuple(tools[name] for name in cast.implements if name in tools),
            row=kit.rows[figures[cast.figure].technique],
        )
        for cast in casting.cast
        if cast.figure in figures and cast.player in players and cast.place in places
    ]
    return tuple(sorted(found, key=lambda task: (task.figure.start_s, task.figure.end_s, task.figure.id)))


def figure_stays(tasks: Sequence[Task]) -> Iterator[Stay]:
    """Each cast figure as somebody standing at a place."""
    for task in tasks:
        yield Stay(
            name=named(task.figure),
            start_s=task.figure.start_s,
            end_s=task.figure.end_s,
            player=task.player,
            place=task.place,
            hands=task.cast.hands,
            tools=task.tools,
            bar=f"bar {task.figure.bar}",
            figures=(task.figure.id,),
            contacts=task.cast.contacts,
        )


def chore_stays(casting: Casting) -> Iterator[Stay]:
    """Each chore that somebody does as somebody standing at a place."""
    players = {player.id: player for player in casting.players}
    places = {place.id: place for place in casting.places}
    tools = {implement.id: implement for implement in casting.implements}
    for chore in casting.chores:
        if chore.player in players and chore.place in places:
            yield Stay(
                name=f"the chore {chore.id} ({chore.kind})",
                start_s=chore.start_s,
                end_s=chore.end_s,
                player=players[chore.player],
                place=places[chore.place],
                hands=chore.hands,
                tools=tuple(tools[name] for name in chore.implements if name in tools),
                bar=f"the chore {chore.id}",
                figures=(),
                contacts=chore.contacts,
                feet=chore.feet,
                chore=chore,
            )


def named(figure: Figure) -> str:
    """A figure as a message names it."""
    where = figure.spot or " ".join(label(key) for key in figure.keys)
    return f"{figure.id} ({figure.technique.value} {where}, bar {figure.bar})"


def tool_said(tool: Implement) -> str:
    """An implement as a message names it."""
    return f"the {tool.kind}" if tool.key is None else f"the {label(tool.key)} {tool.kind}"


def ceil_s(value_s: float) -> str:
    """A time in words, rounded up to ms."""
    return f"{math.ceil(1000.0 * value_s - WHOLE_TIE) / 1000.0:g} s"


def floor_s(value_s: float) -> str:
    """A time in words, rounded down to ms."""
    return f"{math.floor(1000.0 * value_s + WHOLE_TIE) / 1000.0:g} s"


def in_words(deeds: Sequence[str]) -> str:
    """Deeds as a list in words."""
    return deeds[0] if len(deeds) == 1 else ", ".join(deeds[:-1]) + " and " + deeds[-1]


def overlap(a: Stay, b: Stay, before_s: float = 0.0) -> bool:
    """Whether two stays share a moment, each begun `before_s` early; both are half-open in time."""
    return a.start_s - before_s < b.end_s - TIE_S and b.start_s - before_s < a.end_s - TIE_S


def _tasks_overlap(a: Figure, b: Figure) -> bool:
    return a.start_s < b.end_s - TIE_S and b.start_s < a.end_s - TIE_S


def task_pairs(tasks: Iterable[Task]) -> Iterator[tuple[Task, Task]]:
    """Overlapping tasks, the earlier start first."""
    return (pair for pair in combinations(tasks, 2) if _tasks_overlap(pair[0].figure, pair[1].figure))


def by_player(stays: Iterable[Stay]) -> Iterator[tuple[Stay, ...]]:
    """Each player's stays, in order of time."""
    found: dict[str, list[Stay]] = {}
    for stay in stays:
        found.setdefault(stay.player.id, []).append(stay)
    return (tuple(group) for group in found.values())


def point_of(contact: Contact) -> Point:
    """Where a contact lies."""
    return Point(x_mm=contact.x_mm, y_mm=contact.y_mm)


def reach_need_mm(task: Task) -> float:
    """The farthest contact from the place; 0 without any."""
    return max((task.place.at.distance_mm(point_of(contact)) for contact in task.cast.contacts), default=0.0)


def along_rim_mm(casting: Casting, a: Place, b: Place) -> float:
    """The shorter way round the rim."""
    apart_mm = abs(a.along_rim_mm - b.along_rim_mm) % casting.rim_length_mm
    return min(apart_mm, casting.rim_length_mm - apart_mm)
