"""ensemble.toml: the players."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from typing import Literal

from pydantic import Field

from rimside.errors import BadInput
from rimside.files.names import checked, technique_named
from rimside.files.palette import PALETTE, Hue, hue
from rimside.files.toml import Table
from rimside.people import SHOULDER_BREADTH_SHARE, STATURE_RANGE_MM, Player

FORMAT = "rimside-ensemble/1"
MOST_PLAYERS = 16
"""More people than this do not fit round one piano; a longer list is a slip. Our assumption."""


class PlayerTable(Table):
    """One [[player]] of the file."""

    name: str = Field(min_length=1)
    id: str | None = None
    stature_mm: float | None = None
    reach_mm: list[float] | None = Field(default=None, min_length=2, max_length=2)
    shoulder_breadth_mm: float | None = Field(default=None, ge=250.0, le=800.0)
    colour: str | None = None
    colour_name: str | None = None
    sign: str | None = Field(default=None, min_length=1)
    skills: list[str] | None = None
    colour_vision: Literal["full", "protan", "deutan", "tritan", "none"] = "full"
    habits: list[str] = Field(default_factory=list)


class EnsembleTable(Table):
    """The whole file."""

    format: str
    player: list[PlayerTable] = Field(min_length=1, max_length=MOST_PLAYERS)


def players_from_toml(data: bytes, where: str = "ensemble.toml") -> tuple[Player, ...]:
    """The players of an ensemble file, in its order.

    Colours that the file leaves open come from the palette in order, signs from the name. Without a stature a player
    needs a measured reach and shoulder breadth; the stature is then worked back from the breadth.

    Raises
    ------
    BadInput : a slip in the file; two players with one name, id, colour or sign; an unknown technique.
    """
    tables = checked(EnsembleTable, data, where, FORMAT).player
    _one_each("name", [_plain(row.name) for row in tables], where)
    hues, signs = _hues(tables, where), _signs(tables)
    players = tuple(
        _player(row, colour, sign, _where(where, row)) for row, colour, sign in zip(tables, hues, signs, strict=True)
    )
    _one_each("id", [player.id for player in players], where)
    _one_each("colour", [player.colour for player in players], where)
    _one_each("sign", [player.sign for player in players], where)
    return players


def player_id(name: str) -> str:
    """A short id from a name: lower case letters and digits ("Zoë B." gives "zoe-b")."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")


def _where(where: str, row: PlayerTable) -> str:
    return f"{where}, player {row.name}"


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _one_each(what: str, values: list[str], where: str) -> None:
    """Refuse a list in which two players share a value."""
    twice = next((value for value, times in Counter(values).items() if times > 1), None)
    if twice is not None:
        raise BadInput(
            f"two players have one {what}", where=where, value=twice, hint=f"give each a {what} of their own"
        )


def _player(row: PlayerTable, colour: Hue, sign: str, where: str) -> Player:
    identity = row.id or player_id(row.name)
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", identity):
        raise BadInput("a player's id is lower-case letters, digits and -", where=where, value=identity, hint="add id")
    return Player(
        id=identity,
        name=row.name,
        stature_mm=_stature_mm(row, where),
        measured_reach_mm=_reach_mm(row, where),
        measured_breadth_mm=row.shoulder_breadth_mm,
        colour=colour.value,
        colour_name=colour.name,
        sign=sign,
        skills=None
        if row.skills is None
        else frozenset(technique_named(text, f"{where}, skills") for text in row.skills),
        colour_vision=row.colour_vision,
        habits=tuple(row.habits),
    )


def _stature_mm(row: PlayerTable, where: str) -> float:
    if row.stature_mm is not None:
        return _possible_mm(row.stature_mm, where)
    if row.reach_mm is None or row.shoulder_breadth_mm is None:
        raise BadInput(
            "a body size is missing", where=where, allowed="stature_mm, or both reach_mm and shoulder_breadth_mm"
        )
    return _possible_mm(row.shoulder_breadth_mm / SHOULDER_BREADTH_SHARE, where)


def _possible_mm(stature_mm: float, where: str) -> float:
    low, high = STATURE_RANGE_MM
    if low <= stature_mm <= high:
        return stature_mm
    hint = next(
        (f"was it given in {unit}?" for unit, mm in (("cm", 10), ("m", 1000)) if low <= stature_mm * mm <= high), ""
    )
    allowed = f"{low:.0f} to {high:.0f}"
    raise BadInput(
        "stature_mm is outside the possible range", where=where, value=stature_mm, allowed=allowed, hint=hint
    )


def _reach_mm(row: PlayerTable, where: str) -> tuple[float, float] | None:
    if row.reach_mm is None:
        return None
    comfortable, full = row.reach_mm
    if not 200.0 <= comfortable <= full <= 1600.0:
        allowed = "[comfortable, full] in mm, 200 to 1600, the comfortable one first"
        raise BadInput("reach_mm is not possible", where=where, value=row.reach_mm, allowed=allowed)
    return comfortable, full


def _hues(tables: list[PlayerTable], where: str) -> list[Hue]:
    """Each player's colour: the written one, or the next of the palette that nobody wrote."""
    written = [None if row.colour is None else hue(row.colour, _where(where, row), row.colour_name) for row in tables]
    taken = {colour.value for colour in written if colour is not None}
    free = iter([row for row in PALETTE if row.value not in taken])
    chosen = [colour or next(free, None) for colour in written]
    bare = next((row for row, colour in zip(tables, chosen, strict=True) if colour is None), None)
    if bare is not None:
        raise BadInput(
            f"the palette has only {len(PALETTE)} colours",
            where=_where(where, bare),
            hint="give every further player a colour and a colour_name",
        )
    return [colour for colour in chosen if colour is not None]


def _signs(tables: list[PlayerTable]) -> list[str]:
    """Each player's sign: the written one, or the shortest start of the name that nobody else has."""
    taken = {row.sign for row in tables if row.sign is not None}
    signs: list[str] = []
    for row in tables:
        sign = row.sign or next(text for text in _starts(row.name) if text not in taken)
        taken.add(sign)
        signs.append(sign)
    return signs


def _starts(name: str) -> list[str]:
    letters = "".join(letter for letter in name if letter.isalnum()) or "?"
    starts = [letters[:1].upper(), *(letters[0].upper() + letters[n] for n in range(1, len(letters)))]
    return [*starts, *(f"{starts[0]}{number}" for number in range(2, MOST_PLAYERS + 3))]
