"""The survey file of one piano: TOML to `Survey` and `Piano`. The format is told in docs/survey.md."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from rimside.errors import BadInput
from rimside.files.toml import Table, read_toml, validate
from rimside.kit import PERMISSIONS
from rimside.piano.geometry import HALF_BODY_MM, PLACE_SPACING_MM, FloorObstacle
from rimside.piano.model import Choir, Keyboard, Permissions, Piano, Point, Spot, Strut
from rimside.piano.survey import (
    DamperPoint,
    Dampers,
    KeyPoint,
    Section,
    StrikePoint,
    Survey,
    WireRange,
    build,
)
from rimside.pitch import MOST_CHOIRS
from rimside.score.model import Pedal
from rimside.units import A4_HZ, FIRST_KEY, LAST_KEY

FORMAT = "rimside-survey/1"
PIANO = "piano"

Above0 = Annotated[float, Field(gt=0)]
KeyNumber = Annotated[int, Field(ge=FIRST_KEY, le=LAST_KEY)]
Name = Annotated[str, Field(min_length=1, max_length=80)]
Pair = Annotated[list[float], Field(min_length=2, max_length=2)]


class PointTable(Table):
    """One measured course."""

    key: KeyNumber
    near: Pair
    far: Pair
    strings: Annotated[int, Field(ge=1, le=3)]
    spacing_mm: Annotated[float, Field(ge=0, le=20)] = 0.0
    wire_mm: Above0
    wrap_mm: Above0 | None = None
    height_mm: Annotated[float, Field(ge=500, le=1300)]


class WireTable(Table):
    """A size of wire from a key to a key."""

    first_key: KeyNumber
    last_key: KeyNumber
    wire_mm: Above0


class SectionTable(Table):
    """A section of strings."""

    name: Name
    first_key: KeyNumber
    last_key: KeyNumber
    material: str = "steel"
    choir: Annotated[int, Field(ge=1, le=MOST_CHOIRS)] = 1
    points: Annotated[list[PointTable], Field(min_length=1)]
    wires: list[WireTable] = Field(default_factory=list)


class DamperPointTable(Table):
    """The damper line at one key."""

    key: KeyNumber
    y_mm: float
    felt_mm: Annotated[float, Field(gt=0, le=120)]


class DampersTable(Table):
    """The dampers."""

    last_key: KeyNumber
    choirs: Annotated[list[int], Field(min_length=1)] = Field(default_factory=lambda: [1])
    points: Annotated[list[DamperPointTable], Field(min_length=1)]


class KeyboardTable(Table):
    """Where the keys lie, when they are not the usual 88."""

    from_mm: float
    to_mm: float
    first_key: KeyNumber
    last_key: KeyNumber


class ChoirTable(Table):
    """A set of strings with one course a key."""

    number: Annotated[int, Field(ge=1, le=MOST_CHOIRS)]
    name: Name
    semitones_up: Annotated[int, Field(ge=-24, le=24)] = 0


class StrikeTable(Table):
    """The hammer line at one key."""

    key: KeyNumber
    y_mm: float


class StrutTable(Table):
    """A bar of the plate."""

    name: Name
    start: Pair
    end: Pair
    width_mm: Annotated[float, Field(gt=0, le=150)]
    over_strings: bool = False


class SpotTable(Table):
    """A place for sound other than a string."""

    name: Name
    kind: Literal["frame", "case", "string ends", "soundboard"]
    at: Pair
    height_mm: Annotated[float, Field(ge=300, le=1300)]


class FloorTable(Table):
    """Where nobody can stand."""

    name: Name
    at: Pair
    to: Pair | None = None
    radius_mm: Annotated[float, Field(ge=0, le=3000)]


class PermissionsTable(Table):
    """What the owner allows."""

    allowed: list[str]
    forbidden_spots: list[str] = Field(default_factory=list)
    note: str = ""


class SurveyTable(Table):
    """A whole survey file."""

    format: Literal["rimside-survey/1"]
    name: Name
    title: Name
    instrument: str = "piano"
    length_mm: Annotated[float, Field(ge=300, le=3500)]
    a4_hz: Annotated[float, Field(ge=380, le=480)] = A4_HZ
    rim_height_mm: Annotated[float, Field(ge=600, le=1400)]
    keyboard_height_mm: Annotated[float, Field(ge=500, le=1000)]
    place_spacing_mm: Annotated[float, Field(ge=100, le=1000)] = PLACE_SPACING_MM
    half_body_mm: Annotated[float, Field(ge=50, le=500)] = HALF_BODY_MM
    pedals: list[Literal["damper", "sostenuto", "una-corda"]]
    measured: list[str] = Field(default_factory=list)
    outline: list[Pair]
    permissions: PermissionsTable
    dampers: DampersTable | None = None
    keyboard: KeyboardTable | None = None
    choirs: list[ChoirTable] = Field(default_factory=list)
    strike: list[StrikeTable] = Field(default_factory=list)
    sections: Annotated[list[SectionTable], Field(min_length=1)]
    struts: list[StrutTable] = Field(default_factory=list)
    spots: list[SpotTable] = Field(default_factory=list)
    floor: list[FloorTable] = Field(default_factory=list)


def survey_from_toml(data: bytes, where: str) -> Survey:
    """Read a survey file.

    Raises
    ------
    BadInput : not TOML, an unknown or missing key, a value of the wrong kind or size, an unknown permission.
    """
    table = validate(SurveyTable, read_toml(data, where), where)
    try:
        return _survey(table)
    except BadInput as error:
        raise error.at(where) from None


def piano_from_toml(data: bytes, where: str) -> Piano:
    """Read a survey file and build the piano; every error names the file."""
    survey = survey_from_toml(data, where)
    try:
        return build(survey)
    except BadInput as error:
        raise error.at(where) from None


def _survey(table: SurveyTable) -> Survey:
    return Survey(
        name=table.name,
        title=table.title,
        length_mm=table.length_mm,
        a4_hz=table.a4_hz,
        outline=tuple(_point(pair) for pair in table.outline),
        rim_height_mm=table.rim_height_mm,
        keyboard_height_mm=table.keyboard_height_mm,
        sections=tuple(_section(section) for section in table.sections),
        dampers=_dampers(table),
        strike=tuple(StrikePoint(key=p.key, y_mm=p.y_mm) for p in table.strike),
        struts=tuple(_strut(strut) for strut in table.struts),
        spots=tuple(Spot(name=s.name, kind=s.kind, at=_point(s.at), height_mm=s.height_mm) for s in table.spots),
        floor=tuple(_floor(item) for item in table.floor),
        pedals=frozenset(Pedal(name) for name in table.pedals),
        permissions=permissions_of(table.permissions),
        place_spacing_mm=table.place_spacing_mm,
        half_body_mm=table.half_body_mm,
        measured=frozenset(table.measured),
        instrument=table.instrument,
        keyboard=_keyboard(table),
        choirs=tuple(Choir(number=c.number, name=c.name, semitones_up=c.semitones_up) for c in table.choirs),
    )


def _dampers(table: SurveyTable) -> Dampers | None:
    """The dampers; only a piano must have some."""
    if table.dampers is None:
        if table.instrument == PIANO:
            raise BadInput("is missing", where="dampers", hint="last_key and points say which keys have dampers, where")
        return None
    return Dampers(
        last_key=table.dampers.last_key,
        points=tuple(DamperPoint(key=p.key, y_mm=p.y_mm, felt_mm=p.felt_mm) for p in table.dampers.points),
        choirs=tuple(table.dampers.choirs),
    )


def _keyboard(table: SurveyTable) -> Keyboard | None:
    """The keys as told; a piano's are the usual ones when nothing is told, another instrument then has none."""
    if table.keyboard is None:
        return Keyboard() if table.instrument == PIANO else None
    keys = table.keyboard
    if keys.to_mm <= keys.from_mm or keys.last_key < keys.first_key:
        raise BadInput("the keyboard ends before it begins", where="keyboard", value=[keys.from_mm, keys.to_mm])
    return Keyboard(from_mm=keys.from_mm, to_mm=keys.to_mm, first_key=keys.first_key, last_key=keys.last_key)


def _point(pair: list[float]) -> Point:
    return Point(x_mm=float(pair[0]), y_mm=float(pair[1]))


def _section(table: SectionTable) -> Section:
    if table.last_key < table.first_key:
        raise BadInput(
            "last_key is below first_key",
            where=f"section {table.name}",
            value=table.last_key,
            allowed=f"{table.first_key} or more",
        )
    return Section(
        name=table.name,
        first_key=table.first_key,
        last_key=table.last_key,
        points=tuple(_key_point(point) for point in table.points),
        wires=tuple(
            WireRange(first_key=wire.first_key, last_key=wire.last_key, wire_mm=wire.wire_mm) for wire in table.wires
        ),
        material=table.material,
        choir=table.choir,
    )


def _key_point(table: PointTable) -> KeyPoint:
    return KeyPoint(
        key=table.key,
        near=_point(table.near),
        far=_point(table.far),
        strings=table.strings,
        spacing_mm=table.spacing_mm,
        wire_mm=table.wire_mm,
        wrap_mm=table.wrap_mm,
        height_mm=table.height_mm,
    )


def _strut(table: StrutTable) -> Strut:
    return Strut(
        name=table.name,
        start=_point(table.start),
        end=_point(table.end),
        width_mm=table.width_mm,
        over_strings=table.over_strings,
    )


def _floor(table: FloorTable) -> FloorObstacle:
    return FloorObstacle(
        name=table.name,
        at=_point(table.at),
        radius_mm=table.radius_mm,
        to=None if table.to is None else _point(table.to),
    )


def permissions_of(table: PermissionsTable) -> Permissions:
    """What the owner allows; an unknown word is a `BadInput`."""
    for name in table.allowed:
        if name not in PERMISSIONS:
            raise BadInput(
                "unknown permission", where="permissions, allowed", value=name, allowed=", ".join(PERMISSIONS)
            )
    return Permissions(
        allowed=frozenset(table.allowed),
        forbidden_spots=frozenset(table.forbidden_spots),
        note=table.note,
    )
