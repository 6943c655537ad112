"""Where the sections of a piece begin as it is played: a section that is repeated begins again."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rimside.casting.result import Casting
from rimside.paper.material import BookInput
from rimside.paper.wording import bar_at, pass_at
from rimside.score.model import Score


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A rehearsal mark as it is reached: its name, the printed bar, which time round (empty for once), the moment."""

    name: str
    bar: str
    nth: str
    start_s: float


BEFORE, AFTER = "before the piece", "after the piece"


def around(casting: Casting, seconds: float) -> Section | None:
    """The load-in or the load-out, when a moment lies in one of them."""
    end_s = max((figure.end_s for figure in casting.figures), default=0.0)
    if seconds < -1e-6:
        return Section(name=BEFORE, bar="", nth="", start_s=-math.inf)
    return Section(name=AFTER, bar="", nth="", start_s=end_s) if seconds > end_s + 1e-6 else None


def bar_of(book: BookInput, seconds: float) -> str:
    """The bar at a moment; none in the load-in and the load-out."""
    return "" if around(book.casting, seconds) else bar_at(book.score, seconds)


def section_at(book: BookInput, seconds: float) -> Section | None:
    """The section in force at a moment, or load-in or load-out; without any bars the one that the next figure names."""
    if (outside := around(book.casting, seconds)) is not None:
        return outside
    reached = [section for section in sections(book.score) if section.start_s <= seconds + 1e-6]
    if reached:
        return reached[-1]
    following = next((figure for figure in book.casting.figures if figure.start_s >= seconds - 1e-6), None)
    if book.score.bars or following is None or not following.section:
        return None
    return Section(name=following.section, bar="", nth="", start_s=0.0)


def sections(score: Score) -> Iterator[Section]:
    """Every section in the order of playing: where the mark changes, and where its first bar comes again."""
    name, first = "", ""
    for bar in score.bars:
        if bar.section and (bar.section != name or bar.bar == first):
            first = bar.bar
            yield Section(name=bar.section, bar=bar.bar, nth=pass_at(score, bar.bar, bar.start_s), start_s=bar.start_s)
        name = bar.section or name
