"""From points marked on a rectified picture to readings: pixels become mm, the picture's error theirs.

Every mark counts as lying in the plane of the strings. What lies higher or lower (the rim, a strut, the floor) is
off by the picture's slant there; that is told, not corrected.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from rimside.errors import BadInput
from rimside.piano.model import Point
from rimside.piano.readings import Reading
from rimside.piano.survey import StrikePoint
from rimside.piano.tape import Known

EDGE_HEIGHT_ERROR_MM = 10.0
"""How far a length read off a marked outline may be off, because the rim lies above the strings. Our assumption."""
PLANE_ERROR_MM = 5.0
"""How far the height of the string plane, as told to the photographs, may be off. Our assumption."""
ASSUMED = (
    "every mark lies in the plane of the strings; what lies higher or lower (rim, bars, bass strings, floor) is off "
    "as far as the picture was taken at a slant"
)

Pixel = tuple[float, float]
"""Column and row, counted from the middle of the upper left pixel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPicture:
    """A rectified picture: the plan point of the middle of pixel (0, 0), a pixel's size, and how sure a point is."""

    image: str
    columns: int
    rows: int
    mm_per_pixel: float
    origin: Point
    string_plane_mm: float
    error_mm: float
    worst_mm: float

    def point(self, at: Pixel, where: str) -> Point:
        """The plan point of a pixel, to a tenth of a mm.

        Raises
        ------
        BadInput : the pixel lies off the picture; `where` names the marked point.
        """
        column, row = at
        if not (-0.5 <= column <= self.columns - 0.5 and -0.5 <= row <= self.rows - 0.5):
            swapped = -0.5 <= row <= self.columns - 0.5 and -0.5 <= column <= self.rows - 0.5
            raise BadInput(
                "the marked point lies off the picture", where=where, value=[column, row],
                allowed=f"columns 0 to {self.columns - 1}, rows 0 to {self.rows - 1}",
                hint="column first, then row; are they swapped?" if swapped else "was another picture marked?",
            )  # fmt: skip
        return Point(
            x_mm=round(self.origin.x_mm + column * self.mm_per_pixel, 1),
            y_mm=round(self.origin.y_mm - row * self.mm_per_pixel, 1),
        )

    def error_at_mm(self, at: Pixel) -> float:
        """Standard error along one axis: as in the middle, growing with the square of the way to the corner."""
        middle = ((self.columns - 1) / 2.0, (self.rows - 1) / 2.0)
        share = math.dist(at, middle) / max(math.hypot(*middle), 1.0)
        return (self.error_mm + (self.worst_mm - self.error_mm) * min(share, 1.0) ** 2) / math.sqrt(2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedCourse:
    """The ends of one course on the picture; one of them may be hidden."""

    key: int
    near: Pixel | None = None
    far: Pixel | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedKey:
    """A point of the line of dampers or of hammers at a key."""

    key: int
    at: Pixel


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """What a person marked on a picture. `known` holds all that no picture shows, with struts, outline, spots and floor
    already in the plan; `click_px` is how far off a mark may be."""

    picture: PlanPicture
    known: Known
    courses: tuple[MarkedCourse, ...]
    dampers: tuple[MarkedKey, ...] = ()
    strike: tuple[MarkedKey, ...] = ()
    click_px: float = 1.0


def known_of(trace: Trace) -> Known:
    """All that is known: the marks as readings beside those of the tape.

    Raises
    ------
    BadInput : a mark off the picture, a course marked twice.
    """
    keys = [course.key for course in trace.courses]
    if twice := [key for key in keys if keys.count(key) > 1]:
        raise BadInput("a course is marked twice", where="course", value=twice[0])
    known, picture = trace.known, trace.picture
    strike = tuple(
        StrikePoint(key=one.key, y_mm=picture.point(one.at, f"strike at key {one.key}").y_mm) for one in trace.strike
    )
    readings = (*known.readings, *_marked(trace), *_others(trace))
    return replace(known, readings=readings, strike=strike or None, assumed=(*known.assumed, ASSUMED))


def _marked(trace: Trace) -> Iterator[Reading]:
    for course in trace.courses:
        for end, at in (("near", course.near), ("far", course.far)):
            if at is not None:
                where = f"course {course.key}, {end}"
                point, error_mm = trace.picture.point(at, where), _error_mm(trace, at)
                for axis, mm in (("x", point.x_mm), ("y", point.y_mm)):
                    yield Reading(name=f"{end}_{axis}_{course.key}", mm=mm, plus_minus_mm=error_mm, told=where)
    for damper in trace.dampers:
        where = f"damper at key {damper.key}"
        y_mm = trace.picture.point(damper.at, where).y_mm
        yield Reading(name=f"damper_{damper.key}", mm=y_mm, plus_minus_mm=_error_mm(trace, damper.at), told=where)


def _error_mm(trace: Trace, at: Pixel) -> float:
    return max(0.1, math.hypot(trace.picture.error_at_mm(at), trace.click_px * trace.picture.mm_per_pixel))


def _others(trace: Trace) -> Iterator[Reading]:
    """Height and length that the picture brings along, unless the tape has them."""
    taken = {reading.name for reading in trace.known.readings}
    if "string_height" not in taken:
        yield Reading(name="string_height", mm=trace.picture.string_plane_mm, plus_minus_mm=PLANE_ERROR_MM,
                      told="string_plane_mm of the picture")  # fmt: skip
    if trace.known.outline and "length" not in taken:
        ys = [point.y_mm for point in trace.known.outline]
        yield Reading(name="length", mm=max(ys) - min(ys), plus_minus_mm=EDGE_HEIGHT_ERROR_MM, told="outline")
