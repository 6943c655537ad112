"""Harmonics: where a finger touches a course, what then sounds, and which node of a partial is best on this piano."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rimside.errors import BadInput
from rimside.piano.access import Window, cuts
from rimside.piano.model import Course, Piano
from rimside.piano.strings import flexible_hz, partial_hz
from rimside.pitch import Key
from rimside.score.model import Touch
from rimside.units import cents, nearest_key

FINGER = Window(clear_of_near_mm=10.0, clear_of_far_mm=10.0, half_width_mm=8.0)
"""Where a bare fingertip can touch a node. Our assumption."""
PARTIALS = tuple(range(2, 9))
"""The partials that a table of nodes shows."""
DRIVE_LEFT = 0.1
"""How much of a partial may be lost when the finger lies beside its node. Our choice."""
AMPLE_MM = 48.0
"""With this much room on both sides no more is needed: half of a hand's breadth, 95th percentile of men, ANSUR II."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One node of one course.

    `nearest_key` is the note of equal temperament nearest to what sounds, counted as keys are; it may lie above 88.
    `clearances_mm` holds how far away each thing is that could be in the way, by its name, negative when it covers the
    node; the two ends of the string are among them. `tolerance_mm` is how far from the node the finger may lie so that
    no other node is as near, `drive_mm` how far so that at most `DRIVE_LEFT` of the partial is lost. `reach_mm` is
    how far it is from the nearest place.
    """

    key: Key
    touch: Touch
    from_near_mm: float
    sounding_hz: float
    nearest_key: int
    cents_from_equal: float
    cents_from_just: float
    clearances_mm: tuple[tuple[str, float], ...]
    tolerance_mm: float
    drive_mm: float
    reach_mm: float
    usable: bool

    @property
    def tightest(self) -> tuple[str, float]:
        """What comes nearest, by name, and how near, mm; negative when it covers the node."""
        return min(self.clearances_mm, key=lambda row: row[1])

    @property
    def ease(self) -> tuple[bool, float, float]:
        """The greater the better: usable; room, as far as room is needed; short to reach."""
        return self.usable, min(self.tightest[1], AMPLE_MM), -self.reach_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """The partial of a course that is nearest to a pitch, and how far it is from there, cents (positive: higher)."""

    partial: int
    sounding_hz: float
    cents_off: float


def usable_nodes(n: int) -> tuple[Touch, ...]:
    """The touches k/n that isolate partial n: those with gcd(k, n) = 1, from the near end.

    A fraction that can be reduced gives the lower partial instead.
    """
    if n < 2:
        raise BadInput("a touched partial starts at 2", value=n, allowed="2 or more")
    return tuple(Touch(k=k, n=n) for k in range(1, n) if math.gcd(k, n) == 1)


def node_from_near_mm(course: Course, touch: Touch) -> float:
    """Where the finger lies, mm from the near end: k/n of the speaking length."""
    if not 0 < touch.k < touch.n or math.gcd(touch.k, touch.n) != 1:
        raise BadInput(
            "not a node of its partial",
            where=f"course {course.key}",
            value=f"{touch.k}/{touch.n}",
            allowed="k/n between 0 and 1 that cannot be reduced",
        )
    return course.length_mm * touch.k / touch.n


def touched_hz(course: Course, touch: Touch) -> float:
    """The pitch that sounds when a course is touched at k/n, Hz: partial n of a stiff string."""
    return course_partial_hz(course, touch.n)


def course_partial_hz(course: Course, partial: int) -> float:
    """The pitch of a partial of a course, Hz."""
    return partial_hz(flexible_hz(course.frequency_hz, course.inharmonicity), partial, course.inharmonicity)


def node_half_width_mm(course: Course, touch: Touch, partials: int = 8) -> float:
    """How far from k/n a finger may lie before another node among the first `partials` is as near, mm.

    A consequence of Farey's neighbours, L / (2 n N); no published tolerance for piano strings was found.
    """
    return course.length_mm / (2.0 * touch.n * partials)


def drive_lost(course: Course, touch: Touch, off_mm: float) -> float:
    """How much of partial n a finger takes that lies beside its node, |sin(n pi d / L)|, 0 to 1.

    Algebra on the shape of partial n of a uniform pinned string.
    """
    return abs(math.sin(touch.n * math.pi * off_mm / course.length_mm))


def drive_half_width_mm(course: Course, touch: Touch, lost: float = DRIVE_LEFT) -> float:
    """How far from k/n a finger may lie so that at most `lost` of the partial goes, mm; 0.032 L / n for a tenth."""
    return course.length_mm * math.asin(lost) / (touch.n * math.pi)


def node(piano: Piano, key: Key, touch: Touch) -> Node:
    """Everything that is known of one node of one course."""
    course = piano.course(key)
    at_mm = node_from_near_mm(course, touch)
    sounding_hz = touched_hz(course, touch)
    nearest, off = nearest_key(sounding_hz, piano.a4_hz)
    clearances = tuple(_clearances(piano, course, at_mm))
    ends_mm = (FINGER.clear_of_near_mm, FINGER.clear_of_far_mm)
    needs = (*ends_mm, *(FINGER.half_width_mm for _ in clearances[2:]))
    point = course.at(at_mm)
    return Node(
        key=key,
        touch=touch,
        from_near_mm=at_mm,
        sounding_hz=sounding_hz,
        nearest_key=nearest,
        cents_from_equal=off,
        cents_from_just=cents(sounding_hz / (touch.n * course.frequency_hz)),
        clearances_mm=clearances,
        tolerance_mm=node_half_width_mm(course, touch),
        drive_mm=drive_half_width_mm(course, touch),
        reach_mm=min((place.at.distance_mm(point) for place in piano.places), default=math.inf),
        usable=all(free_mm >= need_mm for (_, free_mm), need_mm in zip(clearances, needs, strict=True)),
    )


def _clearances(piano: Piano, course: Course, at_mm: float) -> Iterator[tuple[str, float]]:
    """How far each thing is from a point of a course: first the two ends, then what lies over the strings."""
    yield "near end", at_mm
    yield "far end", course.length_mm - at_mm
    for cut in cuts(piano, course):
        yield cut.words, max(cut.stretch.from_mm - at_mm, at_mm - cut.stretch.to_mm)


def nodes_table(piano: Piano, key: Key, partials: Iterable[int] = PARTIALS) -> tuple[Node, ...]:
    """Every node of these partials on one course, partial by partial from the near end."""
    return tuple(node(piano, key, touch) for partial in partials for touch in usable_nodes(partial))


def best_node(nodes: Iterable[Node], partial: int) -> Node | None:
    """The node of a partial with most room, or, where all have ample room, the one that is shortest to reach.

    None when none is usable.
    """
    found = [node for node in nodes if node.touch.n == partial and node.usable]
    return max(found, key=lambda node: node.ease, default=None)


def match_harmonic(course: Course, sounding_hz: float, most: int = 16) -> Match:
    """The partial of a course, from 2 to `most`, that sounds nearest to a pitch."""
    found = (
        Match(partial=n, sounding_hz=hz, cents_off=cents(hz / sounding_hz))
        for n, hz in ((n, course_partial_hz(course, n)) for n in range(2, most + 1))
    )
    return min(found, key=lambda match: abs(match.cents_off))
