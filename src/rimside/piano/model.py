"""A measured grand piano (or a harpsichord, or a guitar laid flat) as frozen objects, in plan coordinates.

x runs along the keyboard from the bass end of key 1 rightwards, y from the front edge of the white keys towards the
tail, z up from the floor; all in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from rimside.pitch import Key, plain_key
from rimside.score.model import Pedal
from rimside.units import FIRST_KEY, LAST_KEY


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A point of the plan, mm."""

    x_mm: float
    y_mm: float

    def distance_mm(self, other: Point) -> float:
        """Straight distance, mm."""
        return math.hypot(self.x_mm - other.x_mm, self.y_mm - other.y_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A stretch along a course, mm from its near end (or along the rim where a field says so)."""

    from_mm: float
    to_mm: float

    def holds(self, at_mm: float) -> bool:
        """Whether a position lies inside, ends included."""
        return self.from_mm <= at_mm <= self.to_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The one to three strings of one key.

    `spacing_mm` is centre to centre inside the course. `wire_mm` is the diameter of plain wire or of the core;
    `wrap_mm` the outer diameter of a wound string, None when plain. `tension_n` is for one string. `damper` is the
    stretch that the damper felt covers, None for an undamped course. `strike_mm` is where the hammer of the action
    meets it, from the near end, None when not surveyed. `material` is that of the plain wire or core, a row of
    `rimside.piano.material`.
    """

    key: Key
    near: Point
    far: Point
    height_mm: float
    strings: int
    spacing_mm: float
    wire_mm: float
    wrap_mm: float | None
    length_mm: float
    frequency_hz: float
    linear_density_kg_per_m: float
    tension_n: float
    inharmonicity: float
    damper: Interval | None
    section: str
    strike_mm: float | None = None
    material: str = "steel"

    @property
    def wound(self) -> bool:
        """Whether the strings carry a copper wrap."""
        return self.wrap_mm is not None

    def at(self, from_near_end_mm: float) -> Point:
        """The plan point at a distance from the near end (0 to `length_mm`)."""
        share = from_near_end_mm / self.length_mm
        return Point(
            x_mm=self.near.x_mm + share * (self.far.x_mm - self.near.x_mm),
            y_mm=self.near.y_mm + share * (self.far.y_mm - self.near.y_mm),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Strut:
    """A bar of the plate, a straight band of `width_mm` between two points.

    `over_strings` tells a bar that passes over the strings; any other stands between them.
    """

    name: str
    start: Point
    end: Point
    width_mm: float
    over_strings: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A named place other than a string where sound may be made."""

    name: str
    kind: str
    at: Point
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A spot on the floor where one player can stand: the body's centre line.

    `heading_deg` is the direction the player faces, counted from x anticlockwise. `along_rim_mm` is measured along
    the walking line round the instrument. `at_keyboard` tells the places from which keys can be played.
    """

    id: str
    at: Point
    heading_deg: float
    along_rim_mm: float
    at_keyboard: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Permissions:
    """What the owner allows. Names of permissions stand in `rimside.kit`; spots are barred one by one."""

    allowed: frozenset[str]
    forbidden_spots: frozenset[str] = frozenset()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Keyboard:
    """The keys: from where to where along x, mm, and which is the first and the last.

    Usual for 88 keys: 52 white ones in 48 to 48 3/8 in. Source: technicians' lists.
    """

    from_mm: float = 0.0
    to_mm: float = 1225.0
    first_key: int = FIRST_KEY
    last_key: int = LAST_KEY

    def middle_mm(self, key: Key) -> float:
        """Where a key's middle lies along x, mm, when all are alike."""
        count = self.last_key - self.first_key + 1
        return self.from_mm + (plain_key(key) - self.first_key + 0.5) * (self.to_mm - self.from_mm) / count


@dataclass(frozen=True, slots=True, kw_only=True)
class Choir:
    """A set of strings, one course a key: its number from 1, its name, and how far it sounds above its keys."""

    number: int
    name: str
    semitones_up: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Piano:
    """One instrument, whole: courses by key, what is in the way, where people can stand, what its owner allows.

    `outline` is the outer edge of the case. `measured` names the values that were read off the instrument, not assumed.
    `instrument` is a row of `rimside.piano.instrument`; a guitar has no `keyboard`; only a harpsichord names `choirs`.
    """

    name: str
    title: str
    length_mm: float
    a4_hz: float
    outline: tuple[Point, ...]
    rim_height_mm: float
    courses: tuple[Course, ...]
    struts: tuple[Strut, ...]
    spots: tuple[Spot, ...]
    places: tuple[Place, ...]
    rim_length_mm: float
    pedals: frozenset[Pedal]
    permissions: Permissions
    keyboard_height_mm: float
    measured: frozenset[str] = frozenset()
    instrument: str = "piano"
    keyboard: Keyboard | None = field(default_factory=Keyboard)
    choirs: tuple[Choir, ...] = ()

    @property
    def string_plane_mm(self) -> float:
        """Height of the highest course above the floor, mm: the level surface over which players reach."""
        return max(course.height_mm for course in self.courses)

    def course(self, key: Key) -> Course:
        """The course of a key; KeyError when this piano lacks it."""
        for course in self.courses:
            if course.key == key:
                return course
        raise KeyError(key)

    def spot(self, name: str) -> Spot | None:
        """The spot of a name, or None."""
        return next((spot for spot in self.spots if spot.name == name), None)

    def place(self, place_id: str) -> Place:
        """The place of an id; KeyError when unknown."""
        for place in self.places:
            if place.id == place_id:
                return place
        raise KeyError(place_id)

    def walk_mm(self, a: Place, b: Place) -> float:
        """The shorter way round the rim between two places, mm."""
        apart = abs(a.along_rim_mm - b.along_rim_mm)
        return min(apart, self.rim_length_mm - apart)
