"""Maps of a piano: what of each course is open to a kind of hand, what closes the rest, who reaches what."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rimside.piano.access import Window, cuts, open_windows
from rimside.piano.model import Course, Interval, Piano, Place, Point
from rimside.pitch import Key

NEAR_RULE, FAR_RULE = "kept off the near end", "kept off the far end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A kind of hand or tool on the strings: its name, where it works, and which courses it suits.

    `fits` is "plain", "wound" or "any".
    """

    name: str
    window: Window
    fits: str = "any"

    def suits(self, course: Course) -> bool:
        """Whether the course is of the kind that it works on."""
        return self.fits == "any" or (self.fits == "wound") == course.wound


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """A stretch of a course that is not open, and what closes it, in words."""

    by: str
    stretch: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """One course for one kind of hand: open stretches, and everything that closes a part of it; these may overlap.

    All count in mm from the near end. `suits` False: the course is not of the kind that the hand works on, whatever is
    open.
    """

    key: Key
    hand: str
    suits: bool
    open: tuple[Interval, ...]
    closed: tuple[Closed, ...]

    @property
    def open_mm(self) -> float:
        """How much is open in all."""
        return sum(stretch.to_mm - stretch.from_mm for stretch in self.open)


def access(piano: Piano, key: Key, hand: Hand) -> Access:
    """What is open to a hand on a course, and what is not and why."""
    course = piano.course(key)
    return Access(
        key=key,
        hand=hand.name,
        suits=hand.suits(course),
        open=open_windows(piano, key, hand.window),
        closed=tuple(_closed(piano, course, hand.window)),
    )


def access_map(piano: Piano, keys: Iterable[Key], hands: Iterable[Hand]) -> tuple[Access, ...]:
    """Every course for every kind of hand, course by course."""
    kinds = tuple(hands)
    return tuple(access(piano, key, hand) for key in keys for hand in kinds)


def _closed(piano: Piano, course: Course, window: Window) -> Iterator[Closed]:
    """The rule at the near end, what lies over the strings in order, the rule at the far end."""
    length_mm, half_mm = course.length_mm, window.half_width_mm
    from_mm = max(window.from_share * length_mm, window.clear_of_near_mm)
    to_mm = min(window.to_share * length_mm, length_mm - window.clear_of_far_mm)
    if from_mm > 0.0:
        yield _within(course, NEAR_RULE, 0.0, from_mm)
    for cut in sorted(cuts(piano, course), key=lambda cut: cut.stretch.from_mm):
        if cut.kind != "damper" or window.clear_of_damper:
            yield _within(course, cut.words, cut.stretch.from_mm - half_mm, cut.stretch.to_mm + half_mm)
    if to_mm < length_mm:
        yield _within(course, FAR_RULE, to_mm, length_mm)


def _within(course: Course, by: str, from_mm: float, to_mm: float) -> Closed:
    stretch = Interval(from_mm=min(max(0.0, from_mm), course.length_mm), to_mm=max(0.0, min(to_mm, course.length_mm)))
    return Closed(by=by, stretch=stretch)


def within_reach(piano: Piano, place: Place, reach_mm: float, hand: Hand) -> tuple[Key, ...]:
    """The courses of which a hand at a place reaches some open point."""
    return tuple(
        course.key
        for course in piano.courses
        if any(
            _distance_mm(place.at, course.at(stretch.from_mm), course.at(stretch.to_mm)) <= reach_mm
            for stretch in open_windows(piano, course.key, hand.window)
        )
    )


def _distance_mm(point: Point, a: Point, b: Point) -> float:
    """From a point to the nearest of a straight line between two points."""
    dx, dy = b.x_mm - a.x_mm, b.y_mm - a.y_mm
    along = ((point.x_mm - a.x_mm) * dx + (point.y_mm - a.y_mm) * dy) / (dx * dx + dy * dy)
    share = min(1.0, max(0.0, along))
    return point.distance_mm(Point(x_mm=a.x_mm + share * dx, y_mm=a.y_mm + share * dy))
