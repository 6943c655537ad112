"""Is every file of a production good, and does every casting still hold?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rimside.casting.result import Casting
from rimside.casting.verify import Breach, verify
from rimside.errors import BadInput
from rimside.files import project
from rimside.files.project import ENSEMBLE, KIT, PINS, TECHNIQUES, Production


@dataclass(frozen=True, slots=True, kw_only=True)
class InputCheck:
    """One input file: what is in it, in a few words, or the slip that makes it unusable."""

    name: str
    says: str = ""
    slip: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CastingCheck:
    """One casting: how much it casts, whether it is out of date, what the judge found, or why it cannot be judged."""

    name: str
    figures: int = 0
    uncast: int = 0
    out_of_date: str = ""
    breaches: tuple[Breach, ...] = ()
    not_judged: str = ""
    slip: str = ""

    @property
    def whole(self) -> bool:
        """Whether everything is cast, nothing is broken, and it was made from the files as they are."""
        return not (self.uncast or self.out_of_date or self.breaches or self.not_judged or self.slip)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkup:
    """The state of a whole production. `unread` are the cautions that nobody has acknowledged."""

    inputs: tuple[InputCheck, ...]
    castings: tuple[CastingCheck, ...]
    books: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def slips(self) -> tuple[str, ...]:
        """Everything that is bad input, one sentence each; what spoils two files is told once."""
        told = [*(row.slip for row in self.inputs), *(row.slip for row in self.castings)]
        return tuple(dict.fromkeys(slip for slip in told if slip))

    @property
    def whole(self) -> bool:
        """Whether every file is good and every casting and book is whole and up to date."""
        return not self.slips and not self.books and all(row.whole for row in self.castings)


def check(folder: str) -> Checkup:
    """Check a production folder whole; a slip in one file does not hide the others.

    Raises
    ------
    BadInput : no such folder, or production.toml itself is missing or wrong.
    """
    production = project.load(Path(folder))
    return Checkup(
        inputs=(InputCheck(name=project.PRODUCTION, says=production.facts.title), *_inputs(production)),
        castings=tuple(_casting(production, name) for name in project.casting_names(production.folder)),
        books=project.books_out_of_date(production),
        unread=production.facts.cautions_unread,
    )


def _inputs(production: Production) -> list[InputCheck]:
    looks: list[tuple[str, Callable[[], str]]] = [
        (TECHNIQUES, lambda: _techniques(production)),
        (production.facts.score, lambda: _score(production)),
        (ENSEMBLE, lambda: f"{len(production.players())} players"),
        (KIT, lambda: f"{len(production.kit().stock)} kinds of implement"),
        (PINS, lambda: _pins(production)),
    ]
    pianos = [(production.piano_file(name), _look_at(production, name)) for name in production.facts.pianos]
    return [_input(name, look) for name, look in (*looks, *pianos)]


def _look_at(production: Production, name: str) -> Callable[[], str]:
    def look() -> str:
        piano = production.piano(name)
        return f"{piano.title}, {len(piano.courses)} courses, {len(piano.places)} places"

    return look


def _input(name: str, look: Callable[[], str]) -> InputCheck:
    try:
        return InputCheck(name=name, says=look())
    except BadInput as slip:
        return InputCheck(name=name, slip=str(slip))


def _techniques(production: Production) -> str:
    production.vocabulary()
    return "words of this score" if TECHNIQUES in production.inputs else "not there: the usual words"


def _pins(production: Production) -> str:
    if PINS not in production.inputs:
        return "not there: nothing is pinned"
    reading = production.reading()
    pins = {pin for name in production.facts.pianos for pin in production.pins(reading, production.piano(name))}
    return f"{len(pins)} pins on {len({pin.figure for pin in pins})} figures"


def _score(production: Production) -> str:
    reading = production.reading()
    puzzles = len(reading.score.not_understood)
    told = f", {puzzles} not understood" if puzzles else ""
    return f"{len(reading.score.notes)} notes, {len(reading.figures)} figures{told}"


def _casting(production: Production, name: str) -> CastingCheck:
    try:
        casting = project.read_casting(production, name)
    except BadInput as slip:
        return CastingCheck(name=name, slip=str(slip))
    breaches, not_judged = _judged(production, casting, name)
    return CastingCheck(
        name=name,
        figures=len(casting.figures),
        uncast=len(casting.uncast),
        out_of_date=project.out_of_date(production, casting, name),
        breaches=breaches,
        not_judged=not_judged,
    )


def _judged(production: Production, casting: Casting, name: str) -> tuple[tuple[Breach, ...], str]:
    """What the judge finds with the piano, people and kit as the files say now, or why it cannot be asked."""
    try:
        piano = production.piano(project.piano_of(name))
        everybody, kit = production.players(), production.kit()
    except BadInput as slip:
        return (), str(slip)
    cast_ids = [player.id for player in casting.players]
    present = tuple(player for player in everybody if player.id in cast_ids)
    gone = set(cast_ids) - {player.id for player in present}
    if gone:
        return (), f"{ENSEMBLE} no longer lists {', '.join(sorted(gone))}"
    return tuple(verify(casting, piano, present, kit)), ""
