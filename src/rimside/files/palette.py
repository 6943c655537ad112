"""Colours that tell players apart for every eye, each with its name; a letter always stands beside them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from rimside.errors import BadInput


@dataclass(frozen=True, slots=True, kw_only=True)
class Hue:
    """One colour of the palette: its plain name, its value (#RRGGBB, sRGB) and where it comes from."""

    name: str
    value: str
    source: str


_OKABE_ITO = "Okabe & Ito, Color Universal Design, 2002, revised 2008"
_KELLY = "Kelly, Color Engineering 3(6) 1965, pp. 26-27"

PALETTE: tuple[Hue, ...] = (
    Hue(name="orange", value="#E69F00", source=_OKABE_ITO),
    Hue(name="sky blue", value="#56B4E9", source=_OKABE_ITO),
    Hue(name="green", value="#009E73", source=_OKABE_ITO),
    Hue(name="yellow", value="#F0E442", source=_OKABE_ITO),
    Hue(name="blue", value="#0072B2", source=_OKABE_ITO),
    Hue(name="vermilion", value="#D55E00", source=_OKABE_ITO),
    Hue(name="pink", value="#CC79A7", source=_OKABE_ITO),
    Hue(name="black", value="#000000", source=_OKABE_ITO),
    Hue(name="white", value="#FFFFFF", source="the paper itself, inside an outline"),
    Hue(name="brown", value="#654522", source=_KELLY),
)
"""Handed out in this order. The first eight are the colour-blind-safe set of Okabe & Ito; white and brown are the two
that we added because they leave the smallest difference between any two colours as it was (tests/files)."""

_HEX = re.compile(r"#[0-9A-Fa-f]{6}")


def hue(text: str, where: str, name: str | None = None) -> Hue:
    """The colour that a person wrote: a name of the palette, or #RRGGBB with a name of its own.

    Raises
    ------
    BadInput : neither, or #RRGGBB without a name to call it by.
    """
    known = next((row for row in PALETTE if text.lower() in (row.name, row.value.lower())), None)
    if known is not None:
        return Hue(name=name or known.name, value=known.value, source=known.source)
    if not _HEX.fullmatch(text):
        names = ", ".join(row.name for row in PALETTE)
        raise BadInput("unknown colour", where=where, value=text, allowed=f"{names}, or #RRGGBB with a colour_name")
    if name is None:
        raise BadInput("a colour of your own needs a name", where=where, value=text, hint='add colour_name = "..."')
    return Hue(name=name, value=text.upper(), source="the ensemble's own")
