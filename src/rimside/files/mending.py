"""A mend that is tried before it is kept: what it brings, and the file that holds it with the casting in one step."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rimside import flow
from rimside.casting.mends import PRACTISE
from rimside.casting.question import SPOT, new_stock
from rimside.casting.result import Casting, Mend, Uncast
from rimside.casting.verify import Breach, verify
from rimside.errors import BadInput
from rimside.files import job, project, repinning
from rimside.files.edits import Edit, edited
from rimside.files.history import History, Step
from rimside.files.project import ENSEMBLE, KIT, Production
from rimside.files.repinning import Moved
from rimside.pitch import Key, label
from rimside.score.model import Technique
from rimside.score.reading import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What a casting would be with one mend made.

    `gained` are the figures that are cast then, `moved` those that are cast otherwise, `levels` name, value before,
    after. `based_on` is the SHA-256 of the casting's file that was looked at. `file` is the file that can hold the
    mend, with its new bytes; "" for one that only people can make.
    """

    name: str
    figure: str
    mend: Mend
    based_on: str
    casting: Casting
    gained: tuple[str, ...]
    moved: tuple[Moved, ...]
    levels: tuple[tuple[str, int, int], ...]
    breaches: tuple[Breach, ...]
    file: str
    data: bytes


def try_mend(production: Production, name: str, figure: str, number: int, reading: Reading | None = None) -> Tried:
    """What a casting would be with one mend of an uncast figure made; nothing is written.

    Parameters
    ----------
    number : of the mend, from 0, as the casting's file lists them.

    Raises
    ------
    BadInput : no such mend, a casting that is out of date, or no room with this mend any more.
    """
    based_on, before = project.casting_sha(production, name), project.read_casting(production, name)
    mend = _mend(before, figure, number)
    if stale := project.out_of_date(production, before, name):
        raise BadInput(stale, where="mend", value=mend.text, hint="cast again, and look at what is proposed then")
    ready = job.made_ready(production, None, (), None, None, None, name, reading)
    asked, after = flow.mended(
        ready.reading, ready.piano, ready.players, ready.kit, before, figure, mend.change, ready.pins
    )
    held = held_by(production, name, mend)
    practised = mend.change[0] == PRACTISE
    moved = tuple(repinning.moved(before, after))
    return Tried(
        name=name,
        figure=figure,
        mend=mend,
        based_on=based_on,
        casting=after,
        gained=tuple(row.figure for row in moved if row.before is None),
        moved=tuple(row for row in moved if row.before is not None),
        levels=tuple(repinning.levels(before.proof, after.proof)),
        breaches=() if practised else verify(after, asked.piano, asked.players, asked.kit),
        file=held[0] if held else "",
        data=held[1] if held else b"",
    )


def _mend(casting: Casting, figure: str, number: int) -> Mend:
    row: Uncast | None = next((row for row in casting.uncast if row.figure == figure), None)
    if row is None or not 0 <= number < len(row.mends):
        raise BadInput("there is no such mend any more", where="mend", value=figure, hint="look at the casting again")
    if not row.mends[number].change:
        hint = "cast again; castings made from now on say it"
        raise BadInput("an earlier version made this casting; its mends cannot be tried", where="mend", hint=hint)
    return row.mends[number]


def keep(history: History, production: Production, tried: Tried, *, at: str = "", who: str = "") -> Step:
    """Write the file that holds the mend, and the casting, as one step.

    Raises
    ------
    BadInput : only people can make this mend, or the casting with it breaks a rule.
    Conflict : the file or the casting are no longer what was tried with.
    """
    if not tried.file:
        raise BadInput("no file holds this; people have to make it", where="mend", value=tried.mend.text)
    if tried.breaches:
        raise BadInput("this casting breaks a rule", where=tried.breaches[0].rule, value=tried.breaches[0].message)
    plan = tried.casting, tried.name, tried.based_on
    return repinning.keep_with(history, production, tried.file, tried.data, *plan, tried.mend.text, at=at, who=who)


def held_by(production: Production, name: str, mend: Mend) -> tuple[str, bytes] | None:
    """The file that can hold a mend, and its bytes with it; None for what only people can do.

    Raises
    ------
    BadInput : what is to be changed is no longer in the file.
    """
    piano = production.piano_file(project.piano_of(name))
    files: Mapping[str, tuple[str, Callable[[Production, bytes, Sequence[str]], list[Edit]]]] = {
        "allow": (piano, _allow), "own": (KIT, _own), "sides": (KIT, _sides), "new": (KIT, _new),
        "learn": (ENSEMBLE, _learn),
    }  # fmt: skip
    if not mend.change or mend.change[0] not in files:
        return None
    file, edits = files[mend.change[0]]
    data = production.inputs[file]
    return file, edited(data, edits(production, data, mend.change[1:]), file)


def _allow(production: Production, data: bytes, what: Sequence[str]) -> list[Edit]:
    names = [name for name in what if not name.startswith(SPOT)]
    spots = {name.removeprefix(SPOT) for name in what if name.startswith(SPOT)}
    barred = _table(data).get("permissions", {}).get("forbidden_spots", [])
    gone = [number for number, spot in enumerate(barred) if spot in spots]
    return [
        *(Edit(do="add", way=("permissions", "allowed"), value=name) for name in names),
        *(Edit(do="remove", way=("permissions", "forbidden_spots", number)) for number in reversed(gone)),
    ]


def _own(production: Production, data: bytes, what: Sequence[str]) -> list[Edit]:
    kind, count, *keys = what
    number, row = _row(data, "implement", "kind", kind, KIT)
    written: list[str] | None = row.get("pitches")
    labels = [] if written is None else [label(Key(int(key)), production.facts.labels) for key in keys]
    lacking = [text for text in labels if text not in (written or ())]
    return [
        Edit(do="set", way=("implement", number, "count"), value=int(count)),
        *(Edit(do="add", way=("implement", number, "pitches"), value=text) for text in lacking),
    ]


def _sides(production: Production, data: bytes, what: Sequence[str]) -> list[Edit]:
    number, _ = _row(data, "implement", "kind", what[0], KIT)
    return [Edit(do="set", way=("implement", number, "sides"), value=int(what[1]))]


def _new(production: Production, data: bytes, what: Sequence[str]) -> list[Edit]:
    stock = new_stock(Technique(what[0]))
    row = {"kind": stock.kind, "serves": [what[0]], "count": stock.count}
    return [Edit(do="add", way=("implement",), value={**row, **({"per_pitch": True} if stock.per_pitch else {})})]


def _learn(production: Production, data: bytes, what: Sequence[str]) -> list[Edit]:
    players = production.players()
    number = next((number for number, player in enumerate(players) if player.id == what[0]), None)
    if number is None:
        raise BadInput("is no longer in the ensemble", where=ENSEMBLE, value=what[0])
    return [Edit(do="add", way=("player", number, "skills"), value=what[1])]


def _row(data: bytes, array: str, name: str, value: str, where: str) -> tuple[int, dict[str, Any]]:
    rows: list[dict[str, Any]] = _table(data).get(array, [])
    found = next(((number, row) for number, row in enumerate(rows) if row.get(name) == value), None)
    if found is None:
        raise BadInput(f"no longer lists this {array}", where=where, value=value)
    return found


def _table(data: bytes) -> dict[str, Any]:
    return tomllib.loads(data.decode("utf-8-sig"))
