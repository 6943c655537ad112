"""Where this work can hurt someone or something; one table for what people acknowledge and what is printed.

What they say of hazards is common practice, no published source. Who decides stands under them wherever they are shown:
the venue's rules, local codes and licensed people come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What it is about, for a heading, and what to do."""

    about: str
    words: str


def _caution(about: str, words: str) -> Caution:
    return Caution(about=about, words=words)


CAUTIONS: Mapping[str, Caution] = {
    "tension": _caution(
        "Strings",
        "Each string pulls with several hundred newtons. Only a piano technician loosens, moves or changes one.",
    ),
    "lid": _caution(
        "Lid",
        "Two people and the technician's word take the lid off: hinge pins out first, and a place to lay it.",
    ),
    "lines": _caution(
        "Lines", "A line under tension cuts. Look at every line and knot before each use; pull gently, upwards."
    ),
    "rosin": _caution(
        "Rosin and skin",
        "Rosin stays on line and hair. Rosin and skin oil on strings are for the technician to clean.",
    ),
    "solvents": _caution("Solvents", "No solvents near strings, dampers, felt or lacquer."),
    "putty": _caution(
        "Putty", "Two-part moulding putty: follow its sheet, wear gloves until it has set, and stop if skin reacts."
    ),
    "coils": _caution(
        "Coils and mains", "Magnet coils get hot. A licensed electrician checks coils, mains and cables."
    ),
    "dark": _caution(
        "Dark",
        "Exit signs and required emergency light stay on in a blackout. Agree on a word that stops everything.",
    ),
    "floor": _caution("Floor", "Tape cables and edges where people walk; keep the walking line round the piano clear."),
    "hearing": _caution(
        "Hearing",
        "Heads inside the case are close to the sound: measure the level and wear protection where it asks for it.",
    ),
    "owner": _caution("Owner", "Nothing is fixed to, laid on or struck on a piano without its owner's leave."),
}
"""By the short name under which production.toml acknowledges it, in the order in which they are printed."""
