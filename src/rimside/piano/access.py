"""Where along a course a hand or a tool may touch it: what struts, dampers and ends leave open."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rimside.piano.geometry import crossing_shares, under_strut_shares
from rimside.piano.model import Course, Interval, Piano
from rimside.pitch import Key

OVER_HEIGHT_MM = 10.0
"""A course this much higher than another passes over it where the two cross in plan (overstrung bass over tenor)."""
OVERHEAD_CLEARANCE_MM = 25.0
"""Kept free on either side of strings that pass over, besides half of the tool: a hand must come up between.
Our assumption, no published source; replace it when an ensemble has measured it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A stretch of a course that something covers: a "strut" or the strings of a "section", by name, or a "damper"."""

    kind: str
    name: str
    stretch: Interval

    @property
    def words(self) -> str:
        """What it is, in words."""
        return {"strut": self.name, "section": f"{self.name} strings above", "damper": "damper"}[self.kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Where along the speaking length a technique works.

    Shares count from the near end (0) to the far end (1). `clear_of_near_mm` and `clear_of_far_mm` keep away from the
    two ends, `clear_of_damper` from the felt, `half_width_mm` is half of what the tool and hand cover along the course.
    """

    from_share: float = 0.0
    to_share: float = 1.0
    clear_of_near_mm: float = 0.0
    clear_of_far_mm: float = 0.0
    clear_of_damper: bool = True
    half_width_mm: float = 15.0


def open_windows(piano: Piano, key: Key, window: Window) -> tuple[Interval, ...]:
    """The stretches of a course where a technique's contact may lie, ascending, mm from the near end.

    Cut away, each widened by `half_width_mm`: what lies under a strut; the damper felt when the technique keeps clear
    of it; and what lies under the strings of a higher, overstrung section, from the first such crossing to the last and
    `OVERHEAD_CLEARANCE_MM` further, because no hand gets through between them to a string below.
    """
    course = piano.course(key)
    start_mm = max(window.from_share * course.length_mm, window.clear_of_near_mm)
    end_mm = min(window.to_share * course.length_mm, course.length_mm - window.clear_of_far_mm)
    if start_mm > end_mm:
        return ()
    blocked = [
        Interval(from_mm=cut.from_mm - window.half_width_mm, to_mm=cut.to_mm + window.half_width_mm)
        for cut in obstacles(piano, course, with_damper=window.clear_of_damper)
    ]
    return _without(Interval(from_mm=start_mm, to_mm=end_mm), blocked)


def obstacles(piano: Piano, course: Course, *, with_damper: bool) -> tuple[Interval, ...]:
    """What is in the way along a course, mm from its near end: struts, strings that pass over, and its damper felt."""
    return tuple(cut.stretch for cut in cuts(piano, course) if with_damper or cut.kind != "damper")


def cuts(piano: Piano, course: Course) -> tuple[Cut, ...]:
    """The same, each by its name: struts, then strings that pass over, then the damper felt."""
    found = [*_under_struts(piano, course), *_under_strings(piano, course)]
    if course.damper is not None:
        found.append(Cut(kind="damper", name="damper", stretch=course.damper))
    return tuple(found)


def contact_lanes(
    piano: Piano, key: Key, window: Window, *, spacing_mm: float = 110.0, most: int = 4
) -> tuple[float, ...]:
    """Up to `most` contact positions spread over the open windows, ascending, mm from the near end.

    Inside one window positions are at least `spacing_mm` apart and fill it from end to end; a window shorter than that
    gives its middle. Of more than `most` the outermost and evenly chosen ones between are kept.
    """
    lanes = [at for open_window in open_windows(piano, key, window) for at in _fill(open_window, spacing_mm)]
    if len(lanes) <= most:
        return tuple(lanes)
    if most == 1:
        return (lanes[len(lanes) // 2],)
    return tuple(lanes[round(i * (len(lanes) - 1) / (most - 1))] for i in range(most))


def _fill(window: Interval, spacing_mm: float) -> list[float]:
    length_mm = window.to_mm - window.from_mm
    gaps = int(length_mm // spacing_mm)
    if gaps == 0:
        return [(window.from_mm + window.to_mm) / 2.0]
    return [window.from_mm + i * length_mm / gaps for i in range(gaps + 1)]


def _under_struts(piano: Piano, course: Course) -> Iterator[Cut]:
    for strut in piano.struts:
        if shares := under_strut_shares(course.near, course.far, strut):
            stretch = Interval(from_mm=shares[0] * course.length_mm, to_mm=shares[1] * course.length_mm)
            yield Cut(kind="strut", name=strut.name, stretch=stretch)


def _under_strings(piano: Piano, course: Course) -> Iterator[Cut]:
    """One stretch for each section whose strings pass over the course."""
    over: dict[str, list[float]] = {}
    for other in piano.courses:
        if other.section == course.section or other.height_mm < course.height_mm + OVER_HEIGHT_MM:
            continue
        if shares := crossing_shares(course.near, course.far, other.near, other.far):
            half_mm = _half_breadth_mm(other) / max(_sine(course, other), 0.05)
            at_mm = shares[0] * course.length_mm
            over.setdefault(other.section, []).extend((at_mm - half_mm, at_mm + half_mm))
    for section, edges in over.items():
        kept_free = Interval(from_mm=min(edges) - OVERHEAD_CLEARANCE_MM, to_mm=max(edges) + OVERHEAD_CLEARANCE_MM)
        yield Cut(kind="section", name=section, stretch=kept_free)


def _half_breadth_mm(course: Course) -> float:
    return (course.strings - 1) * course.spacing_mm / 2.0 + (course.wrap_mm or course.wire_mm) / 2.0


def _sine(a: Course, b: Course) -> float:
    """Of the angle between two courses in plan."""
    (ax, ay), (bx, by) = _direction(a), _direction(b)
    return abs(ax * by - ay * bx)


def _direction(course: Course) -> tuple[float, float]:
    dx, dy = course.far.x_mm - course.near.x_mm, course.far.y_mm - course.near.y_mm
    length_mm = math.hypot(dx, dy)
    return dx / length_mm, dy / length_mm


def _without(whole: Interval, blocked: list[Interval]) -> tuple[Interval, ...]:
    left, start_mm = [], whole.from_mm
    for cut in sorted(blocked, key=lambda interval: interval.from_mm):
        if cut.from_mm >= start_mm and start_mm < whole.to_mm:
            left.append(Interval(from_mm=start_mm, to_mm=min(cut.from_mm, whole.to_mm)))
        start_mm = max(start_mm, cut.to_mm)
    if start_mm <= whole.to_mm:
        left.append(Interval(from_mm=start_mm, to_mm=whole.to_mm))
    return tuple(interval for interval in left if interval.to_mm > interval.from_mm)
