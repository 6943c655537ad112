"""What must be done in silence for the music: mutes laid and lifted between figures, and cues given."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import groupby

from rimside.casting.allowances import CUE_S, LAY_S, LIFT_S
from rimside.casting.chore import Chore, ChoreKind, Need
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
    """Chores inside the piece, what figures need of them, and figures that cannot be played whatever is done.

    `before` and `after` are the courses that carry a mute from the load-in on, and that still carry one at the end.
    """

    chores: tuple[Chore, ...] = ()
    needs: tuple[Need, ...] = ()
    conflicts: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    before: tuple[Key, ...] = ()
    after: tuple[Key, ...] = ()


def mute_chores(figures: Iterable[Figure], kit: Kit) -> Wanted:
    """Every change between muted and unmuted figures of a course asks for a chore in the silence between them."""
    by_key: dict[Key, list[Figure]] = defaultdict(list)
    for figure in figures:
        for key in figure.keys:
            by_key[key].append(figure)
    found = _Found()
    for key, mine in sorted(by_key.items()):
        if any(map(_muted, mine)):
            _course(key, sorted(mine, key=lambda figure: (figure.start_s, figure.end_s, figure.id)), found)
    _enough_mutes(by_key, kit, found)
    needs = tuple(Need(figure=name, ways=((chore,),), rule=RULE) for name, chore in found.needs)
    return Wanted(
        chores=tuple(found.chores),
        needs=needs,
        conflicts=found.conflicts,
        before=tuple(found.before),
        after=tuple(found.after),
    )


def cue_chores(cues: Iterable[Cue]) -> tuple[Chore, ...]:
    """Each cue is somebody's to give, at its moment; it costs as much as a figure when nobody can."""
    return tuple(
        Chore(
            id=f"cue {number}",
            kind=ChoreKind.CUE,
            target=cue.text,
            earliest_s=written_s(cue.onset_s),
            latest_s=written_s(cue.onset_s + CUE_S),
            length_s=CUE_S,
            hands=0,
            weight=CUE_WEIGHT,
        )
        for number, cue in enumerate(cues, start=1)
    )


@dataclass(slots=True)
class _Found:
    chores: list[Chore] = field(default_factory=list)
    needs: list[tuple[str, str]] = field(default_factory=list)
    conflicts: dict[str, tuple[str, str]] = field(default_factory=dict)
    before: list[Key] = field(default_factory=list)
    after: list[Key] = field(default_factory=list)


def _muted(figure: Figure) -> bool:
    return figure.mute is Mute.MOULDED


def _course(key: Key, figures: list[Figure], found: _Found) -> None:
    """One course from figure to figure: what asks for a mute, or for none, waits until it could be laid or lifted."""
    muted, free_s = _muted(figures[0]), figures[0].end_s
    chore, count = "", 0
    if muted:
        found.before.append(key)
    for figure in figures[1:]:
        if _muted(figure) != muted:
            kind, length_s = (ChoreKind.LIFT, LIFT_S) if muted else (ChoreKind.LAY, LAY_S)
            if figure.start_s - free_s < length_s - TIE_S:
                found.conflicts.setdefault(figure.id, (RULE, _no_time(key, kind, figure.start_s - free_s, length_s)))
                continue
            muted, count = not muted, count + 1
            chore = f"{kind.value} {label(key)} {count}"
            found.chores.append(_change(chore, kind, key, free_s, figure.start_s, length_s))
        if chore:
            found.needs.append((figure.id, chore))
        free_s = max(free_s, figure.end_s)
    if muted:
        found.after.append(key)


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


def _enough_mutes(by_key: Mapping[Key, list[Figure]], kit: Kit, found: _Found) -> None:
    """No more mutes lie at one moment than the kit has; what begins when all are in use is left out."""
    stock = next((stock for stock in kit.stock if stock.kind == MUTE_KIND), None)
    if stock is None:
        return
    spans = sorted(span for key, mine in by_key.items() for span in _lying(key, mine, found))
    for start_s, _, key, names in spans:
        lying = [span for span in spans if span[0] <= start_s + TIE_S and start_s < span[1] - TIE_S]
        if len(lying) > stock.count and lying.index((start_s, _, key, names)) >= stock.count:
            reason = f"{len(lying)} mutes lie at this moment and the kit holds {stock.count}"
            for name in names:
                found.conflicts.setdefault(name, (RULE, reason))


def _lying(key: Key, figures: list[Figure], found: _Found) -> list[tuple[float, float, Key, tuple[str, ...]]]:
    """When a mute lies on a course at least: from the first to the last figure of each muted run."""
    ordered = sorted((f for f in figures if f.id not in found.conflicts), key=lambda f: (f.start_s, f.end_s, f.id))
    runs = [list(run) for muted, run in groupby(ordered, key=_muted) if muted]
    return [(run[0].start_s, max(f.end_s for f in run), key, tuple(f.id for f in run)) for run in runs]
