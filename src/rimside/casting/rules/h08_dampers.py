"""H8 dampers: a course that must ring is free of its damper for the whole figure."""

from __future__ import annotations

from rimside.kit import TechniqueRow
from rimside.piano.dampers import HeldKey, course_is_free
from rimside.piano.model import Piano
from rimside.pitch import label
from rimside.score.model import Figure, PedalSpan

RULE, NAME = "H8", "dampers"


def damped(
    figure: Figure, row: TechniqueRow, piano: Piano, pedals: tuple[PedalSpan, ...], held: tuple[HeldKey, ...] = ()
) -> str | None:
    """Why a course of the figure cannot ring, or None; `held` are keys held silently."""
    if not row.damper_up:
        return None
    for key in figure.keys:
        if not course_is_free(piano.course(key), pedals, figure.start_s, figure.end_s, held):
            return f"the damper of {label(key)} lies on the string during the figure, as the pedals are written"
    return None
