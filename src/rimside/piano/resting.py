"""Where an implement can lie or hang inside an instrument without fouling what sounds or moves."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rimside.piano.access import OVER_HEIGHT_MM
from rimside.piano.model import Course, Piano, Point, Strut

CLEAR_MM = 15.0
"""Kept free between something at rest and a string, a damper or a spot that is struck. Our assumption."""
HANG_MM = 300.0
"""Handles of a line bow hang on a strut at most this far from where the line lies. Our assumption.
Common practice, no published source: what hangs on a strut of one piano finds nothing where that strut ends early."""
BESIDE_KEYS_MM = 40.0
"""Breadth of the blocks on either side of the keys. Our assumption."""
PIN_BLOCK_FROM_Y_MM = 180.0
"""Behind the keys something can lie from here on. Our assumption."""
_STEP_MM = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hang:
    """A point of a strut on which something can hang, and how far from where it is used, mm."""

    strut: str
    at: Point
    away_mm: float


def fouled(piano: Piano, at: Point, clear_mm: float = CLEAR_MM) -> str | None:
    """What something laid here would foul: keys, a damper, strings or a spot; None when it lies free."""
    if on_keys(piano, at):
        return "the keys"
    for course in piano.courses:
        along_mm, away_mm = beside(course, at)
        if away_mm < clear_mm + half_breadth_mm(course):
            damped = course.damper is not None and course.damper.holds(along_mm)
            return f"the damper of key {course.key}" if damped else f"the strings of key {course.key}"
    return next((f"the spot {spot.name}" for spot in piano.spots if spot.at.distance_mm(at) < clear_mm), None)


def on_keys(piano: Piano, at: Point) -> bool:
    """Whether something laid here would lie on the keys or on the blocks beside them."""
    keys = piano.keyboard
    if keys is None or at.y_mm >= PIN_BLOCK_FROM_Y_MM:
        return False
    return keys.from_mm - BESIDE_KEYS_MM <= at.x_mm <= keys.to_mm + BESIDE_KEYS_MM


def beside(course: Course, at: Point) -> tuple[float, float]:
    """How far along a course a point lies (from its near end, within it), and how far from it, mm."""
    run_x, run_y = course.far.x_mm - course.near.x_mm, course.far.y_mm - course.near.y_mm
    share = ((at.x_mm - course.near.x_mm) * run_x + (at.y_mm - course.near.y_mm) * run_y) / (run_x**2 + run_y**2)
    along_mm = min(1.0, max(0.0, share)) * course.length_mm
    return along_mm, course.at(along_mm).distance_mm(at)


def half_breadth_mm(course: Course) -> float:
    """Half of what the strings of a course take up, mm."""
    return (course.strings - 1) * course.spacing_mm / 2.0 + (course.wrap_mm or course.wire_mm) / 2.0


def nearest_hang(piano: Piano, course: Course, from_near_end_mm: float) -> Hang | None:
    """The nearest point of a strut on which the handles of a line under this course can hang, None when none is near.

    What hangs on a strut lies upon it, so it fouls only strings that pass over that strut.
    """
    used = course.at(from_near_end_mm)
    hangs = [
        Hang(strut=strut.name, at=at, away_mm=at.distance_mm(used))
        for strut in piano.struts
        for at in _along(strut)
        if at.distance_mm(used) <= HANG_MM and not _under_strings(piano, strut, at)
    ]
    return min(hangs, key=lambda hang: (hang.away_mm, hang.strut), default=None)


def _along(strut: Strut) -> Iterator[Point]:
    """Points of a strut's middle line, one every 20 mm, both ends among them."""
    steps = max(1, math.ceil(strut.start.distance_mm(strut.end) / _STEP_MM))
    for step in range(steps + 1):
        share = step / steps
        yield Point(
            x_mm=strut.start.x_mm + share * (strut.end.x_mm - strut.start.x_mm),
            y_mm=strut.start.y_mm + share * (strut.end.y_mm - strut.start.y_mm),
        )


def _under_strings(piano: Piano, strut: Strut, at: Point) -> bool:
    """Whether strings pass over this point of a strut; a strut that itself lies over the strings has none above it."""
    if strut.over_strings:
        return False
    level_mm = min(course.height_mm for course in piano.courses) + OVER_HEIGHT_MM
    above = (course for course in piano.courses if course.height_mm >= level_mm)
    return any(beside(course, at)[1] < CLEAR_MM + half_breadth_mm(course) for course in above)
