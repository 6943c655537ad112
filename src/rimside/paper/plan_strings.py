"""Every string at its true place and thickness, the dampers over them, and the courses that the casting plays."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from rimside.casting.result import Casting
from rimside.paper import plan_case, svg
from rimside.paper.ink import pitch_colour
from rimside.piano.geometry import crossing_shares
from rimside.piano.model import Course, Piano, Point, Strut
from rimside.pitch import Key

STEEL, COPPER, COPPER_LIGHT = "#5B5F60", "#8F4A22", "#B9713F"
FELT, FELT_EDGE = "#2F2A2E", "#5E565A"
LEAST_MM = 1.5
"""Plain wire thinner than this is drawn this thick, to survive printing at about 1 to 8."""
_LIT_MM = 9.0


def strings(piano: Piano, casting: Casting | None, pitch_colours: Mapping[Key, str], prefix: str) -> Iterator[str]:
    """Strings as they are strung, the struts between or over them; played courses lit in their pitch's colour.

    A strut that stands between strings hides none but is crossed by those of a higher, overstrung section.
    """
    lit = played_keys(casting) if casting is not None else frozenset()
    low_struts = [strut for strut in piano.struts if not strut.over_strings]
    ordered = sorted(piano.courses, key=lambda course: (course.height_mm, -course.key))
    upper = [course for course in ordered if any(_crosses(course, strut) for strut in low_struts)]
    for course in (course for course in ordered if course not in upper):
        yield from _course(course, course.key in lit, pitch_colours, prefix)
    yield from (part for strut in low_struts for part in plan_case.strut(strut))
    for course in upper:
        yield from _course(course, course.key in lit, pitch_colours, prefix)
    for course in piano.courses:
        yield from _damper(course)
    yield from (part for strut in piano.struts if strut.over_strings for part in plan_case.strut(strut))


def _crosses(course: Course, strut: Strut) -> bool:
    return crossing_shares(course.near, course.far, strut.start, strut.end) is not None


def _course(course: Course, lit: bool, pitch_colours: Mapping[Key, str], prefix: str) -> Iterator[str]:
    yield f'<g id="{prefix}-course-{int(course.key)}">'
    if lit:
        yield from _lit(course, pitch_colour(course.key, pitch_colours))
    yield from _strings(course)
    yield "</g>"


def played_keys(casting: Casting) -> frozenset[Key]:
    """The keys whose strings a hand or tool meets."""
    return frozenset(
        contact.key
        for cast in casting.cast
        for contact in cast.contacts
        if contact.key is not None and contact.from_near_end_mm is not None
    )


def across(course: Course, offset_mm: float) -> Point:
    """The step that leads `offset_mm` to the side of a course."""
    run_x, run_y = course.far.x_mm - course.near.x_mm, course.far.y_mm - course.near.y_mm
    length = math.hypot(run_x, run_y)
    return Point(x_mm=offset_mm * run_y / length, y_mm=-offset_mm * run_x / length)


def _shifted(point: Point, step: Point) -> Point:
    return Point(x_mm=point.x_mm + step.x_mm, y_mm=point.y_mm + step.y_mm)


def _strings(course: Course) -> Iterator[str]:
    for number in range(course.strings):
        step = across(course, (number - (course.strings - 1) / 2) * course.spacing_mm)
        near, far = _shifted(course.near, step), _shifted(course.far, step)
        if course.wrap_mm is None:
            yield svg.line(near, far, stroke=STEEL, stroke_width=max(LEAST_MM, course.wire_mm))
            continue
        yield svg.line(near, far, stroke=COPPER, stroke_width=max(LEAST_MM, course.wrap_mm))
        yield svg.line(near, far, stroke=COPPER_LIGHT, stroke_width=round(0.35 * course.wrap_mm, 2))


def _lit(course: Course, colour: str) -> Iterator[str]:
    breadth = (course.strings - 1) * course.spacing_mm + _LIT_MM + (course.wrap_mm or course.wire_mm)
    yield svg.line(course.near, course.far, stroke=colour, stroke_width=round(breadth, 1), stroke_linecap="round")


def _damper(course: Course) -> Iterator[str]:
    """The felt over a damped course."""
    if course.damper is None:
        return
    breadth = (course.strings - 1) * course.spacing_mm + (course.wrap_mm or course.wire_mm) + 3.0
    start, end = course.at(course.damper.from_mm), course.at(course.damper.to_mm)
    yield svg.line(start, end, stroke=FELT_EDGE, stroke_width=round(breadth + 1.0, 1))
    yield svg.line(start, end, stroke=FELT, stroke_width=round(breadth - 1.0, 1))
