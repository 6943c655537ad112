"""From a few measured points to a whole piano: what a person reads off with tape and gauge, and how it is filled in."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from rimside.errors import BadInput
from rimside.piano import strings
from rimside.piano.geometry import (
    HALF_BODY_MM,
    PLACE_SPACING_MM,
    FloorObstacle,
    crossing_shares,
    outline_polygon,
    places_round,
)
from rimside.piano.instrument import INSTRUMENTS, Instrument
from rimside.piano.interpolate import pchip
from rimside.piano.material import MATERIALS
from rimside.piano.model import Choir, Course, Interval, Keyboard, Permissions, Piano, Point, Spot, Strut
from rimside.pitch import Key, in_choir
from rimside.score.model import Pedal
from rimside.units import A4_HZ, FIRST_KEY, LAST_KEY, key_hz

LENGTH_SLIP_SHARE = 0.02
"""How far the outline's depth may differ from the stated length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyPoint:
    """One measured course. `wire_mm` is the plain wire or the core, `wrap_mm` the outside of a wound string."""

    key: int
    near: Point
    far: Point
    strings: int
    spacing_mm: float
    wire_mm: float
    wrap_mm: float | None = None
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WireRange:
    """One size of plain wire from a key to a key, as painted on many plates."""

    first_key: int
    last_key: int
    wire_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Strings that lie together between two struts, measured at a few keys, the first and the last among them.

    `material` is that of plain wire and cores, `choir` the set of strings that it belongs to.
    """

    name: str
    first_key: int
    last_key: int
    points: tuple[KeyPoint, ...]
    wires: tuple[WireRange, ...] = ()
    material: str = "steel"
    choir: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class DamperPoint:
    """The damper line at one key: the plan y of the felt's middle, and how much of the string the felt covers."""

    key: int
    y_mm: float
    felt_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Dampers:
    """Keys above `last_key` have no damper, nor have choirs that are not in `choirs`."""

    last_key: int
    points: tuple[DamperPoint, ...]
    choirs: tuple[int, ...] = (1,)


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikePoint:
    """The hammer line at one key: its plan y."""

    key: int
    y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Everything a person measures or assumes on one piano."""

    name: str
    title: str
    length_mm: float
    a4_hz: float = A4_HZ
    outline: tuple[Point, ...]
    rim_height_mm: float
    keyboard_height_mm: float
    sections: tuple[Section, ...]
    dampers: Dampers | None
    strike: tuple[StrikePoint, ...] = ()
    struts: tuple[Strut, ...] = ()
    spots: tuple[Spot, ...] = ()
    floor: tuple[FloorObstacle, ...] = ()
    pedals: frozenset[Pedal] = frozenset(Pedal)
    permissions: Permissions = field(default_factory=lambda: Permissions(allowed=frozenset()))
    place_spacing_mm: float = PLACE_SPACING_MM
    half_body_mm: float = HALF_BODY_MM
    measured: frozenset[str] = frozenset()
    instrument: str = "piano"
    keyboard: Keyboard | None = field(default_factory=Keyboard)
    choirs: tuple[Choir, ...] = ()

    @property
    def kind(self) -> Instrument:
        """What holds for instruments of this kind."""
        return INSTRUMENTS[self.instrument]

    def semitones_up(self, choir: int) -> int:
        """How far a choir sounds above its keys."""
        return next((one.semitones_up for one in self.choirs if one.number == choir), 0)


def build(survey: Survey) -> Piano:
    """Fill in every course between the measured ones, and the places round the rim.

    Inside a section the near end, the direction and the logarithm of the length follow monotone curves through the
    measured keys; wire goes in half gauges; the number of strings and the wrap change only at measured keys.

    Raises
    ------
    BadInput : a kind of instrument or material that is not known, a key in no section or in two, a length or tension
        no string has, strings that cross inside a section or run into a strut, an outline that is open or crosses
        itself, anything inside the piano that lies outside it.
    """
    _check_outline(survey)
    _check_kind(survey)
    _check_keys(survey)
    courses = tuple(course for section in survey.sections for course in _courses(survey, section))
    _check_inside(survey, courses)
    _check_crossings(courses)
    _check_struts(courses, survey.struts)
    _check_names(survey)
    places, rim_length_mm = places_round(
        survey.outline,
        floor=survey.floor,
        spacing_mm=survey.place_spacing_mm,
        half_body_mm=survey.half_body_mm,
        keyboard_mm=None if survey.keyboard is None else (survey.keyboard.from_mm, survey.keyboard.to_mm),
    )
    return Piano(
        name=survey.name,
        title=survey.title,
        length_mm=survey.length_mm,
        a4_hz=survey.a4_hz,
        outline=survey.outline,
        rim_height_mm=survey.rim_height_mm,
        courses=tuple(sorted(courses, key=lambda course: course.key)),
        struts=survey.struts,
        spots=survey.spots,
        places=places,
        rim_length_mm=rim_length_mm,
        pedals=survey.pedals,
        permissions=survey.permissions,
        keyboard_height_mm=survey.keyboard_height_mm,
        measured=survey.measured,
        instrument=survey.instrument,
        keyboard=survey.keyboard,
        choirs=survey.choirs,
    )


def remarks(piano: Piano) -> tuple[str, ...]:
    """What a person should look at again: courses whose tension or inharmonicity lies outside published pianos.

    Nothing for kinds of instrument of which no ranges were found published.
    """
    if not INSTRUMENTS[piano.instrument].published:
        return ()
    return tuple(text for course in piano.courses for text in unusual(course))


def unusual(course: Course) -> Iterator[str]:
    """What of a course lies outside published pianos."""
    usual = strings.published_range(course.key)
    if not usual.least_tension_n <= course.tension_n <= usual.most_tension_n:
        yield (
            f"course {course.key}: tension {course.tension_n:.0f} N; published pianos lie at "
            f"{usual.least_tension_n:.0f} to {usual.most_tension_n:.0f} N"
        )
    if not usual.least_inharmonicity <= course.inharmonicity <= usual.most_inharmonicity:
        yield (
            f"course {course.key}: inharmonicity {course.inharmonicity:.2e}; published pianos lie at "
            f"{usual.least_inharmonicity:.2e} to {usual.most_inharmonicity:.2e}"
        )


# --- courses ---------------------------------------------------------------------------------------------------------


def _courses(survey: Survey, section: Section) -> Iterator[Course]:
    points = sorted(section.points, key=lambda point: point.key)
    _check_points(section, points)
    curves = _curves(points, survey.kind.length_range_mm)
    for key in range(section.first_key, section.last_key + 1):
        yield _course(survey, section, points, curves, key)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Curves:
    near_x_mm: Callable[[float], float]
    near_y_mm: Callable[[float], float]
    log_length: Callable[[float], float]
    direction_rad: Callable[[float], float]
    spacing_mm: Callable[[float], float]
    height_mm: Callable[[float], float]


def _curves(points: Sequence[KeyPoint], range_mm: tuple[float, float]) -> _Curves:
    keys = [float(point.key) for point in points]

    def through(value: Callable[[KeyPoint], float]) -> Callable[[float], float]:
        return pchip(keys, [value(point) for point in points])

    return _Curves(
        near_x_mm=through(lambda p: p.near.x_mm),
        near_y_mm=through(lambda p: p.near.y_mm),
        log_length=through(lambda p: math.log(_possible_length(p.near.distance_mm(p.far), p.key, range_mm))),
        direction_rad=through(lambda p: math.atan2(p.far.y_mm - p.near.y_mm, p.far.x_mm - p.near.x_mm)),
        spacing_mm=through(lambda p: p.spacing_mm),
        height_mm=through(lambda p: p.height_mm),
    )


def _course(survey: Survey, section: Section, points: Sequence[KeyPoint], curves: _Curves, key: int) -> Course:
    length_mm = math.exp(curves.log_length(key))
    near = Point(x_mm=curves.near_x_mm(key), y_mm=curves.near_y_mm(key))
    angle = curves.direction_rad(key)
    far = Point(x_mm=near.x_mm + length_mm * math.cos(angle), y_mm=near.y_mm + length_mm * math.sin(angle))
    wire_mm, wrap_mm = _wire(survey, section, points, key)
    material = MATERIALS[section.material]
    density = (
        strings.plain_linear_density_kg_per_m(wire_mm, material.density_kg_per_m3)
        if wrap_mm is None
        else strings.wound_linear_density_kg_per_m(wire_mm, wrap_mm, core_kg_per_m3=material.density_kg_per_m3)
    )
    frequency_hz = key_hz(key + survey.semitones_up(section.choir), survey.a4_hz)
    tension_n = strings.tension_n(frequency_hz, length_mm, density)
    _check_tension(tension_n, key, wire_mm, wrap_mm, survey.kind)
    count = _at_or_below(points, key).strings
    return Course(
        key=in_choir(Key(key), section.choir),
        near=near,
        far=far,
        height_mm=curves.height_mm(key),
        strings=count,
        spacing_mm=curves.spacing_mm(key) if count > 1 else 0.0,
        wire_mm=wire_mm,
        wrap_mm=wrap_mm,
        length_mm=length_mm,
        frequency_hz=frequency_hz,
        linear_density_kg_per_m=density,
        tension_n=tension_n,
        inharmonicity=strings.inharmonicity_fletcher_1964(wire_mm, tension_n, length_mm, material.young_pa),
        damper=_damper(survey.dampers, section.choir, near, far, key),
        section=section.name,
        material=section.material,
        strike_mm=_strike_mm(survey.strike, near, far, key),
    )


def _at_or_below(points: Sequence[KeyPoint], key: int) -> KeyPoint:
    return max((point for point in points if point.key <= key), key=lambda point: point.key)


def _wire(survey: Survey, section: Section, points: Sequence[KeyPoint], key: int) -> tuple[float, float | None]:
    """Wire (or core) and wrap of a key: as measured, as painted on the plate, or between two measured keys."""
    below = _at_or_below(points, key)
    if below.key == key:
        return below.wire_mm, below.wrap_mm
    above = min((point for point in points if point.key > key), key=lambda point: point.key)
    share = (key - below.key) / (above.key - below.key)
    painted = next((w.wire_mm for w in section.wires if w.first_key <= key <= w.last_key), None)
    wire_mm = painted or _as_sold(survey.kind, section, below.wire_mm + share * (above.wire_mm - below.wire_mm))
    if below.wrap_mm is None and above.wrap_mm is None:
        return wire_mm, None
    if below.wrap_mm is None or above.wrap_mm is None:
        raise BadInput(
            "wound strings end somewhere between two measured keys",
            where=f"section {section.name}",
            value=f"{below.key} to {above.key}",
            allowed="the last wound and the first plain key, both measured",
        )
    return wire_mm, below.wrap_mm * (above.wrap_mm / below.wrap_mm) ** share


def _as_sold(kind: Instrument, section: Section, wire_mm: float) -> float:
    """Piano wire in half gauges, other wire to a hundredth of a millimetre."""
    gauged = section.material == "steel" and kind.every_key
    return strings.nearest_wire_mm(wire_mm) if gauged else round(wire_mm, 2)


def _damper(dampers: Dampers | None, choir: int, near: Point, far: Point, key: int) -> Interval | None:
    if dampers is None or key > dampers.last_key or choir not in dampers.choirs:
        return None
    points = sorted(dampers.points, key=lambda point: point.key)
    keys = [float(point.key) for point in points]
    y_mm = _linear(keys, [p.y_mm for p in points], key)
    felt_mm = _linear(keys, [p.felt_mm for p in points], key)
    middle_mm = _along_at_y_mm(near, far, y_mm)
    length_mm = near.distance_mm(far)
    if not felt_mm / 2.0 <= middle_mm <= length_mm - felt_mm / 2.0:
        raise BadInput(
            "the damper line misses the string", where=f"course {key}", value=round(y_mm, 1),
            allowed=f"y between {near.y_mm + felt_mm / 2:.0f} and {far.y_mm - felt_mm / 2:.0f} mm",
        )  # fmt: skip
    return Interval(from_mm=middle_mm - felt_mm / 2.0, to_mm=middle_mm + felt_mm / 2.0)


def _strike_mm(strike: Sequence[StrikePoint], near: Point, far: Point, key: int) -> float | None:
    if not strike:
        return None
    points = sorted(strike, key=lambda point: point.key)
    return _along_at_y_mm(near, far, _linear([float(p.key) for p in points], [p.y_mm for p in points], key))


def _along_at_y_mm(near: Point, far: Point, y_mm: float) -> float:
    return (y_mm - near.y_mm) / (far.y_mm - near.y_mm) * near.distance_mm(far)


def _linear(xs: Sequence[float], ys: Sequence[float], x: float) -> float:
    """Straight lines between points; the end values go on outside."""
    if x <= xs[0]:
        return ys[0]
    for (x0, x1), (y0, y1) in zip(pairwise(xs), pairwise(ys), strict=True):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return ys[-1]


# --- what cannot be --------------------------------------------------------------------------------------------------


def _possible_length(length_mm: float, key: int, range_mm: tuple[float, float]) -> float:
    low, high = range_mm
    if low <= length_mm <= high:
        return length_mm
    raise BadInput(
        "the speaking length is outside the possible range, in mm",
        where=f"course {key}",
        value=round(length_mm, 3),
        allowed=f"{low:.0f} to {high:.0f}",
        hint=_unit_guess(length_mm, low, high),
    )


def _unit_guess(length_mm: float, low: float, high: float) -> str:
    if low <= 1000.0 * length_mm <= high:
        return "were its ends given in metres?"
    if length_mm < low <= 10.0 * length_mm:
        return "were its ends given in cm?"
    return "is a digit missing or doubled in one of its ends?"


def _check_tension(tension_n: float, key: int, wire_mm: float, wrap_mm: float | None, kind: Instrument) -> None:
    low, high = kind.tension_range_n
    if low <= tension_n <= high:
        return
    raise BadInput(
        "no string bears this tension, in N",
        where=f"course {key}",
        value=round(tension_n, 1),
        allowed=f"{low:.0f} to {high:.0f} for each string",
        hint=_tension_guess(tension_n < low, key, wire_mm, wrap_mm) if kind.published else "",
    )


def _tension_guess(too_low: bool, key: int, wire_mm: float, wrap_mm: float | None) -> str:
    if wire_mm < 0.2:
        return f"wire_mm is {wire_mm:g}: was it given in inches?"
    if wire_mm >= 12.0:
        return f"wire_mm is {wire_mm:g}: is that the gauge number?"
    if wrap_mm is None and too_low and key <= 32:
        return "is it a wound string whose wrap_mm is missing?"
    if wrap_mm is None:
        return f"are wire_mm {wire_mm:g} and both ends in mm?"
    return f"are wire_mm {wire_mm:g} and wrap_mm {wrap_mm:.3g} diameters in mm?"


def _check_outline(survey: Survey) -> None:
    polygon = outline_polygon(survey.outline)
    _, min_y, _, max_y = polygon.bounds
    depth_mm = max_y - min_y
    if abs(depth_mm - survey.length_mm) > LENGTH_SLIP_SHARE * survey.length_mm:
        raise BadInput(
            "length_mm and the outline disagree",
            value=survey.length_mm,
            allowed=f"about {depth_mm:.0f}, the depth of the outline",
            hint="is one of them in other units?",
        )


def _check_kind(survey: Survey) -> None:
    """The kind, the materials and the choirs are known, and a choir is told once."""
    if survey.instrument not in INSTRUMENTS:
        raise BadInput("unknown instrument", value=survey.instrument, allowed=", ".join(INSTRUMENTS))
    for section in survey.sections:
        if section.material not in MATERIALS:
            raise BadInput("unknown material", where=f"section {section.name}", value=section.material,
                           allowed=", ".join(MATERIALS))  # fmt: skip
        if not 1 <= section.choir <= survey.kind.choirs:
            raise BadInput("no such choir", where=f"section {section.name}", value=section.choir,
                           allowed=f"1 to {survey.kind.choirs} on a {survey.instrument}")  # fmt: skip
    numbers = [choir.number for choir in survey.choirs]
    if twice := [number for number in numbers if numbers.count(number) > 1]:
        raise BadInput("a choir is told twice", where="choirs", value=twice[0])


def _check_keys(survey: Survey) -> None:
    seen: dict[tuple[int, int], str] = {}
    for section in survey.sections:
        for key in range(section.first_key, section.last_key + 1):
            before = seen.setdefault((section.choir, key), section.name)
            if before != section.name:
                raise BadInput(
                    f"key {key} is in two sections",
                    value=f"{before} and {section.name}",
                    allowed="each key in one section",
                )
    missing = [key for key in range(FIRST_KEY, LAST_KEY + 1) if (1, key) not in seen]
    if missing and survey.kind.every_key:
        raise BadInput("keys are in no section", value=_ranges(missing), allowed="every key from 1 to 88")


def _ranges(keys: Sequence[int]) -> str:
    """Key numbers as ranges: "3, 7 to 9"."""
    runs: list[list[int]] = []
    for key in keys:
        if runs and key == runs[-1][-1] + 1:
            runs[-1].append(key)
        else:
            runs.append([key])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def _check_points(section: Section, points: Sequence[KeyPoint]) -> None:
    where = f"section {section.name}"
    keys = [point.key for point in points]
    if len(set(keys)) < len(keys):
        raise BadInput("a key is measured twice", where=where, value=next(k for k in keys if keys.count(k) > 1))
    for end in (section.first_key, section.last_key):
        if end not in keys:
            raise BadInput(
                f"key {end}, an end of the section, is not measured", where=where, value=keys,
                allowed=f"points at {section.first_key} and {section.last_key}, and some between",
            )  # fmt: skip
    spans = [*((key, key) for key in keys), *((wire.first_key, wire.last_key) for wire in section.wires)]
    for first, last in spans:
        if not section.first_key <= first <= last <= section.last_key:
            raise BadInput(
                "measured keys lie outside their section", where=where, value=_ranges(sorted({first, last})),
                allowed=f"{section.first_key} to {section.last_key}",
            )  # fmt: skip
    for point in points:
        _check_point(point)


def _check_point(point: KeyPoint) -> None:
    where = f"course {point.key}"
    if point.far.y_mm <= point.near.y_mm:
        raise BadInput(
            "the far end lies before the near end", where=where, value=(point.near.y_mm, point.far.y_mm),
            allowed="a far end nearer the tail", hint="are near and far swapped?",
        )  # fmt: skip
    if point.wrap_mm is not None and point.wrap_mm <= point.wire_mm:
        raise BadInput(
            "the wrap is not thicker than its core", where=where, value=point.wrap_mm,
            allowed=f"more than wire_mm, {point.wire_mm:g}", hint="are wire_mm and wrap_mm swapped?",
        )  # fmt: skip
    if point.strings > 1 and point.spacing_mm <= 0.0:
        raise BadInput("two or three strings need a spacing_mm", where=where, value=point.spacing_mm,
                       allowed="centre to centre, more than 0")  # fmt: skip


def _check_inside(survey: Survey, courses: Sequence[Course]) -> None:
    from shapely import Point as Dot
    from shapely import prepare

    polygon = outline_polygon(survey.outline)
    prepare(polygon)
    ends = [(f"course {c.key}, {end}", at) for c in courses for end, at in (("near end", c.near), ("far end", c.far))]
    for where, at in [*ends, *_other_points(survey)]:
        if not polygon.intersects(Dot(at.x_mm, at.y_mm)):
            raise BadInput(
                "lies outside the outline of the case",
                where=where,
                value=(round(at.x_mm, 1), round(at.y_mm, 1)),
                hint="x runs from the bass end of key 1, y from the front edge of the white keys, both in mm",
            )


def _other_points(survey: Survey) -> Iterator[tuple[str, Point]]:
    for spot in survey.spots:
        yield f"spot {spot.name}", spot.at
    for strut in survey.struts:
        yield f"strut {strut.name}, start", strut.start
        yield f"strut {strut.name}, end", strut.end


def _check_crossings(courses: Sequence[Course]) -> None:
    for a, b in pairwise(courses):
        if a.section == b.section and crossing_shares(a.near, a.far, b.near, b.far):
            raise BadInput(
                f"the strings of keys {a.key} and {b.key} cross",
                where=f"section {a.section}",
                allowed="strings of one section side by side",
                hint="are the near and far end of a measured key swapped, or two keys?",
            )


def _check_struts(courses: Sequence[Course], struts: Sequence[Strut]) -> None:
    for strut in struts:
        if strut.start.distance_mm(strut.end) < 1.0:
            raise BadInput("a strut needs two ends", where=f"strut {strut.name}")
        if strut.over_strings:
            continue
        for course in courses:
            if crossing_shares(course.near, course.far, strut.start, strut.end):
                raise BadInput(
                    f"the strings of key {course.key} run through it",
                    where=f"strut {strut.name}",
                    allowed="a strut between strings, or one marked over_strings = true",
                )


def _check_names(survey: Survey) -> None:
    for what, names in (
        ("section", [section.name for section in survey.sections]),
        ("strut", [strut.name for strut in survey.struts]),
        ("spot", [spot.name for spot in survey.spots]),
    ):
        if twice := [name for name in names if names.count(name) > 1]:
            raise BadInput(f"two of one name: {what}", value=twice[0], allowed="a name of its own for each")
    spots = {spot.name for spot in survey.spots}
    if unknown := sorted(survey.permissions.forbidden_spots - spots):
        raise BadInput("a forbidden spot is not a spot", where="permissions", value=unknown[0],
                       allowed=", ".join(sorted(spots)))  # fmt: skip
