"""What must be done in silence for the music: mutes laid and lifted between figures, and cues given."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby

from rimside.casting.allowances import chore_s
from rimside.casting.chore import Chore, ChoreKind, Muting
from rimside.casting.scale import TIE_S, written_s
from rimside.kit import Kit
from rimside.pitch import Key, label
from rimside.score.model import Cue, Figure, Mute

MUTE_KIND = "moulded mute"
"""What the kit calls its moulded mutes. Without such a stock, as many as are wanted are taken to be there."""
RULE = "H9"
CUE_WEIGHT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Chores inside the piece, the courses they are for, and figures that cannot be played whatever is done."""

    chores: tuple[Chore, ...] = ()
    mutings: tuple[Muting, ...] = ()
    conflicts: Mapping[str, tuple[str, str]] = field(default_factory=dict)


def mute_chores(figures: Iterable[Figure], kit: Kit) -> Wanted:
    """Every change between muted and unmuted figures of a course asks for a chore in the silence between them."""
    by_key: dict[Key, list[Figure]] = defaultdict(list)
    for figure in figures:
        for key in figure.keys:
            by_key[key].append(figure)
    found = _Found()
    for key, mine in sorted(by_key.items()):
        if any(map(_muted, mine)):
            _course(key, sorted(mine, key=lambda figure: (figure.start_s, figure.end_s, figure.id)), kit, found)
    _enough_mutes(by_key, kit, found)
    return Wanted(chores=tuple(found.chores), mutings=tuple(found.mutings), conflicts=found.conflicts)


def cue_chores(cues: Iterable[Cue], kit: Kit) -> tuple[Chore, ...]:
    """Each cue is somebody's to give, at its moment; it costs as much as a figure when nobody can."""
    length_s = chore_s(kit, ChoreKind.CUE)
    return tuple(
        Chore(
            id=f"cue {number}",
            kind=ChoreKind.CUE,
            target=cue.text,
            earliest_s=written_s(cue.onset_s),
            latest_s=written_s(cue.onset_s + length_s),
            length_s=length_s,
            hands=0,
            weight=CUE_WEIGHT,
        )
        for number, cue in enumerate(cues, start=1)
    )


@dataclass(slots=True)
class _Found:
    chores: list[Chore] = field(default_factory=list)
    mutings: list[Muting] = field(default_factory=list)
    conflicts: dict[str, tuple[str, str]] = field(default_factory=dict)


def _muted(figure: Figure) -> bool:
    return figure.mute is Mute.MOULDED


def _course(key: Key, figures: list[Figure], kit: Kit, found: _Found) -> None:
    """One course from figure to figure: what asks for a mute, or for none, waits until it could be laid or lifted."""
    first = muted = _muted(figures[0])
    free_s, runs, chores = figures[0].end_s, [[figures[0].id]], list[Chore]()
    for figure in figures[1:]:
        if _muted(figure) != muted:
            kind = ChoreKind.LIFT if muted else ChoreKind.LAY
            length_s = chore_s(kit, kind)
            if figure.start_s - free_s < length_s - TIE_S:
                found.conflicts.setdefault(figure.id, (RULE, _no_time(key, kind, figure.start_s - free_s, length_s)))
                continue
            muted = not muted
            name = f"{kind.value} {label(key)} {len(runs)}"
            chores.append(_change(name, kind, key, free_s, figure.start_s, length_s))
            runs.append([])
        runs[-1].append(figure.id)
        free_s = max(free_s, figure.end_s)
    found.chores += chores
    names = tuple(chore.id for chore in chores)
    found.mutings.append(Muting(key=key, muted=first, runs=tuple(map(tuple, runs)), chores=names))


def _change(name: str, kind: ChoreKind, key: Key, earliest_s: float, latest_s: float, length_s: float) -> Chore:
    return Chore(
        id=name,
        kind=kind,
        target=label(key),
        earliest_s=earliest_s,
        latest_s=latest_s,
        length_s=length_s,
        keys=(key,),
    )


def _no_time(key: Key, kind: ChoreKind, room_s: float, length_s: float) -> str:
    if room_s < 0.0:
        return f"{label(key)} cannot be muted for one figure and free for another at one time"
    deed = "lift" if kind is ChoreKind.LIFT else "lay"
    return f"there are {room_s:.1f} s to {deed} the mute of {label(key)}, and it takes {length_s:.1f} s"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lying:
    """A mute on a course for a run of figures, from the earliest laying to the latest lifting."""

    first_s: float
    from_s: float
    until_s: float
    figures: tuple[str, ...]


def _enough_mutes(by_key: Mapping[Key, list[Figure]], kit: Kit, found: _Found) -> None:
    """No more mutes lie at one moment than the kit has; runs that come when all may be in use are left out."""
    stock = next((stock for stock in kit.stock if stock.kind == MUTE_KIND), None)
    if stock is None:
        return
    runs = [run for _, mine in sorted(by_key.items()) for run in _lying(mine, found)]
    given: list[_Lying] = []
    for run in sorted(runs, key=lambda run: (run.from_s, run.first_s)):
        if sum(run.from_s < other.until_s - TIE_S for other in given) < stock.count:
            given.append(run)
            continue
        reason = f"the kit holds {stock.count} moulded mutes, and all may still lie on other courses"
        for name in run.figures:
            found.conflicts.setdefault(name, (RULE, reason))


def _lying(figures: list[Figure], found: _Found) -> Iterator[_Lying]:
    """When mutes lie on one course at most: a mute stays until a figure asks for none, or until the load-out."""
    ordered = sorted((f for f in figures if f.id not in found.conflicts), key=lambda f: (f.start_s, f.end_s, f.id))
    runs = [(muted, list(run)) for muted, run in groupby(ordered, key=_muted)]
    free_s = -math.inf
    for number, (muted, run) in enumerate(runs):
        if muted:
            until_s = runs[number + 1][1][0].start_s if number + 1 < len(runs) else math.inf
            names = tuple(figure.id for figure in run)
            yield _Lying(first_s=run[0].start_s, from_s=free_s, until_s=until_s, figures=names)
        free_s = max(free_s, *(figure.end_s for figure in run))
