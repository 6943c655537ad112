"""Harmonics: where a finger touches a course, and what then sounds."""

from __future__ import annotations

import math

from rimside.errors import BadInput
from rimside.piano.model import Course
from rimside.piano.strings import flexible_hz, partial_hz
from rimside.score.model import Touch


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
    return partial_hz(flexible_hz(course.frequency_hz, course.inharmonicity), touch.n, course.inharmonicity)


def node_half_width_mm(course: Course, touch: Touch, partials: int = 8) -> float:
    """How far from k/n a finger may lie before another node among the first `partials` is as near, mm.

    A consequence of Farey's neighbours, L / (2 n N); no published tolerance for piano strings was found.
    """
    return course.length_mm / (2.0 * touch.n * partials)
