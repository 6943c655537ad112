"""Numbers and texts out of MusicXML elements, with an error that names file, part, bar and element."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from rimside.errors import BadInput

if TYPE_CHECKING:
    from lxml.etree import _Element

LONGEST_QUARTERS = 10_000
"""A single length above this is damage. Our assumption."""


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a file, for messages."""

    filename: str
    part: str
    bar: str

    def __str__(self) -> str:
        return f"{self.filename}, part {self.part}, bar {self.bar}"


def text_of(element: _Element, path: str = ".") -> str:
    """The stripped text of the first element on a path; empty when there is none."""
    found = element if path == "." else element.find(path)
    return " ".join("".join(map(str, found.itertext())).split()) if found is not None else ""


def number(text: str, name: str, where: Where, allowed: str = "a number") -> Fraction:
    """A decimal number, exactly. Raises BadInput when it is none."""
    try:
        if len(text) > 30:
            raise ValueError(text)
        return Fraction(text.strip())
    except (ValueError, ZeroDivisionError):
        raise BadInput(f"{name} is not a number", where=str(where), value=text, allowed=allowed) from None


def optional_number(text: str | None) -> Fraction | None:
    """A decimal number, or None when there is none to be read."""
    try:
        return Fraction(text.strip()) if text and len(text) <= 30 else None
    except (ValueError, ZeroDivisionError):
        return None


def quarters(element: _Element, divisions: Fraction, where: Where) -> Fraction:
    """The `<duration>` of an element in quarters.

    Raises
    ------
    BadInput : missing, negative or beyond reason.
    """
    text = text_of(element, "duration")
    if not text:
        raise BadInput(
            f"<{element.tag}> has no <duration>",
            where=str(where),
            value="nothing",
            allowed="a number of divisions, 0 or more",
        )
    value = number(text, f"<duration> of <{element.tag}>", where, "a number of divisions, 0 or more")
    if not 0 <= value / divisions <= LONGEST_QUARTERS:
        raise BadInput(
            f"<duration> of <{element.tag}> is out of range",
            where=str(where),
            value=text,
            allowed=f"0 to {LONGEST_QUARTERS} quarters",
        )
    return value / divisions


BEAT_UNITS = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
    "256th": Fraction(1, 64),
    "512th": Fraction(1, 128),
    "1024th": Fraction(1, 256),
}
"""Quarters in each note type. Source: MusicXML 4.0, data type note-type-value."""


def dotted(quarter_count: Fraction, dots: int) -> Fraction:
    """A length with its dots."""
    return quarter_count * (2 - Fraction(1, 2**dots))
