"""Lines that are too fast for one player, split among several whose parts interlock.

A split is worth more the fewer its parts; then the fewer different cycles there are to learn, the sooner they come
round, the fewer courses each part has, the more even the load. Docs: `docs/decisions/0004-interlocking.md`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from rimside.pitch import Key
from rimside.score.model import Figure, Stroke
from rimside.score.motifs import SAME_MS, attacks, cycles, figure_ids, motif
from rimside.units import fitts_s

Deal = tuple[int, ...]
"""The part, from 0, that takes each attack of a line."""
Worth = tuple[int, int, int, int, int]
"""Parts, different cycles, cycles until all comes round, courses of all parts, strokes between least and most."""

TIE_S = 1e-6
EXACT_ATTACKS = 8
"""Patterns of so many attacks are solved exactly."""
SEARCHED = 12_000
"""Ways of dealing a longer one that are kept in mind, in all its attacks; more are dropped, the dearest first. Our
choice: a line of 100 strokes takes about half a second, one of 600 about four."""
MOST_CYCLES = 8
"""A pattern that comes round later than this is as hard to learn as none. Our assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """What one player can keep up.

    `hands` strike in turn, each at most `hand_hz` times a second and with the time that a leap takes. A hand holds up
    to `hand_notes` courses at once and needs no leap within `hand_keys` (ends counted).
    """

    hand_hz: float
    hands: int = 2
    hand_keys: int = 1
    hand_notes: int = 1


@dataclass(frozen=True, slots=True)
class _Line:
    """Moments in s, what each hand strikes at each (middles of its courses, in keys), and all courses of each.

    `period` is the number of attacks in one cycle. After `longest_s` a hand is ready for anything in the line. In
    `singles` no moment takes both hands.
    """

    at_s: tuple[float, ...]
    grips: tuple[tuple[float, ...], ...]
    keys: tuple[frozenset[Key | None], ...]
    pace: Pace
    period: int
    longest_s: float
    singles: bool

    def need_s(self, a: float, b: float) -> float:
        """Time that one hand needs from one grip to another."""
        return _need_s(self.pace, abs(a - b))


def _need_s(pace: Pace, apart_keys: float) -> float:
    leap_s = fitts_s(apart_keys, 1.0) if apart_keys >= pace.hand_keys else 0.0
    return max(1.0 / pace.hand_hz, leap_s)


_Hand = tuple[float, float] | None
"""When a hand last struck, s, and what; None when that is long past."""
_Hands = tuple[int, tuple[_Hand, ...]]
"""Whose turn it is, and what each hand did last."""


def deal(line: Sequence[tuple[float, frozenset[Key | None]]], pace: Pace) -> Deal:
    """Who takes which attack of a line: 0 throughout when one player can keep it up.

    Parameters
    ----------
    line : moments in s, ascending, each with the courses struck at it (None at a spot).
    pace : what each player can keep up.
    """
    made = _line(line, pace)
    greedy = _greedy(made)
    for parts in range(1, max(greedy, default=0) + 2):
        if _possible(made, parts) and (found := _regular(made, parts)) is not None:
            return found
    return greedy


def woven(figure: Figure, pace: Pace, where: Callable[[float], tuple[str, Fraction]]) -> tuple[Figure, ...]:
    """A figure as it is if one player can keep it up, else its threads in order of their first stroke.

    Parameters
    ----------
    figure : any figure of strokes.
    pace : what one player can keep up.
    where : bar and beat of a moment in s, for threads that begin later.
    """
    line = attacks(figure.strokes)
    dealt = deal(line, pace)
    parts = max(dealt) + 1
    if parts == 1:
        return (figure,)
    taker = {at_s: part for (at_s, _), part in zip(line, dealt, strict=True)}
    return tuple(
        _thread(figure, [one for one in figure.strokes if taker[one.onset_s] == part], part + 1, parts, where)
        for part in range(parts)
    )


def _thread(
    figure: Figure,
    strokes: Sequence[Stroke],
    thread: int,
    threads: int,
    where: Callable[[float], tuple[str, Fraction]],
) -> Figure:
    bar, beat = where(strokes[0].onset_s)
    return replace(
        figure,
        bar=bar,
        beat=beat,
        start_s=strokes[0].onset_s,
        end_s=max(stroke.until_s for stroke in strokes),
        keys=tuple(dict.fromkeys(stroke.key for stroke in strokes if stroke.key is not None)),
        strokes=tuple(strokes),
        cycles=cycles(strokes),
        motif=motif(figure.technique, strokes, figure.spot, figure.touch, figure.mute, figure.tremolo),
        thread=thread,
        threads=threads,
    )


def with_ids(woven_figures: Sequence[tuple[Figure, ...]]) -> tuple[Figure, ...]:
    """All figures in order of start, each with its id; the threads of one weave share the id of the first of them."""
    flat = [(figure, number) for number, threads in enumerate(woven_figures) for figure in threads]
    flat.sort(key=lambda pair: pair[0].start_s)
    names = figure_ids([figure.part for figure, _ in flat])
    weaves: dict[int, str] = {}
    for (figure, number), name in zip(flat, names, strict=True):
        if figure.threads:
            weaves.setdefault(number, name)
    return tuple(
        replace(figure, id=name, weave=weaves.get(number, ""))
        for (figure, number), name in zip(flat, names, strict=True)
    )


def worth(line: Sequence[tuple[float, frozenset[Key | None]]], dealt: Deal) -> Worth:
    """What a split is worth; lower is better."""
    return _worth(_line(line, Pace(hand_hz=1.0)), dealt)


def keeps(line: Sequence[tuple[float, frozenset[Key | None]]], pace: Pace) -> bool:
    """Whether one player can keep a line up."""
    made = _line(line, pace)
    return _keeps(made, range(len(made.at_s)))


def _line(line: Sequence[tuple[float, frozenset[Key | None]]], pace: Pace) -> _Line:
    at_s, keys = tuple(at for at, _ in line), tuple(keys for _, keys in line)
    grips = tuple(_grips(each, pace) for each in keys)
    middles = [grip for each in grips for grip in each]
    span = max(middles, default=0.0) - min(middles, default=0.0)
    singles = all(len(each) == 1 for each in grips)
    return _Line(at_s, grips, keys, pace, _period(at_s, keys), _need_s(pace, span), singles)


def _period(at_s: Sequence[float], keys: Sequence[frozenset[Key | None]]) -> int:
    """The shortest pattern of spacings and keys that comes round; its last time may be cut off."""
    spacings_ms = [(after - before) * 1000 for before, after in pairwise(at_s)]
    count = len(at_s)
    fits = (
        period
        for period in range(1, count // 2 + 1)
        if keys[period:] == keys[: count - period]
        and all(abs(a - b) <= SAME_MS for a, b in zip(spacings_ms, spacings_ms[period:], strict=False))
    )
    return next(fits, count)


def _grips(keys: Iterable[Key | None], pace: Pace) -> tuple[float, ...]:
    """The courses of one moment shared out among as few hands as hold them, from the lowest up."""
    left, grips = sorted(key or 0 for key in keys), []
    while left:
        held = [key for key in left if key - left[0] < pace.hand_keys][: pace.hand_notes]
        grips.append(sum(held) / len(held))
        left = left[len(held) :]
    return tuple(grips)


def _starts(line: _Line) -> list[_Hands]:
    """A player before the first stroke; it matters which hand begins only where both strike at once."""
    hands = line.pace.hands
    return [(first, (None,) * hands) for first in range(1 if line.singles else hands)]


def _struck(line: _Line, player: _Hands, number: int) -> _Hands | None:
    """A player once an attack is played, None when it comes too soon. More grips than hands are not judged here."""
    (turn, hands), at_s, grips = player, line.at_s[number], line.grips[number]
    takes = {turn: grips[0]} if len(grips) == 1 else dict(zip(range(len(hands)), grips, strict=False))
    for hand, grip in takes.items():
        last = hands[hand]
        if last is not None and at_s - last[0] < line.need_s(last[1], grip) - TIE_S:
            return None
    now = tuple((at_s, takes[hand]) if hand in takes else last for hand, last in enumerate(hands))
    return (turn + 1) % len(hands) if len(grips) == 1 else turn, now


def _keeps(line: _Line, numbers: Iterable[int]) -> bool:
    players = _starts(line)
    for number in numbers:
        players = [after for player in players if (after := _struck(line, player, number)) is not None]
    return bool(players)


def _greedy(line: _Line) -> Deal:
    """Each attack to the first part that can take it; never more parts than attacks."""
    parts: list[_Hands] = []
    dealt: list[int] = []
    for number in range(len(line.at_s)):
        options = ((part, _struck(line, player, number)) for part, player in enumerate(parts))
        part, after = next((each for each in options if each[1] is not None), (len(parts), None))
        if after is None:
            after = _struck(line, _starts(line)[0], number)
            assert after is not None
            parts.append(after)
        else:
            parts[part] = after
        dealt.append(part)
    return tuple(dealt) if len(parts) > 1 else (0,) * len(dealt)


def _possible(line: _Line, parts: int) -> Deal | None:
    """Any way in which so many parts keep the line up."""
    width = _width(len(line.at_s))
    reached: dict[tuple[_Hands, ...], Deal] = {(): ()}
    for number in range(len(line.at_s)):
        after: dict[tuple[_Hands, ...], Deal] = {}
        for players, dealt in reached.items():
            rested = tuple(_rested(line, player, line.at_s[number]) for player in players)
            for part, now in _taken(line, rested, parts, number):
                after.setdefault(now, (*dealt, part))
        reached = dict(list(after.items())[:width])
    return next(iter(reached.values()), None)


def _width(attacks_dealt: int) -> int:
    return sys.maxsize if attacks_dealt <= EXACT_ATTACKS else max(64, SEARCHED // attacks_dealt)


def _taken(
    line: _Line, players: tuple[_Hands, ...], parts: int, number: int
) -> Iterator[tuple[int, tuple[_Hands, ...]]]:
    """Every part that can take an attack, the next new one included, and all players after it."""
    for part, player in enumerate(players):
        if (after := _struck(line, player, number)) is not None:
            yield part, (*players[:part], after, *players[part + 1 :])
    if len(players) < parts:
        for start in _starts(line):
            if (after := _struck(line, start, number)) is not None:
                yield len(players), (*players, after)


def _rested(line: _Line, player: _Hands, at_s: float) -> _Hands:
    """The same player without strokes so long past that no leap could take the time."""
    turn, hands = player
    kept = tuple(None if last is not None and at_s - last[0] >= line.longest_s else last for last in hands)
    return (0 if line.singles and not any(kept) else turn), kept


def _regular(line: _Line, parts: int) -> Deal | None:
    """The best split into so many parts, by how soon it comes round."""
    period, count = line.period, len(line.at_s)
    rounds = -(-count // period)
    best: tuple[Worth, Deal] | None = None
    for cycles_long in dict.fromkeys([*range(1, min(MOST_CYCLES, rounds) + 1), rounds]):
        if (found := _dealt(line, parts, min(cycles_long * period, count), track=cycles_long > 2)) is not None:
            best = min(best, (_worth(line, found), found)) if best else (_worth(line, found), found)
        if best is not None and best[0][1] <= 2:
            break
    return best[1] if best else _possible(line, parts)


@dataclass(frozen=True, slots=True)
class _State:
    """What matters of a line dealt so far: players, the first strokes, courses and number of strokes of each part.

    `seen` are the different cycles so far and `cycle` the unfinished one, where they are counted.
    """

    players: tuple[_Hands, ...] = ()
    heads: tuple[Deal, ...] = ()
    courses: tuple[frozenset[Key | None], ...] = ()
    loads: tuple[int, ...] = ()
    seen: frozenset[Deal] = frozenset()
    cycle: Deal = ()

    @property
    def cost(self) -> tuple[int, int, int]:
        """Different cycles, courses, unevenness."""
        return len(self.seen), sum(map(len, self.courses)), max(self.loads, default=0) - min(self.loads, default=0)


def _dealt(line: _Line, parts: int, length: int, *, track: bool) -> Deal | None:
    """The best split that comes round after `length` attacks."""
    count, width = len(line.at_s), _width(length)
    reached: dict[_State, Deal] = {_State(): ()}
    for number in range(length):
        after: dict[_State, Deal] = {}
        for state, dealt in reached.items():
            rested = tuple(_rested(line, player, line.at_s[number]) for player in state.players)
            for part, players in _taken(line, rested, parts, number):
                after.setdefault(_after(line, state, part, players, number, length < count, track), (*dealt, part))
        if len(after) > width:
            after = dict(sorted(after.items(), key=lambda pair: (pair[0].cost, pair[1]))[:width])
        reached = after
    whole = {tuple(dealt[number % length] for number in range(count)) for dealt in reached.values()}
    ordered = sorted((_worth(line, dealt), dealt) for dealt in whole)
    return next((dealt for _, dealt in ordered if _all_keep(line, dealt)), None)


def _after(
    line: _Line, state: _State, part: int, players: tuple[_Hands, ...], number: int, comes_again: bool, track: bool
) -> _State:
    new = part == len(state.loads)
    heads, courses, loads = list(state.heads), list(state.courses), list(state.loads)
    if new:
        heads, courses, loads = [*heads, ()], [*courses, frozenset()], [*loads, 0]
    if comes_again and len(heads[part]) < line.pace.hands:
        heads[part] = (*heads[part], number)
    courses[part] |= line.keys[number]
    loads[part] += 1
    seen, cycle = state.seen, (*state.cycle, part) if track else ()
    if track and len(cycle) == line.period:
        seen, cycle = seen | {cycle}, ()
    return _State(players, tuple(heads), tuple(courses), tuple(loads), seen, cycle)


def _all_keep(line: _Line, dealt: Deal) -> bool:
    return all(
        _keeps(line, [number for number, taken in enumerate(dealt) if taken == part]) for part in range(max(dealt) + 1)
    )


def _worth(line: _Line, dealt: Deal) -> Worth:
    period, parts = line.period, max(dealt, default=0) + 1
    rounds = [dealt[at : at + period] for at in range(0, len(dealt), period)]
    whole = {each for each in rounds if len(each) == period}
    cut_off = {each for each in rounds if len(each) < period and not any(one[: len(each)] == each for one in whole)}
    comes_round = next(
        number
        for number in range(1, len(rounds) + 1)
        if all(taken == dealt[at % (number * period)] for at, taken in enumerate(dealt))
    )
    courses = [{key for at, keys in enumerate(line.keys) if dealt[at] == part for key in keys} for part in range(parts)]
    loads = [dealt.count(part) for part in range(parts)]
    return parts, len(whole) + len(cut_off), comes_round, sum(map(len, courses)), max(loads) - min(loads)
