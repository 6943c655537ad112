"""Pedals and silent keys as the state of dampers: when a course is free to ring."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from rimside.piano.model import Course, Piano
from rimside.pitch import Key
from rimside.score.model import Pedal, PedalSpan

Span = tuple[float, float]
ALWAYS: Span = (-math.inf, math.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldKey:
    """A key pressed silently and held, so that its damper stays up, from `down_s` to `up_s`."""

    key: Key
    down_s: float
    up_s: float


def usable_pedals(piano: Piano, pedals: Iterable[PedalSpan]) -> tuple[PedalSpan, ...]:
    """The spans of pedals that this piano has; a sostenuto that is not there holds nothing."""
    return tuple(span for span in pedals if span.pedal in piano.pedals)


def free_spans(course: Course, pedals: tuple[PedalSpan, ...], held: tuple[HeldKey, ...] = ()) -> tuple[Span, ...]:
    """When no damper lies on a course, as ascending half-open spans in s.

    An undamped course is always free. Else it is free while the damper pedal is down, while its key is held, and while
    the sostenuto pedal holds it: the sostenuto catches only dampers that are already raised when it goes down. Two
    actions at the very same moment catch nothing for certain (regulation decides), so that counts as not caught. Spans
    that only touch stay apart: between them the damper falls. Una corda moves hammers and leaves dampers alone. Give
    `usable_pedals` where the piano may lack a pedal.
    """
    if course.damper is None:
        return (ALWAYS,)
    raised = raised_spans(course, pedals, held)
    caught = [(span.down_s, span.up_s) for span in pedals if span.pedal is Pedal.SOSTENUTO and catches(span, raised)]
    return _joined([*raised, *caught])


def raised_spans(course: Course, pedals: Iterable[PedalSpan], held: Iterable[HeldKey]) -> list[Span]:
    """When the damper pedal or its own key lifts the damper of a course, each lift by itself."""
    by_pedal = [(span.down_s, span.up_s) for span in pedals if span.pedal is Pedal.DAMPER]
    return by_pedal + [(one.down_s, one.up_s) for one in held if one.key == course.key]


def catches(sostenuto: PedalSpan, raised: Iterable[Span]) -> bool:
    """Whether the sostenuto finds a damper raised when it goes down."""
    return any(down < sostenuto.down_s < up for down, up in raised)


def course_is_free(
    course: Course, pedals: tuple[PedalSpan, ...], start_s: float, end_s: float, held: tuple[HeldKey, ...] = ()
) -> bool:
    """Whether no damper lies on a course at any time of [start_s, end_s)."""
    return any(start <= start_s and end_s <= end for start, end in free_spans(course, pedals, held))


def course_is_damped(
    course: Course, pedals: tuple[PedalSpan, ...], start_s: float, end_s: float, held: tuple[HeldKey, ...] = ()
) -> bool:
    """Whether the damper lies on a course all through [start_s, end_s)."""
    return all(end <= start_s or end_s <= start for start, end in free_spans(course, pedals, held))


def _joined(spans: list[Span]) -> tuple[Span, ...]:
    joined: list[Span] = []
    for start, end in sorted(span for span in spans if span[1] > span[0]):
        if joined and start < joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return tuple(joined)
