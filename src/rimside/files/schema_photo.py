"""The job file of photographs: which pictures, which markers and points lie where. Told in docs/measure.md."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from rimside.errors import BadInput
from rimside.files.schema_piano import Above0, Name, Pair
from rimside.files.toml import Table, read_toml, validate
from rimside.piano.photo.markers import MOST, SIDE_MM
from rimside.piano.photo.scene import CLICK_PX, HEIGHT_MM, TAPE_MM

Height = Annotated[float, Field(ge=300, le=1500)]
Error = Annotated[float, Field(gt=0, le=200)]


class SeenPointTable(Table):
    """Where a picture shows a point, pixels from its upper left corner."""

    name: Name
    at: Pair
    plus_minus_px: Annotated[float, Field(gt=0, le=200)] = CLICK_PX


class PictureTable(Table):
    """One photograph."""

    file: Name
    camera: Name = "camera"
    points: list[SeenPointTable] = Field(default_factory=list)


class MarkerTable(Table):
    """A printed marker in the piano."""

    id: Annotated[int, Field(ge=0, lt=MOST)]
    at: Pair | None = None
    height_mm: Height | None = None
    plus_minus_mm: Error = TAPE_MM
    height_plus_minus_mm: Error = HEIGHT_MM


class PointTable(Table):
    """A point of the piano that somebody points at in the pictures."""

    name: Name
    at: Pair | None = None
    height_mm: Height | None = None
    plus_minus_mm: Error = TAPE_MM
    height_plus_minus_mm: Error = HEIGHT_MM


class DistanceTable(Table):
    """A tape reading between the middles of two markers or points."""

    between: Annotated[list[str | int], Field(min_length=2, max_length=2)]
    mm: Annotated[float, Field(gt=0, le=4000)]
    plus_minus_mm: Error = TAPE_MM


class PhotoTable(Table):
    """A whole job."""

    format: Literal["rimside-photo/1"]
    name: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,60}$")]
    string_plane_mm: Height
    printed_edge_mm: Above0 | None = None
    marker_side_mm: Annotated[float, Field(ge=10, le=250)] = SIDE_MM
    mm_per_pixel: Annotated[float, Field(ge=0.1, le=10)] = 1.0
    area: Annotated[list[Pair], Field(min_length=2, max_length=2)] | None = None
    picture: Annotated[list[PictureTable], Field(min_length=1)]
    marker: list[MarkerTable] = Field(default_factory=list)
    point: list[PointTable] = Field(default_factory=list)
    distance: list[DistanceTable] = Field(default_factory=list)


def photo_from_toml(data: bytes, where: str) -> PhotoTable:
    """Read a job file.

    Raises
    ------
    BadInput : not TOML, an unknown key, a value of the wrong kind or size, a marker or point told twice, markers
        without the measured edge of their sheet.
    """
    table = validate(PhotoTable, read_toml(data, where), where)
    for what, names in (
        ("marker", [str(one.id) for one in table.marker]),
        ("point", [one.name for one in table.point]),
    ):
        if twice := [name for name in names if names.count(name) > 1]:
            raise BadInput(f"a {what} is told twice", where=where, value=twice[0])
    if both := {str(one.id) for one in table.marker} & {one.name for one in table.point}:
        raise BadInput("a point has the name of a marker", where=where, value=min(both))
    if table.marker and table.printed_edge_mm is None:
        raise BadInput(
            "is missing",
            where=f"{where}, printed_edge_mm",
            allowed="the length of the line on the printed sheet, which should be 100 mm, as you measure it",
            hint="printers scale; one edge measured with a steel rule mends it",
        )
    return table
