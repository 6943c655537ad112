"""The way through the page: repeats, endings, D.C., D.S., coda and fine, played out bar by bar.

Visible choices, because MusicXML 4.0 leaves them to the reader: repeats are not nested, an end-repeat without a start
sign goes back to the last start sign, end-repeat or ending; after a leap the last ending is taken and repeats are not,
unless their `after-jump` says so; a leap is taken once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from rimside.errors import BadInput
from rimside.score.written import JumpKind, WrittenBar, WrittenJump

MOST_BARS = 100_000
"""Bars as played; more is taken for damage. Our assumption."""
_LEAPS = (JumpKind.DA_CAPO, JumpKind.DAL_SEGNO, JumpKind.TO_CODA, JumpKind.FINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedBar:
    """One bar as played, from offset `from_quarters` to `to_quarters` of the written bar `index`.

    `pass_number` rises each time the same bar comes again; a second ending is pass 2 at once.
    `repeat_pass` counts within the current repeat only.
    """

    index: int
    pass_number: int
    repeat_pass: int
    from_quarters: Fraction
    to_quarters: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Endings that stand side by side: how often the stretch before them is played, and whether also after a leap."""

    total: int
    retaken: bool


@dataclass(slots=True, kw_only=True)
class _Walk:
    """Where the reader is."""

    index: int = 0
    start: int = 0
    repeat_pass: int = 1
    leapt: bool = False
    frontier: int = -1
    entered_at: Fraction = Fraction(0)
    taken: set[int] = field(default_factory=set)
    heard: Counter[int] = field(default_factory=Counter)
    played: list[PlayedBar] = field(default_factory=list)

    def go(self, index: int, *, start: int, repeat_pass: int = 1) -> None:
        self.index, self.start, self.repeat_pass = index, start, repeat_pass


def unroll(bars: Sequence[WrittenBar], jumps: Sequence[WrittenJump] = ()) -> tuple[PlayedBar, ...]:
    """The bars in the order in which they are played.

    Raises
    ------
    BadInput : the repeats ask for more than `MOST_BARS` bars.
    """
    groups = _groups(bars)
    walk = _Walk()
    while walk.index < len(bars):
        if len(walk.played) > MOST_BARS:
            raise BadInput(
                "the repeats do not come to an end",
                where=f"bar {bars[walk.index].name}",
                value=len(walk.played),
                allowed=f"at most {MOST_BARS} bars as played",
            )
        _step(walk, bars, groups, jumps)
    return tuple(walk.played)


def _step(
    walk: _Walk, bars: Sequence[WrittenBar], groups: Sequence[_Group | None], jumps: Sequence[WrittenJump]
) -> None:
    index, bar = walk.index, bars[walk.index]
    if bar.forward and index != walk.start:
        walk.go(index, start=index)
    group = groups[index]
    if group is None and index and groups[index - 1] is not None and index != walk.start:
        walk.go(index, start=index)
    if group is not None and _wanted(walk, group) not in bar.ending:
        walk.index += 1
        return
    returns = bool(bar.backward) and (bar.after_jump or not _retracing(walk)) and walk.repeat_pass < _total(bar, group)
    leap = None if returns else _leap(walk, bar, jumps)
    _play(walk, bar, leap)
    if returns:
        walk.go(walk.start, start=walk.start, repeat_pass=walk.repeat_pass + 1)
    elif leap is not None:
        _take(walk, leap, bars, jumps)
    elif bar.backward:
        walk.go(index + 1, start=index + 1)
    else:
        walk.index = index + 1


def _total(bar: WrittenBar, group: _Group | None) -> int:
    return group.total if group is not None else max(bar.backward, 2)


def _retracing(walk: _Walk) -> bool:
    """Whether this bar comes again because of a leap, so that its repeats are not taken again."""
    return walk.leapt and walk.index <= walk.frontier


def _wanted(walk: _Walk, group: _Group) -> int:
    return group.total if _retracing(walk) and not group.retaken else walk.repeat_pass


def _play(walk: _Walk, bar: WrittenBar, leap: WrittenJump | None) -> None:
    end = leap.at[1] if leap is not None and 0 < leap.at[1] < bar.length else bar.length
    walk.heard[walk.index] = max(walk.heard[walk.index] + 1, walk.repeat_pass)
    walk.played.append(
        PlayedBar(
            index=walk.index,
            pass_number=walk.heard[walk.index],
            repeat_pass=walk.repeat_pass,
            from_quarters=walk.entered_at,
            to_quarters=end,
        )
    )
    walk.entered_at = Fraction(0)


def _leap(walk: _Walk, bar: WrittenBar, jumps: Sequence[WrittenJump]) -> WrittenJump | None:
    """The sign in this bar that now leads away: fine and to-coda after a leap, da capo and dal segno once."""
    here = [jump for jump in jumps if jump.at[0] == walk.index and jump.kind in _LEAPS and id(jump) not in walk.taken]
    for jump in sorted(here, key=lambda one: one.at[1] or bar.length):
        if walk.leapt or jump.kind in (JumpKind.DA_CAPO, JumpKind.DAL_SEGNO):
            return jump
    return None


def _take(walk: _Walk, leap: WrittenJump, bars: Sequence[WrittenBar], jumps: Sequence[WrittenJump]) -> None:
    walk.taken.update(id(jump) for jump in jumps if jump.at[0] == leap.at[0] and jump.kind is leap.kind)
    if leap.kind is JumpKind.FINE:
        walk.index = len(bars)
        return
    goal = (0, Fraction(0)) if leap.kind is JumpKind.DA_CAPO else _goal(leap, bars, jumps)
    walk.leapt, walk.frontier = True, max(walk.frontier, leap.at[0])
    walk.go(goal[0], start=goal[0])
    walk.entered_at = goal[1]


def _goal(leap: WrittenJump, bars: Sequence[WrittenBar], jumps: Sequence[WrittenJump]) -> tuple[int, Fraction]:
    wanted = JumpKind.CODA if leap.kind is JumpKind.TO_CODA else JumpKind.SEGNO
    goals = [jump for jump in jumps if jump.kind is wanted]
    named = [jump for jump in goals if jump.target == leap.target and leap.target] or goals
    ahead = [jump for jump in named if (jump.at[0] > leap.at[0]) == (wanted is JumpKind.CODA)]
    if not (ahead or named):
        return leap.at[0] + 1, Fraction(0)
    index, offset = (ahead or named)[0].at
    return (index + 1, Fraction(0)) if offset >= bars[index].length else (index, offset)


def _groups(bars: Sequence[WrittenBar]) -> list[_Group | None]:
    """For each bar under a bracket, the group of endings that it belongs to."""
    groups: list[_Group | None] = [None] * len(bars)
    for first, last in _bracket_runs(bars):
        group = _group(bars[first:last])
        groups[first:last] = [group] * (last - first)
    return groups


def _bracket_runs(bars: Sequence[WrittenBar]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    first: int | None = None
    highest = 0
    for index, bar in enumerate(bars):
        restarts = bar.ending_starts and first is not None and min(bar.ending) <= highest
        if first is not None and (not bar.ending or restarts):
            runs.append((first, index))
            first, highest = None, 0
        if bar.ending:
            first = index if first is None else first
            highest = max(highest, *bar.ending)
    return runs if first is None else [*runs, (first, len(bars))]


def _group(bars: Sequence[WrittenBar]) -> _Group:
    brackets = {bar.ending for bar in bars}
    highest = max(max(numbers) for numbers in brackets)
    alone = len(brackets) == 1 and any(bar.backward for bar in bars)
    asked = max(bar.backward for bar in bars)
    return _Group(total=max(highest + alone, asked), retaken=any(bar.after_jump for bar in bars))


def unmet_leaps(jumps: Sequence[WrittenJump]) -> tuple[tuple[WrittenJump, str], ...]:
    """Leaps whose goal is not on the page, and what is missing."""
    kinds = {jump.kind for jump in jumps}
    needs = {JumpKind.DAL_SEGNO: JumpKind.SEGNO, JumpKind.TO_CODA: JumpKind.CODA}
    return tuple(
        (jump, needs[jump.kind].value) for jump in jumps if jump.kind in needs and needs[jump.kind] not in kinds
    )
