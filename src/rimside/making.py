"""What implements are made of and how large: the measures of the workshop, each replaceable in kit.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

from rimside.score.model import Technique

ASSUMED = "our assumption; measure yours"


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """Sizes that no published source gives. `given` names those that the ensemble measured.

    A line bow runs from one hand down, under its course, and up to the other hand: `hands_apart_mm` between the hands,
    `working_height_mm` from the strings to them, `stroke_mm` of line that is drawn through, and at both ends
    `handle_mm` for loop and knot. `strands` are nylon threads side by side. A moulded mute covers its strings and
    `mute_over_mm` on both sides, `mute_along_mm` along them, `mute_thick_mm` high. `putty_waste` is what stays on
    gloves and board. `spare_risk` is the chance of running short over all shows that spares are counted for.
    """

    hands_apart_mm: float = 220.0
    working_height_mm: float = 160.0
    stroke_mm: float = 250.0
    handle_mm: float = 90.0
    strands: int = 6
    cut_mm: float = 50.0
    stick_mm: float = 180.0
    hair_mm: float = 9.0
    strip_width_mm: float = 12.0
    strip_mm: float = 450.0
    hammer_mm: float = 230.0
    clear_of_rim_mm: float = 80.0
    mute_over_mm: float = 4.0
    mute_along_mm: float = 20.0
    mute_thick_mm: float = 14.0
    putty_g_per_cm3: float = 1.6
    putty_waste: float = 0.15
    spare_risk: float = 0.01
    given: frozenset[str] = frozenset()

    def source(self, *names: str) -> str:
        """Where these measures come from, for the row that shows what follows from them."""
        own = [name for name in names if name in self.given]
        if len(own) == len(names):
            return "measured by this ensemble"
        return f"{ASSUMED}: {', '.join(name for name in names if name not in self.given)}"


MEASURES: tuple[str, ...] = tuple(field.name for field in fields(Making) if field.name != "given")
"""The names of all measures, as kit.toml calls them."""

FAILS_PER_SHOW: Mapping[Technique, float] = {
    Technique.LINE_BOW: 0.05,
    Technique.STICK_BOW: 0.02,
    Technique.FRICTION_STRIP: 0.05,
    Technique.FELT_HAMMER: 0.01,
    Technique.WOOD_HAMMER: 0.01,
    Technique.BEATER: 0.01,
    Technique.PLECTRUM: 0.10,
    Technique.HANDLED_PLECTRUM: 0.05,
    Technique.MAGNET_DRIVE: 0.02,
}
"""How many of one implement break or are lost at a show, on average. Our assumption: count yours, and write it down."""
MUTE_FAILS_PER_SHOW = 0.02
WEDGE_FAILS_PER_SHOW = 0.01
MUTE, WEDGE = "moulded mute", "wedge"
"""Kinds that the kit file may list, and that are built whether it does or not."""
