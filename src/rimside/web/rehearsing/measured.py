"""What a time that a player measured at rehearsal says about the times in kit.toml."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from rimside.errors import BadInput
from rimside.files.edits import Edit, checked, edited
from rimside.files.history import History
from rimside.files.project import KIT, Production
from rimside.paper.changes import Part, parts_of, pick_s, put_s
from rimside.paper.material import BookInput

LEAST_S = 0.05
"""No deed is shorter; a measured time that leaves less is a slip. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How the change that leads to a figure is counted: putting down, walking (with the turn), picking up, settling.

    `kind` is what takes longest to pick up, "" when nothing is picked up.
    """

    kind: str
    put_s: float
    walk_mm: float
    walk_s: float
    turn_s: float
    pick_s: float
    settle_s: float

    @property
    def whole_s(self) -> float:
        """The whole change, s."""
        return self.put_s + self.walk_s + self.turn_s + self.pick_s + self.settle_s


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredTime:
    """A time for kit.toml: its name there, the kind of implement that it belongs to ("" for [times]), old and new."""

    name: str
    kind: str
    counted: float
    measured: float

    @property
    def words(self) -> str:
        """Where it goes and what it replaces, as the leader reads it."""
        where = f"of {self.kind}" if self.kind else "under [times]"
        return f"kit.toml, {self.name} {where}: {self.measured:g} instead of {self.counted:.4g}"


def way_in_kit(book: BookInput, time: MeasuredTime) -> tuple[str | int, ...]:
    """Where the time stands in kit.toml: keys, and the number of the [[implement]] from 0, in the order of the file."""
    if not time.kind:
        return "times", time.name
    return "implement", [stock.kind for stock in book.kit.stock].index(time.kind), time.name


def changes_of(book: BookInput) -> dict[str, Change]:
    """How the change to each figure is counted, by the figure's id; none for the first of a player."""
    return {
        after.figure.id: _change(book, before, after)
        for player in book.players
        for before, after in pairwise(parts_of(player.id, book.casting, book.piano, book.kit))
    }


def _change(book: BookInput, before: Part, after: Part) -> Change:
    times, kinds = book.casting.times, {one.id: one.kind for one in book.casting.implements}
    taken = () if after.kept else tuple(kinds[used] for used in after.cast.implements)
    return Change(
        kind=max(taken, key=lambda kind: (times.pick_s.get(kind, book.kit.pick_s(kind)), kind), default=""),
        put_s=0.0 if after.kept else put_s(before.cast, book.casting, book.kit),
        walk_mm=after.walk_mm,
        walk_s=after.walk_mm / times.walk_mm_per_s,
        turn_s=times.turn_s if after.walk_mm else 0.0,
        pick_s=pick_s(after.cast, book.casting, book.kit) if taken else 0.0,
        settle_s=times.settle_s,
    )


def measured_time(change: Change, measured_s: float) -> MeasuredTime | None:
    """The one time of a change that a measurement of the whole replaces: picking up, else walking, else settling.

    The others stay as they are counted; None when they alone take longer than what was measured.
    """
    part_s = change.pick_s if change.kind else change.walk_s if change.walk_mm else change.settle_s
    left_s = measured_s - (change.whole_s - part_s)
    if left_s < LEAST_S:
        return None
    if change.kind:
        return MeasuredTime(name="pick_s", kind=change.kind, counted=change.pick_s, measured=round(left_s, 2))
    if change.walk_mm:
        speed, counted = change.walk_mm / left_s, change.walk_mm / change.walk_s
        return MeasuredTime(name="walk_mm_per_s", kind="", counted=counted, measured=round(speed))
    return MeasuredTime(name="settle_s", kind="", counted=change.settle_s, measured=round(left_s, 2))


def keep_time(
    history: History, production: Production, book: BookInput, time: MeasuredTime, *, who: str, at: str
) -> None:
    """Write a measured time into kit.toml, as a step that can be taken back.

    Raises
    ------
    BadInput : the kit would not be read any more with it, or has no such kind.
    Conflict : kit.toml is no longer what was read.
    """
    if KIT not in production.inputs:
        raise BadInput("there is no such file", where=KIT)
    edit = Edit(do="set", way=way_in_kit(book, time), value=time.measured)
    data = edited(production.inputs[KIT], [edit], KIT)
    checked(production, KIT, data)
    history.change(
        f"measured at rehearsal: {time.words}", {KIT: data}, who=who, at=at, based_on={KIT: production.hashes[KIT]}
    )
