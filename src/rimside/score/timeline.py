"""The time line of a piece as played: repeats played out, and seconds for every quarter."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

from rimside.score.repeats import PlayedBar, unroll
from rimside.score.written import Page, Spot, WrittenTempo

DEFAULT_QUARTERS_PER_MINUTE = 120.0
"""Without any mark; listed for a person when used. Source: Standard MIDI Files 1.0, set-tempo default."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TempoMap:
    """Seconds for quarters from the start, piece by piece at one tempo. All three tuples have one length."""

    starts_quarters: tuple[Fraction, ...]
    starts_s: tuple[float, ...]
    quarters_per_minute: tuple[float, ...]

    def seconds(self, quarters: Fraction) -> float:
        """The moment of a number of quarters from the start, s."""
        at = max(bisect_right(self.starts_quarters, quarters) - 1, 0)
        return self.starts_s[at] + float(quarters - self.starts_quarters[at]) * 60.0 / self.quarters_per_minute[at]


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """The bars as played, where each starts in quarters from the start, and the tempo map.

    `plays_of` says for each written bar which of the played ones it is.
    """

    played: tuple[PlayedBar, ...]
    starts_quarters: tuple[Fraction, ...]
    end_quarters: Fraction
    tempo: TempoMap
    plays_of: Mapping[int, Sequence[int]]


def timeline(page: Page) -> Timeline:
    """Play out the repeats of a page and give every moment its second.

    A place on the page has the tempo that the page says before it, whichever way it was reached: going back to a
    repeat's start goes back to that start's tempo.
    """
    played = unroll(page.bars, page.jumps)
    lengths = [bar.to_quarters - bar.from_quarters for bar in played]
    ends = list(accumulate(lengths, initial=Fraction(0)))
    starts = tuple(ends[:-1])
    plays_of: dict[int, list[int]] = defaultdict(list)
    for number, bar in enumerate(played):
        plays_of[bar.index].append(number)
    return Timeline(
        played=played,
        starts_quarters=starts,
        end_quarters=ends[-1],
        tempo=_tempo_map(_tempos_on_page(page.tempos), played, starts),
        plays_of=plays_of,
    )


def _tempos_on_page(tempos: Sequence[WrittenTempo]) -> list[tuple[Spot, float]]:
    """The tempo from each place on, in the order of the page, ratios resolved."""
    found: list[tuple[Spot, float]] = [((0, Fraction(0)), DEFAULT_QUARTERS_PER_MINUTE)]
    for mark in sorted(tempos, key=lambda one: (one.at, one.playback)):
        if mark.quarters_per_minute is not None:
            found.append((mark.at, mark.quarters_per_minute))
        elif mark.ratio is not None:
            before = next((value for at, value in reversed(found) if at < mark.at), found[0][1])
            found.append((mark.at, before * float(mark.ratio)))
    return found


def _tempo_map(
    tempos: Sequence[tuple[Spot, float]], played: Sequence[PlayedBar], starts: Sequence[Fraction]
) -> TempoMap:
    places = [at for at, _ in tempos]
    changes: list[tuple[Fraction, float]] = []
    for bar, start in zip(played, starts, strict=True):
        now = bisect_right(places, (bar.index, bar.from_quarters))
        later = bisect_right(places, (bar.index, bar.to_quarters))
        changes.append((start, tempos[now - 1][1]))
        changes += [
            (start + at[1] - bar.from_quarters, value) for at, value in tempos[now:later] if at[1] < bar.to_quarters
        ]
    return _joined(changes or [(Fraction(0), DEFAULT_QUARTERS_PER_MINUTE)])


def _joined(changes: Sequence[tuple[Fraction, float]]) -> TempoMap:
    """Drop changes that change nothing and add up the seconds."""
    kept = [changes[0]]
    for change in changes[1:]:
        if change[0] == kept[-1][0]:
            kept[-1] = change
        elif change[1] != kept[-1][1]:
            kept.append(change)
    seconds = [0.0]
    for (at, value), (following, _) in pairwise(kept):
        seconds.append(seconds[-1] + float(following - at) * 60.0 / value)
    return TempoMap(
        starts_quarters=tuple(at for at, _ in kept),
        starts_s=tuple(seconds),
        quarters_per_minute=tuple(value for _, value in kept),
    )
