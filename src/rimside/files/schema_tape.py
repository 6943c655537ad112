"""The file of tape readings: what was counted and measured on one piano. Told in docs/measure.md."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from rimside.errors import BadInput
from rimside.files.schema_piano import Above0, KeyNumber, Name, PermissionsTable, permissions_of
from rimside.files.toml import Table, read_toml, validate
from rimside.piano.readings import KINDS, Counts, Reading, split
from rimside.piano.tape import Fact, Known
from rimside.score.model import Pedal
from rimside.units import A4_HZ

FORMAT = "rimside-tape/1"
FileName = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,60}$")]


class CountedTable(Table):
    """What is counted in keys."""

    last_keys: list[KeyNumber]
    last_single: Annotated[int, Field(ge=0, le=88)]
    last_double: Annotated[int, Field(ge=0, le=88)]
    first_plain: KeyNumber
    last_damper: KeyNumber
    struts_after: list[KeyNumber] | None = None


class ReadingTable(Table):
    """One reading."""

    mm: float
    plus_minus_mm: Annotated[float, Field(gt=0, le=200)] | None = None


class CourseTable(Table):
    """What is known of one course besides where it lies; `wrap_mm` 0 says plain wire."""

    key: KeyNumber
    wire_mm: Above0 | None = None
    wrap_mm: Annotated[float, Field(ge=0)] | None = None
    spacing_mm: Annotated[float, Field(gt=0, le=20)] | None = None
    height_mm: Annotated[float, Field(ge=500, le=1300)] | None = None


class FactsTable(Table):
    """What both a tape file and a trace tell."""

    name: FileName
    title: Name
    like: str | None = None
    a4_hz: Annotated[float, Field(ge=380, le=480)] = A4_HZ
    pedals: list[Literal["damper", "sostenuto", "una-corda"]] | None = None
    counted: CountedTable
    readings: dict[str, ReadingTable] = Field(default_factory=dict)
    course: list[CourseTable] = Field(default_factory=list)
    permissions: PermissionsTable | None = None


class TapeTable(FactsTable):
    """A whole file of readings."""

    format: Literal["rimside-tape/1"]


def tape_from_toml(data: bytes, where: str) -> Known:
    """Read a file of tape readings.

    Raises
    ------
    BadInput : not TOML, an unknown key or reading, a value of the wrong kind, a course told twice.
    """
    table = validate(TapeTable, with_readings(read_toml(data, where)), where)
    try:
        return Known(**facts(table), readings=readings(table))
    except BadInput as error:
        raise error.at(where) from None


def with_readings(table: dict[str, Any]) -> dict[str, Any]:
    """The file's tables with each plain number among the readings as a table."""
    plain = table.get("readings")
    if not isinstance(plain, dict):
        return table
    return table | {"readings": {k: v if isinstance(v, dict) else {"mm": v} for k, v in plain.items()}}


def readings(table: FactsTable) -> tuple[Reading, ...]:
    """The readings, each with the usual standard error of its kind unless it has its own."""
    return tuple(
        Reading(
            name=name,
            mm=one.mm,
            plus_minus_mm=one.plus_minus_mm or KINDS[split(name)[0]].plus_minus_mm,
        )
        for name, one in table.readings.items()
    )


def facts(table: FactsTable) -> dict[str, Any]:
    """The fields of `Known` that no picture shows."""
    counted, keys = table.counted, [course.key for course in table.course]
    if twice := [key for key in keys if keys.count(key) > 1]:
        raise BadInput("a course is told twice", where="course", value=twice[0])
    lasts = tuple(counted.last_keys)
    return {
        "name": table.name,
        "title": table.title,
        "like": table.like,
        "a4_hz": table.a4_hz,
        "counts": Counts(
            last_keys=lasts,
            last_single=counted.last_single,
            last_double=counted.last_double,
            first_plain=counted.first_plain,
            last_damper=counted.last_damper,
            struts_after=lasts[:-1] if counted.struts_after is None else tuple(counted.struts_after),
        ),
        "facts": tuple(Fact(**course.model_dump()) for course in table.course),
        "pedals": None if table.pedals is None else frozenset(Pedal(name) for name in table.pedals),
        "permissions": None if table.permissions is None else permissions_of(table.permissions),
    }
