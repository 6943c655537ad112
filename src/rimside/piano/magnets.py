"""Driving strings by magnets: which currents, where a head pulls and where not, and how many fit over an octave."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from rimside.piano.material import MATERIALS
from rimside.piano.model import Course, Interval, Piano
from rimside.piano.nodes import course_partial_hz
from rimside.pitch import Key

HEAD_MM = 25.0
"""Breadth of a magnet head with its holder. Our assumption; measure the heads that are there."""
BIAS_RATIO = 0.25
"""The alternating field over the steady one, for a clean tone. Our assumption."""
DEAD_SHARE = 0.5
"""Where less than this of a partial's full drive is left a head is called dead. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What a head needs to drive one partial of a course.

    A coil without a steady field pulls twice in each turn of its current, so its current has half the frequency; with
    one the same frequency. `dead` are the stretches, mm from the near end, where a head drives the partial poorly: the
    two ends and round each of its nodes. `extra_gap_mm` is what a copper wrap adds between head and core.
    """

    key: Key
    partial: int
    sounding_hz: float
    without_bias_hz: float
    with_bias_hz: float
    dead: tuple[Interval, ...]
    extra_gap_mm: float


def drivable(course: Course) -> bool:
    """Whether a magnet pulls the string: steel and iron, wound with copper or not; brass and nylon are left alone."""
    return MATERIALS[course.material].magnetic


def drive(course: Course, partial: int = 1) -> Drive:
    """What a head needs to drive a partial, 1 for the course's own pitch."""
    hz = course_partial_hz(course, partial)
    wrap_mm = 0.0 if course.wrap_mm is None else (course.wrap_mm - course.wire_mm) / 2.0
    return Drive(
        key=course.key,
        partial=partial,
        sounding_hz=hz,
        without_bias_hz=hz / 2.0,
        with_bias_hz=hz,
        dead=dead_stretches(course, partial),
        extra_gap_mm=wrap_mm,
    )


def coupling(course: Course, partial: int, from_near_mm: float) -> float:
    """How much of its full drive a head at a point gives a partial: |sin(n pi x / L)|, 0 at a node.

    Source: the shape of partial n of a uniform pinned string; a builders' list, 2022-September/130217.
    """
    return abs(math.sin(partial * math.pi * from_near_mm / course.length_mm))


def dead_stretches(course: Course, partial: int, least: float = DEAD_SHARE) -> tuple[Interval, ...]:
    """Where the coupling is below `least`, mm from the near end: round k/n for k from 0 to n."""
    half_mm = course.length_mm * math.asin(least) / (partial * math.pi)
    middles = (course.length_mm * k / partial for k in range(partial + 1))
    return tuple(Interval(from_mm=max(0.0, at - half_mm), to_mm=min(course.length_mm, at + half_mm)) for at in middles)


def other_partials_share(bias_ratio: float = BIAS_RATIO) -> float:
    """The pull at twice the wanted frequency over the pull at it, b / (4 B), for a steady field B with b cos on it.

    Algebra on (B + b cos)^2; the pull goes with the square of the field.
    """
    return bias_ratio / 4.0


def side_by_side(piano: Piano, keys: Iterable[Key], share: float, head_mm: float = HEAD_MM) -> tuple[Key, ...]:
    """The drivable courses, from the first on, over which heads fit in one row without touching.

    Parameters
    ----------
    share : where along the speaking length the row lies, 0 to 1.
    """
    chosen: list[Course] = []
    for key in keys:
        course = piano.course(key)
        if drivable(course) and (not chosen or _apart_mm(chosen[-1], course, share) >= head_mm):
            chosen.append(course)
    return tuple(course.key for course in chosen)


def rows_for_all(piano: Piano, keys: Iterable[Key], share: float, head_mm: float = HEAD_MM) -> int:
    """How many rows, one behind the other along the strings, it takes to drive all of these courses at once."""
    left, rows = [key for key in keys if drivable(piano.course(key))], 0
    while left:
        row = side_by_side(piano, left, share, head_mm)
        left = [key for key in left if key not in row]
        rows += 1
    return rows


def _apart_mm(one: Course, other: Course, share: float) -> float:
    """The gap between the middles of two courses at a share of their lengths, square to the first, mm."""
    a, b = one.at(share * one.length_mm), other.at(share * other.length_mm)
    along, across = one.far.x_mm - one.near.x_mm, one.far.y_mm - one.near.y_mm
    return abs((b.x_mm - a.x_mm) * across - (b.y_mm - a.y_mm) * along) / math.hypot(along, across)
