"""A pin that is tried before it is kept: what would change, and both files of it in one step."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rimside.casting.result import CastFigure, Casting, Proof, Uncast
from rimside.casting.verify import Breach
from rimside.files import job, project
from rimside.files.edits import Edit, blank, edited
from rimside.files.history import History, Step
from rimside.files.job import Ready
from rimside.files.project import PINS, Production

THINGS = ("player", "place", "hand", "implement", "contact_mm")
"""What a pin can name, as pins.toml calls it."""
MOVED = ("player", "place", "hands", "implements", "contacts")
Row = Mapping[str, str | float | bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A figure that a trial gives otherwise: what of it ("player", "place", "hands", ...), before and after.

    `before` or `after` is None where it is not cast.
    """

    figure: str
    what: tuple[str, ...]
    before: CastFigure | None
    after: CastFigure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What the casting would be with other pins; `pins` are the bytes that pins.toml would have, `based_on` is the
    SHA-256 of the casting's file that was looked at.

    `moved` are the figures that change, `lost` those that are not cast any more, `levels` name, value before, after.
    """

    name: str
    pins: bytes
    based_on: str
    casting: Casting
    moved: tuple[Moved, ...]
    lost: tuple[Uncast, ...]
    levels: tuple[tuple[str, int, int], ...]
    breaches: tuple[Breach, ...]


def rows_of(production: Production, figure: str) -> list[dict[str, object]]:
    """The page's own pins of a figure in pins.toml: those that name it by its id, as tables."""
    data = production.inputs.get(PINS, b"")
    return [row for row in tomllib.loads(data.decode("utf-8-sig")).get("pin", []) if row.get("figure") == figure]


def pinned(production: Production, figure: str, piano: str, rows: Sequence[Row]) -> bytes:
    """pins.toml with these pins of a figure in place of those that it had by its id; all others stay as they are.

    A place, hand, implement or contact is pinned for its piano alone, a player for all of them.

    Raises
    ------
    BadInput : pins.toml is no TOML.
    """
    data = production.inputs.get(PINS, blank(PINS))
    written = tomllib.loads(data.decode("utf-8-sig")).get("pin", [])
    mine = [n for n, row in enumerate(written) if row.get("figure") == figure and row.get("piano", piano) == piano]
    edits = [Edit(do="remove", way=("pin", number)) for number in reversed(mine)]
    edits += [Edit(do="add", way=("pin",), value=_row(figure, piano, row)) for row in rows]
    return edited(data, edits, PINS)


def _row(figure: str, piano: str, row: Row) -> dict[str, object]:
    of_piano = {} if set(row) <= {"player", "forbid"} else {"piano": piano}
    return {"figure": figure, **of_piano, **{name: row[name] for name in (*THINGS, "forbid") if row.get(name)}}


def try_pins(production: Production, name: str, pins: bytes, base: Ready | None = None) -> Trial:
    """What a casting would be with another pins.toml; nothing is written.

    Parameters
    ----------
    base : what a cast goes on from, with the question posed, when it is known; see `job.going_on`.

    Raises
    ------
    BadInput : a pin that cannot be meant so, or a casting that is out of date for more than its pins.
    """
    after = replace(production, inputs={**production.inputs, PINS: pins})
    going = job.going_on(production, name) if base is None else base
    ready = replace(going, production=after, pins=after.pins(going.reading, going.piano))
    before = project.read_casting(production, name) if ready.keep is None else ready.keep
    casting, breaches = job.solve(ready, lambda stage, share: None)
    return Trial(
        name=name,
        pins=pins,
        based_on=ready.kept_sha,
        casting=casting,
        moved=tuple(moved(before, casting)),
        lost=tuple(lost(before, casting)),
        levels=tuple(levels(before.proof, casting.proof)),
        breaches=breaches,
    )


def keep(history: History, production: Production, trial: Trial, words: str, *, at: str = "", who: str = "") -> Step:
    """Write what was tried, pins and casting, as one step.

    Raises
    ------
    Conflict : pins.toml or the casting are no longer what was tried with.
    """
    plan = trial.casting, trial.name, trial.based_on
    return keep_with(history, production, PINS, trial.pins, *plan, words, at=at, who=who)


def keep_with(
    history: History,
    production: Production,
    file: str,
    data: bytes,
    casting: Casting,
    name: str,
    sha: str,
    words: str,
    *,
    at: str = "",
    who: str = "",
) -> Step:
    """Write an input and the casting that was made with it as one step.

    Parameters
    ----------
    sha : of the casting's file that both were thought for.

    Raises
    ------
    Conflict : the input or the casting are no longer what they were thought for.
    """
    path = f"{project.CASTINGS}/{name}.json"
    after = replace(production, inputs={**production.inputs, file: data})
    files = {file: data, path: project.casting_bytes(after, casting, name)}
    based_on = {file: production.hashes.get(file), path: sha}
    return history.change(words, files, at=at, who=who, based_on=based_on)


def moved(before: Casting, after: Casting) -> Iterator[Moved]:
    """The figures that are otherwise in the second of two castings."""
    was, now = ({row.figure: row for row in casting.cast} for casting in (before, after))
    for figure in after.figures:
        old, new = was.get(figure.id), now.get(figure.id)
        if old != new:
            what = [] if old is None or new is None else [n for n in MOVED if getattr(old, n) != getattr(new, n)]
            yield Moved(figure=figure.id, what=tuple(what), before=old, after=new)


def lost(before: Casting, after: Casting) -> Iterator[Uncast]:
    """The figures that the second of two castings leaves out and the first does not."""
    known = {row.figure for row in before.uncast}
    return (row for row in after.uncast if row.figure not in known)


def levels(before: Sequence[Proof], after: Sequence[Proof]) -> Iterator[tuple[str, int, int]]:
    """Each level with its value before and after."""
    was = {row.level: row.value for row in before}
    return ((row.level, was[row.level], row.value) for row in after if row.level in was)
