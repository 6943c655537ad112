"""The file of points marked on a rectified picture, and the picture's own report. Both are told in docs/measure.md."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from rimside.errors import BadInput
from rimside.files.atomic import read_file
from rimside.files.schema_piano import Above0, FloorTable, KeyNumber, Name, Pair, SpotTable, StrutTable
from rimside.files.schema_tape import FactsTable, facts, readings, with_readings
from rimside.files.toml import Table, read_toml, validate
from rimside.piano.geometry import FloorObstacle
from rimside.piano.model import Point, Spot, Strut
from rimside.piano.photo.header import size_px
from rimside.piano.tape import Known
from rimside.piano.trace import MarkedCourse, MarkedKey, Pixel, PlanPicture, Trace

FORMAT = "rimside-trace/1"


class PictureTable(BaseModel):
    """What a trace needs of a picture's report; more may stand in it."""

    model_config = ConfigDict(strict=True, frozen=True, allow_inf_nan=False, extra="ignore")

    format: Literal["rimside-picture/1"]
    image: Name
    columns: Annotated[int, Field(gt=0)] | None = None
    rows: Annotated[int, Field(gt=0)] | None = None
    mm_per_pixel: Annotated[float, Field(ge=0.05, le=20)]
    origin_mm: Pair
    string_plane_mm: Annotated[float, Field(ge=300, le=1500)]
    error_mm: Annotated[float, Field(ge=0, le=200)]
    worst_mm: Annotated[float, Field(ge=0, le=500)]


class MarkTable(Table):
    """The ends of one course, pixels."""

    key: KeyNumber
    near: Pair | None = None
    far: Pair | None = None


class KeyMarkTable(Table):
    """A point of the damper or hammer line at a key."""

    key: KeyNumber
    at: Pair


class TraceTable(FactsTable):
    """A whole trace. Points are pixels of the picture, in tables that surveys use with mm; sizes are mm here too."""

    format: Literal["rimside-trace/1"]
    picture: Name
    plus_minus_px: Above0 = 1.0
    mark: Annotated[list[MarkTable], Field(min_length=1)]
    outline: list[Pair] = Field(default_factory=list)
    damper: list[KeyMarkTable] = Field(default_factory=list)
    strike: list[KeyMarkTable] = Field(default_factory=list)
    strut: list[StrutTable] = Field(default_factory=list)
    spot: list[SpotTable] = Field(default_factory=list)
    floor: list[FloorTable] = Field(default_factory=list)


def trace_from_file(file: str) -> Trace:
    """Read a trace and the report of its picture, which is looked for beside it.

    Raises
    ------
    BadInput : a file that is not there or not TOML, an unknown key, a value of the wrong kind, a point off the picture.
    """
    path = Path(file)
    return trace_from_toml(read_file(path, file), file, path.parent)


def trace_from_toml(data: bytes, where: str, folder: Path) -> Trace:
    """The same from bytes; the report of the picture is looked for in `folder`."""
    table = validate(TraceTable, with_readings(read_toml(data, where)), where)
    picture = picture_from_file(folder / table.picture)
    try:
        return _trace(table, picture)
    except BadInput as error:
        raise error.at(where) from None


def picture_from_file(path: Path) -> PlanPicture:
    """Read the report of a rectified picture; its size is that of the image when the report does not tell it.

    Raises
    ------
    BadInput : as for any file; no size told and the image not to be read.
    """
    where = str(path)
    plain = read_toml(read_file(path, where), where)
    known = {name: value for name, value in plain.items() if name in PictureTable.model_fields}
    table = validate(PictureTable, known, where)
    columns, rows = table.columns, table.rows
    if columns is None or rows is None:
        columns, rows = size_px(read_file(path.parent / table.image, table.image), table.image)
    return PlanPicture(
        image=table.image,
        columns=columns,
        rows=rows,
        mm_per_pixel=table.mm_per_pixel,
        origin=Point(x_mm=table.origin_mm[0], y_mm=table.origin_mm[1]),
        string_plane_mm=table.string_plane_mm,
        error_mm=table.error_mm,
        worst_mm=max(table.worst_mm, table.error_mm),
    )


def _trace(table: TraceTable, picture: PlanPicture) -> Trace:
    known = Known(
        **facts(table),
        readings=readings(table),
        outline=_outline(table.outline, picture),
        struts=tuple(_strut(one, picture) for one in table.strut) or None,
        spots=tuple(
            Spot(name=s.name, kind=s.kind, at=picture.point(_pixel(s.at), f"spot {s.name}"), height_mm=s.height_mm)
            for s in table.spot
        )
        or None,
        floor=tuple(_floor(one, picture) for one in table.floor) or None,
    )
    return Trace(
        picture=picture,
        known=known,
        courses=tuple(MarkedCourse(key=m.key, near=_end(m.near), far=_end(m.far)) for m in table.mark),
        dampers=tuple(MarkedKey(key=one.key, at=_pixel(one.at)) for one in table.damper),
        strike=tuple(MarkedKey(key=one.key, at=_pixel(one.at)) for one in table.strike),
        click_px=table.plus_minus_px,
    )


def _outline(marked: Sequence[list[float]], picture: PlanPicture) -> tuple[Point, ...] | None:
    """The marked outline, closed."""
    if not marked:
        return None
    points = [picture.point(_pixel(at), f"outline, point no. {number}") for number, at in enumerate(marked, start=1)]
    return (*points, points[0]) if points[0] != points[-1] else tuple(points)


def _strut(mark: StrutTable, picture: PlanPicture) -> Strut:
    return Strut(
        name=mark.name,
        start=picture.point(_pixel(mark.start), f"strut {mark.name}, start"),
        end=picture.point(_pixel(mark.end), f"strut {mark.name}, end"),
        width_mm=mark.width_mm,
        over_strings=mark.over_strings,
    )


def _floor(mark: FloorTable, picture: PlanPicture) -> FloorObstacle:
    return FloorObstacle(
        name=mark.name,
        at=picture.point(_pixel(mark.at), f"floor {mark.name}"),
        radius_mm=mark.radius_mm,
        to=None if mark.to is None else picture.point(_pixel(mark.to), f"floor {mark.name}, to"),
    )


def _end(pair: list[float] | None) -> Pixel | None:
    return None if pair is None else _pixel(pair)


def _pixel(pair: list[float]) -> Pixel:
    return float(pair[0]), float(pair[1])
