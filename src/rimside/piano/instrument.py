"""What sets one kind of instrument apart from another in a survey: one row a kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rimside.pitch import MOST_CHOIRS


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One kind. Lengths and tensions (of one string) outside the ranges are slips of a survey, not strings.

    `every_key` tells whether all 88 keys must have a course; `choirs` is how many courses a key may have.
    `silent_keys` tells whether a key can be pressed without a sound to lift its damper. `published` tells whether
    `strings.published_range` speaks of this kind.
    """

    name: str
    length_range_mm: tuple[float, float]
    tension_range_n: tuple[float, float]
    every_key: bool = False
    choirs: int = 1
    silent_keys: bool = False
    published: bool = False
    source: str


INSTRUMENTS: Mapping[str, Instrument] = {
    row.name: row
    for row in (
        Instrument(
            name="piano",
            length_range_mm=(30.0, 2500.0),
            tension_range_n=(350.0, 2000.0),
            every_key=True,
            silent_keys=True,
            published=True,
            source="single strings 600 to 1800 N: Chabassier, Chaigne & Joly, JASA 134 (2013) 648; margins ours",
        ),
        Instrument(
            name="harpsichord",
            length_range_mm=(60.0, 2200.0),
            tension_range_n=(15.0, 250.0),
            choirs=MOST_CHOIRS,
            source="thin brass to stout iron, 30 to 150 N a string; from memory, margins ours. A pressed key plucks.",
        ),
        Instrument(
            name="guitar",
            length_range_mm=(400.0, 800.0),
            tension_range_n=(35.0, 140.0),
            source="nylon and steel sets as sold, 50 to 120 N a string; from memory, margins ours",
        ),
    )
}
"""Rows by name."""
