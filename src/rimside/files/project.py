"""The production folder: everything that people wrote, read once; the castings, read, written and dated."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from rimside.casting import result_json
from rimside.casting.pin import Pin
from rimside.casting.result import Casting
from rimside.errors import BadInput
from rimside.files.atomic import read_file, write_file
from rimside.files.names import unknown
from rimside.files.schema_kit import kit_from_toml
from rimside.files.schema_people import players_from_toml
from rimside.files.schema_piano import piano_from_toml
from rimside.files.schema_pins import Known, pins_from_toml
from rimside.files.schema_production import Facts, facts_from_toml
from rimside.files.toml import read_toml
from rimside.kit import Kit
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.score import reading as score_reading
from rimside.score import words

PRODUCTION, TECHNIQUES, ENSEMBLE, KIT = "production.toml", "techniques.toml", "ensemble.toml", "kit.toml"
PINS = "pins.toml"
PIANOS, CASTINGS, UNFINISHED, BOOK, SURVEY = "pianos", "castings", "unfinished", "book", "survey"
BOOK_FORMAT = "rimside-book/1"
WITHOUT = "--without-"
"""Stands in the name of a casting before each absent player."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Production:
    """One production as it lay on the disc at one moment.

    `inputs` holds the bytes of every file that people wrote, by its name in the folder; what the files say is worked
    out from these bytes when asked for, so that one bad file does not hide the others.
    """

    folder: Path
    facts: Facts
    inputs: Mapping[str, bytes]

    @property
    def hashes(self) -> dict[str, str]:
        """The SHA-256 of every input, by its name in the folder."""
        return {name: hashlib.sha256(data).hexdigest() for name, data in self.inputs.items()}

    def players(self) -> tuple[Player, ...]:
        """The whole ensemble, in the order of its file."""
        return players_from_toml(self._input(ENSEMBLE), ENSEMBLE)

    def kit(self) -> Kit:
        """The implements and times."""
        return kit_from_toml(self._input(KIT), KIT, self.facts.labels)

    def reading(self) -> score_reading.Reading:
        """The score as notes and figures, in this production's words."""
        return score_reading.read(self._input(self.facts.score), self.facts.score, self.vocabulary(), self.facts.labels)

    def vocabulary(self) -> words.Vocabulary:
        """Which words in the score mean which technique; the usual ones when there is no techniques.toml."""
        table = read_toml(self.inputs[TECHNIQUES], TECHNIQUES) if TECHNIQUES in self.inputs else {}
        try:
            return words.vocabulary_from(table)
        except BadInput as slip:
            raise slip if slip.where.startswith(TECHNIQUES) else slip.at(TECHNIQUES) from slip

    def piano(self, name: str | None = None) -> Piano:
        """A piano of this production by name, the main one when none is named."""
        where = self.piano_file(name)
        piano = piano_from_toml(self._input(where), where)
        if where != f"{PIANOS}/{piano.name}.toml":
            hint = "give file and piano one name"
            raise BadInput(
                "the piano has another name than its file", where=f"{where}, name", value=piano.name, hint=hint
            )
        return piano

    def pins(self, reading: score_reading.Reading, piano: Piano) -> tuple[Pin, ...]:
        """What people have pinned, as far as it is about this piano; nothing when there is no pins.toml."""
        if PINS not in self.inputs:
            return ()
        known = Known(
            figures=reading.figures, players=self.players(), piano=piano, pianos=self.facts.pianos, kit=self.kit()
        )
        return pins_from_toml(self.inputs[PINS], known, PINS)

    def piano_file(self, name: str | None = None) -> str:
        """The name of a piano's file; BadInput when production.toml does not list that piano."""
        chosen = self.facts.piano if name is None else name
        if chosen not in self.facts.pianos:
            raise unknown("piano", chosen, self.facts.pianos, f"{PRODUCTION}, pianos")
        return f"{PIANOS}/{chosen}.toml"

    def made_from(self, piano: str) -> dict[str, str]:
        """The SHA-256 of every input that a casting for this piano depends on."""
        needed = (PRODUCTION, self.facts.score, TECHNIQUES, ENSEMBLE, KIT, PINS, self.piano_file(piano))
        return {name: digest for name, digest in self.hashes.items() if name in needed}

    def _input(self, name: str) -> bytes:
        if name not in self.inputs:
            read_file(self.folder / name, name)
            raise BadInput("appeared while the folder was being read", where=name, hint="do it again")
        return self.inputs[name]


def load(folder: Path) -> Production:
    """Read a production folder.

    Only production.toml must be right for this; a file that is missing or wrong is told when its content is asked for.

    Raises
    ------
    BadInput : no such folder, no production.toml in it, or a slip in that file.
    """
    if not folder.is_dir():
        raise BadInput("there is no such folder", where=str(folder), hint=f"rimside new {folder} makes one")
    if not (folder / PRODUCTION).exists():
        hint = "name the folder that holds production.toml, or make one with rimside new"
        raise BadInput(f"holds no {PRODUCTION}", where=str(folder), hint=hint)
    data = read_file(folder / PRODUCTION, PRODUCTION)
    facts = facts_from_toml(data, PRODUCTION)
    names = [facts.score, TECHNIQUES, ENSEMBLE, KIT, PINS, *(f"{PIANOS}/{piano}.toml" for piano in facts.pianos)]
    inputs = {name: read_file(folder / name, name) for name in names if (folder / name).exists()}
    return Production(folder=folder, facts=facts, inputs={PRODUCTION: data, **inputs})


def line_up(players: tuple[Player, ...], without: tuple[str, ...] = ()) -> tuple[Player, ...]:
    """The players who are there: all but those named (by name or id).

    Raises
    ------
    BadInput : a name that nobody has, or nobody left.
    """
    absent = {player_called(players, name).id for name in without}
    present = tuple(player for player in players if player.id not in absent)
    if not present:
        raise BadInput("nobody is left to play", where="--without", value=", ".join(without))
    return present


def player_called(players: tuple[Player, ...], name: str) -> Player:
    """The player of a name or id, capitals aside; an unknown one is refused with the nearest."""
    wanted = name.strip().casefold()
    found = next((player for player in players if wanted in (player.id, player.name.casefold())), None)
    if found is None:
        raise unknown("player", name, [player.name for player in players], ENSEMBLE)
    return found


def casting_name(piano: str, absent: tuple[str, ...] = ()) -> str:
    """The name of a casting: the piano's, and the ids of absent players in alphabetical order."""
    return piano + "".join(f"{WITHOUT}{player}" for player in sorted(set(absent)))


def bare_name(casting: str) -> str:
    """The name of a casting that was named, or pointed at as a file of the folder castings."""
    return casting.removeprefix(f"{CASTINGS}/").removesuffix(".json")


def casting_names(folder: Path) -> tuple[str, ...]:
    """The names of the castings that a production folder holds, in alphabetical order."""
    return tuple(sorted(path.stem for path in (folder / CASTINGS).glob("*.json")))


def casting_path(production: Production, name: str) -> Path:
    """Where a casting of this name lies."""
    return production.folder / CASTINGS / f"{name}.json"


def casting_sha(production: Production, name: str) -> str:
    """The SHA-256 of a casting's file, empty when there is none."""
    path = casting_path(production, name)
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""


def write_casting(production: Production, casting: Casting, name: str, *, finished: bool = True) -> Path:
    """Write a casting with the hashes of what it was made from; the version before it stays in castings/earlier.

    Parameters
    ----------
    name : of the casting, which starts with its piano's name.
    finished : False for the best plan so far of work that was stopped; it goes to castings/unfinished, so that it
        never takes the place of a whole plan.

    Raises
    ------
    BadInput : the disc refused; nothing was changed.
    """
    place = casting_path(production, name)
    path = place if finished else place.parent / UNFINISHED / place.name
    data = casting_bytes(production, casting, name)
    write_file(path, data, str(path.relative_to(production.folder)))
    return path


def casting_bytes(production: Production, casting: Casting, name: str) -> bytes:
    """The file of a casting, with the hashes of the inputs that it was made from."""
    return json_bytes(result_json.to_json(dated(production, casting, name)))


def dated(production: Production, casting: Casting, name: str) -> Casting:
    """A casting with the hashes of the inputs that it was made from."""
    return replace(casting, made_from=_made_from(production, name, casting.like))


def json_bytes(table: Mapping[str, object]) -> bytes:
    """A JSON object as a file that people can compare line by line: one line for each entry of each list in it."""
    lines = (f" {json.dumps(key)}: {_entries(value)}" for key, value in table.items())
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode("utf-8")


def _entries(value: object) -> str:
    plain = partial(json.dumps, ensure_ascii=False, allow_nan=False)
    if isinstance(value, list) and value:
        return "[\n  " + ",\n  ".join(plain(entry) for entry in value) + "\n ]"
    return plain(value)


def read_casting(production: Production, name: str) -> Casting:
    """A casting of the production by name.

    Raises
    ------
    BadInput : there is none of this name, or its file is not a casting that this version reads.
    """
    where = f"{CASTINGS}/{name}.json"
    if name not in casting_names(production.folder):
        made = f"rimside cast {production.folder} --piano {piano_of(name)}"
        raise BadInput(
            "there is no such casting",
            where=where,
            allowed=", ".join(casting_names(production.folder)) or "none yet",
            hint=f"{made} makes it",
        )
    data = read_file(casting_path(production, name), where)
    casting = result_json.from_json(json_table(data, where), where)
    if casting.piano != piano_of(name):
        raise BadInput("is for another piano than its name says", where=where, value=casting.piano)
    return casting


def json_table(data: bytes, where: str) -> dict[str, Any]:
    """The object that a JSON file holds; BadInput when it holds none."""
    try:
        table = json.loads(data)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as slip:
        raise BadInput(f"is not JSON ({slip})", where=where) from slip
    if not isinstance(table, dict):
        raise BadInput("is not a JSON object", where=where, allowed="{ ... }")
    return table


def piano_of(name: str) -> str:
    """The piano that a casting of this name is for."""
    return name.partition(WITHOUT)[0]


def absent_of(name: str) -> tuple[str, ...]:
    """The ids of the players whom a casting of this name does without."""
    return tuple(name.split(WITHOUT)[1:])


def _made_from(production: Production, name: str, like: str) -> dict[str, str]:
    """The SHA-256 of every input of a casting, of the one that it stays close to as well (unless it took its place)."""
    path = casting_path(production, like)
    closely = like not in ("", name) and path.is_file()
    earlier = {f"{CASTINGS}/{path.name}": casting_sha(production, like)} if closely else {}
    return {**production.made_from(piano_of(name)), **earlier}


def changed_since(production: Production, casting: Casting, name: str) -> tuple[str, ...]:
    """The inputs that are no longer what a casting was made from, whether changed, gone or new."""
    now, made_from = _made_from(production, name, casting.like), casting.made_from
    return tuple(sorted(name for name in now.keys() | made_from.keys() if now.get(name) != made_from.get(name)))


def out_of_date(production: Production, casting: Casting, name: str) -> str:
    """One sentence when a casting is out of date, empty when it is not."""
    if piano_of(name) not in production.facts.pianos:
        return f"casting {name} is out of date: {PRODUCTION} no longer lists the piano {piano_of(name)}"
    changed = changed_since(production, casting, name)
    return f"casting {name} is out of date: {', '.join(changed)} changed" if changed else ""


def book_path(production: Production, name: str) -> Path:
    """Where the printed matter of a casting of this name lies."""
    return production.folder / BOOK / f"{name}.pdf"


def write_book(production: Production, name: str, pdf: bytes) -> Path:
    """Write a casting's book, and beside it (NAME.json) the hashes of what it was made from."""
    path = book_path(production, name)
    made = {"format": BOOK_FORMAT, "made_from": _book_made_from(production, name)}
    write_file(path, pdf, f"{BOOK}/{path.name}")
    write_file(path.with_suffix(".json"), json_bytes(made), f"{BOOK}/{name}.json")
    return path


def books_out_of_date(production: Production) -> tuple[str, ...]:
    """One sentence for each book that is no longer what its casting and inputs say."""
    told = []
    for path in sorted((production.folder / BOOK).glob("*.json")):
        where = f"{BOOK}/{path.name}"
        made_from = json_table(read_file(path, where), where).get("made_from")
        if made_from != _book_made_from(production, path.stem):
            told.append(f"book {path.stem} is out of date: print it again with rimside book")
    return tuple(told)


def _book_made_from(production: Production, name: str) -> dict[str, str]:
    """The SHA-256 of the casting, and of every input that the book shows."""
    path, piano = casting_path(production, name), piano_of(name)
    inputs = production.made_from(piano) if piano in production.facts.pianos else {}
    plan = {f"{CASTINGS}/{path.name}": casting_sha(production, name)} if path.is_file() else {}
    return {**inputs, **plan}
