"""pins.toml: what people have decided about single figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from pydantic import Field

from rimside.casting.pin import Pin
from rimside.errors import BadInput
from rimside.files.names import checked, nearest, unknown
from rimside.files.toml import Table
from rimside.kit import Kit, Stock
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.pitch import label
from rimside.score.model import Figure

FORMAT = "rimside-pins/1"


class PinTable(Table):
    """One [[pin]] of the file."""

    figure: str | None = None
    part: str | None = None
    section: str | None = None
    motif: str | None = None
    piano: str | None = None
    player: str | None = None
    place: str | None = None
    hand: Literal["left", "right"] | None = None
    implement: str | None = None
    contact_mm: float | None = Field(default=None, gt=0.0)
    forbid: bool = False


class PinsTable(Table):
    """The whole file."""

    format: str
    pin: list[PinTable] = Field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """The names that pins may use, for a casting of one piano; `pianos` are all of the production."""

    figures: tuple[Figure, ...]
    players: tuple[Player, ...]
    piano: Piano
    pianos: tuple[str, ...]
    kit: Kit


def pins_from_toml(data: bytes, known: Known, where: str = "pins.toml") -> tuple[Pin, ...]:
    """The pins of a file that hold for one piano, one for each figure that they mean, in the file's order.

    Raises
    ------
    BadInput : a slip in the file; a name that nobody and nothing has; a pin on no figure or on nothing of it; two pins
        of which one fixes what the other forbids.
    """
    pins: list[Pin] = []
    for number, row in enumerate(checked(PinsTable, data, where, FORMAT).pin, start=1):
        at = f"{where}, pin no. {number}"
        if row.piano is not None and row.piano not in known.pianos:
            raise unknown("piano", row.piano, known.pianos, at)
        if row.piano in (None, known.piano.name):
            pins += _pins(row, known, at)
    _check_one_way(pins, where)
    return tuple(dict.fromkeys(pins))


def _pins(row: PinTable, known: Known, where: str) -> list[Pin]:
    figures = _figures(row, known.figures, where)
    player = "" if row.player is None else _player(row.player, known.players, where)
    place = "" if row.place is None else _place(row, known.piano, where)
    implement = "" if row.implement is None else _implement(row.implement, known, where)
    try:
        return [
            Pin(
                figure=figure.id,
                player=player,
                place=place,
                hand=row.hand or "",
                implement=implement,
                contact_mm=row.contact_mm,
                forbid=row.forbid,
            )
            for figure in figures
        ]
    except BadInput as slip:
        raise slip.at(where) from None


def _figures(row: PinTable, figures: Sequence[Figure], where: str) -> list[Figure]:
    """The figures that a pin means: one by its id, or all of a part, section or motif."""
    asked = {name: value for name in ("part", "section", "motif") if (value := getattr(row, name)) is not None}
    if (row.figure is None) == (not asked):
        raise BadInput(
            "a pin means one figure, or all of a part, section or motif",
            where=where,
            value="both" if asked else "neither",
            allowed="figure, or any of part, section and motif",
        )
    if row.figure is not None:
        found = [figure for figure in figures if figure.id == row.figure]
        if not found:
            raise _unknown_figure(row.figure, figures, where)
        return found
    for name, value in asked.items():
        names = sorted({getattr(figure, name) for figure in figures} - {""})
        if value not in names:
            raise unknown(name, value, names, where)
    found = [figure for figure in figures if all(getattr(figure, name) == value for name, value in asked.items())]
    if not found:
        raise BadInput("no figure is in all of these", where=where, value=", ".join(asked.values()))
    return found


def _unknown_figure(name: str, figures: Sequence[Figure], where: str) -> BadInput:
    """The error for a figure that is not there, with the nearest and the place where all ids stand."""
    near = nearest(name, [figure.id for figure in figures])
    listed = "rimside read --json lists the figures with their ids"
    return BadInput("unknown figure", where=where, value=name, hint="; ".join(text for text in (near, listed) if text))


def _player(name: str, players: Sequence[Player], where: str) -> str:
    wanted = name.strip().casefold()
    found = next((player.id for player in players if wanted in (player.id, player.name.casefold())), None)
    if found is None:
        raise unknown("player", name, [player.name for player in players], where)
    return found


def _place(row: PinTable, piano: Piano, where: str) -> str:
    assert row.place is not None
    names = [place.id for place in piano.places]
    if row.place not in names:
        slip = unknown("place", row.place, names, f"{where}, piano {piano.name}")
        if row.piano is not None or slip.hint:
            raise slip
        hint = "name the piano that is meant: piano = ..."
        raise BadInput("unknown place", where=slip.where, value=row.place, allowed=slip.allowed, hint=hint)
    return row.place


def _implement(name: str, known: Known, where: str) -> str:
    """The kind or id of an implement, as castings call them."""
    kinds = [stock.kind for stock in known.kit.stock]
    ids = [implement for stock in known.kit.stock for implement in _ids(stock, known.piano)]
    if name not in kinds and name not in ids:
        hint = nearest(name, [*kinds, *ids])
        raise BadInput("unknown implement", where=where, value=name, allowed=", ".join(kinds), hint=hint)
    return name


def _ids(stock: Stock, piano: Piano) -> list[str]:
    if stock.per_pitch:
        return [f"{stock.kind} {label(course.key)}" for course in piano.courses]
    return [f"{stock.kind} {number}" for number in range(1, stock.count + 1)]


def _check_one_way(pins: Iterable[Pin], where: str) -> None:
    """Refuse pins of which one fixes what another forbids."""
    said: dict[tuple[str, str, str | float], bool] = {}
    for pin in pins:
        for name, value in pin.named.items():
            if said.setdefault((pin.figure, name, value), pin.forbid) != pin.forbid:
                raise BadInput(
                    f"one pin fixes and another forbids the same {name}", where=f"{where}, {pin.figure}", value=value
                )
