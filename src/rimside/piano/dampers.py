"""Pedals as the state of dampers: when a course is free to ring."""

from __future__ import annotations

import math
from collections.abc import Iterable

from rimside.piano.model import Course, Piano
from rimside.score.model import Pedal, PedalSpan

Span = tuple[float, float]
ALWAYS: Span = (-math.inf, math.inf)


def usable_pedals(piano: Piano, pedals: Iterable[PedalSpan]) -> tuple[PedalSpan, ...]:
    """The spans of pedals that this piano has; a sostenuto that is not there holds nothing."""
    return tuple(span for span in pedals if span.pedal in piano.pedals)


def free_spans(course: Course, pedals: tuple[PedalSpan, ...]) -> tuple[Span, ...]:
    """When no damper lies on a course, as ascending half-open spans in s.

    An undamped course is always free. Else it is free while the damper pedal is down, and while the sostenuto pedal
    holds it: the sostenuto catches only dampers that are already raised when it goes down. Two pedals at the very same
    moment catch nothing for certain (regulation decides), so that counts as not caught. Spans that only touch stay
    apart: between them the damper falls. Give `usable_pedals` where the piano may lack a pedal.
    """
    if course.damper is None:
        return (ALWAYS,)
    raised = [(span.down_s, span.up_s) for span in pedals if span.pedal is Pedal.DAMPER]
    held = [(span.down_s, span.up_s) for span in pedals if span.pedal is Pedal.SOSTENUTO]
    caught = [span for span in held if any(down < span[0] < up for down, up in raised)]
    return _joined(raised + caught)


def course_is_free(course: Course, pedals: tuple[PedalSpan, ...], start_s: float, end_s: float) -> bool:
    """Whether no damper lies on a course at any time of [start_s, end_s)."""
    return any(start <= start_s and end_s <= end for start, end in free_spans(course, pedals))


def _joined(spans: list[Span]) -> tuple[Span, ...]:
    joined: list[Span] = []
    for start, end in sorted(span for span in spans if span[1] > span[0]):
        if joined and start < joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return tuple(joined)
