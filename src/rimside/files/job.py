"""What the commands do with a production folder: read a score, cast, keep what was stopped, print books."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from rimside import flow
from rimside.casting import refit
from rimside.casting.pin import Pin
from rimside.casting.refit import Earlier
from rimside.casting.result import Casting
from rimside.casting.verify import Breach, verify
from rimside.errors import BadInput, Interrupted
from rimside.files import project
from rimside.files.atomic import read_file
from rimside.files.names import scheme_named
from rimside.files.project import Production
from rimside.kit import Kit
from rimside.paper import book
from rimside.paper.material import BookInput
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.pitch import LabelScheme
from rimside.score import reading as score_reading
from rimside.score import words

Report = Callable[[str, float], None]
"""Told the name of the stage of long work, and the share of it that is done, 0 to 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """Everything that one cast needs, read and found good; `notes` are what a person should know about it.

    `keep` is the casting that it goes on from, `kept_sha` the SHA-256 of its file, `known` the question posed before.
    """

    production: Production
    name: str
    reading: score_reading.Reading
    piano: Piano
    players: tuple[Player, ...]
    kit: Kit
    seconds: float
    seed: int
    like: Earlier | None = None
    notes: tuple[str, ...] = ()
    pins: tuple[Pin, ...] = ()
    keep: Casting | None = None
    kept_sha: str = ""
    known: flow.Posed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A casting that lies on the disc, and what the judge found in it; `kept` is the one that it goes on from."""

    name: str
    path: Path
    casting: Casting
    breaches: tuple[Breach, ...]
    notes: tuple[str, ...] = ()
    kept: Casting | None = None

    @property
    def whole(self) -> bool:
        """Whether everything is cast and nothing is broken."""
        return not self.casting.uncast and not self.breaches

    @property
    def altered(self) -> tuple[str, ...]:
        """The figures that are not as they were in the casting that it goes on from."""
        before = {row.figure: row for row in self.kept.cast} if self.kept is not None else {}
        now = {row.figure: row for row in self.casting.cast}
        return tuple(f.id for f in self.casting.figures if now.get(f.id) != before.get(f.id))


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """One printed book and the casting it shows; `warning` says when that is out of date."""

    name: str
    path: Path
    pages_of: Casting
    warning: str

    @property
    def whole(self) -> bool:
        """Whether it shows an up-to-date casting with nothing uncast."""
        return not self.warning and not self.pages_of.uncast


def reading_of(source: str, labels: str | None = None) -> score_reading.Reading:
    """The reading of a production's score, or of a score by itself in the usual words.

    Parameters
    ----------
    labels : the label scheme of a score by itself; a production names its own.

    Raises
    ------
    BadInput : no such folder or file, or a slip in it.
    """
    path = Path(source)
    if path.is_dir():
        if labels is not None:
            raise BadInput("a production names its own label scheme", where="--labels", value=labels)
        return project.load(path).reading()
    scheme = LabelScheme.SCIENTIFIC if labels is None else scheme_named(labels, "--labels")
    return score_reading.read(read_file(path, str(path)), path.name, words.vocabulary_from({}), scheme)


def prepare(
    folder: str,
    piano: str | None = None,
    without: tuple[str, ...] = (),
    seconds: float | None = None,
    seed: int | None = None,
    like: str | None = None,
    keep: str | None = None,
) -> Ready:
    """Read all that one cast needs, so that slips are told before the long work begins.

    Parameters
    ----------
    piano : its name, the production's main one when None.
    without : names or ids of absent players.
    seconds, seed : in place of those in production.toml.
    like : the name of an earlier casting that is to be changed as little as possible.
    keep : the name of a casting to go on from; piano and absent players are that casting's.

    Raises
    ------
    BadInput : a slip in a file or an option.
    """
    return made_ready(project.load(Path(folder)), piano, without, seconds, seed, like, keep)


def made_ready(
    production: Production,
    piano: str | None,
    without: tuple[str, ...],
    seconds: float | None,
    seed: int | None,
    like: str | None,
    keep: str | None = None,
    reading: score_reading.Reading | None = None,
) -> Ready:
    """The same for a production that is already read, and perhaps its score."""
    everybody = production.players()
    kept = None if keep is None else _kept(production, keep, piano, without)
    if keep is not None:
        piano, without = project.piano_of(keep), project.absent_of(keep)
    present = project.line_up(everybody, without)
    absent = tuple(player.id for player in everybody if player not in present)
    reading = production.reading() if reading is None else reading
    instrument = production.piano(piano)
    name = piano or production.facts.piano
    earlier, notes = (None, ()) if like is None else earlier_casting(production, reading, like)
    return Ready(
        production=production,
        name=project.casting_name(name, absent),
        piano=instrument,
        players=present,
        kit=production.kit(),
        reading=reading,
        pins=production.pins(reading, instrument),
        keep=kept,
        seconds=_at_least(1.0, "--seconds", production.facts.seconds if seconds is None else seconds),
        seed=int(_at_least(0, "--seed", production.facts.seed if seed is None else seed)),
        like=earlier,
        notes=notes,
    )


def earlier_casting(
    production: Production, reading: score_reading.Reading, like: str
) -> tuple[Earlier, tuple[str, ...]]:
    """A casting to stay close to, and what a person should know about it: inputs and figures that changed since.

    Raises
    ------
    BadInput : no such casting, or one of another score.
    """
    name = project.bare_name(like)
    casting = project.read_casting(production, name)
    found = refit.compare(casting, reading.figures)
    differs = _figures("no longer the same", found.other) + _figures("no longer in the score", found.gone)
    if found.another_score:
        raise BadInput(
            "is a casting of another score",
            where=f"{project.CASTINGS}/{name}.json",
            value="; ".join(differs),
            hint=f"cast {production.facts.score} first, without --like",
        )
    differs += _figures("new since then", found.new)
    old = project.out_of_date(production, casting, name)
    stale = (old, *(() if differs else ("its figures are still those of the score",))) if old else ()
    return Earlier(name=name, casting=casting), (*stale, *differs)


def _figures(state: str, names: tuple[str, ...], most: int = 8) -> tuple[str, ...]:
    """Figures in one state, the first few by name; nothing when there are none."""
    if not names:
        return ()
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return (
        f"{len(names)} {'figure is' if len(names) == 1 else 'figures are'} {state}: {', '.join(names[:most])}{more}",
    )


def _kept(production: Production, name: str, piano: str | None, without: tuple[str, ...]) -> Casting:
    """The casting to go on from; BadInput unless only pins have changed since it was made."""
    if piano is not None or without:
        value = "--piano" if piano is not None else "--without"
        raise BadInput("a kept casting has its own piano and players", where="--keep", value=value, hint="leave it out")
    casting = project.read_casting(production, name)
    changed = set(project.changed_since(production, casting, name))
    if other := changed - {project.PINS, project.PRODUCTION}:
        raise BadInput(
            f"more than pins has changed since casting {name} was made",
            where="--keep",
            value=", ".join(sorted(other)),
            hint="cast without --keep",
        )
    return casting


def _at_least(least: float, option: str, value: float) -> float:
    if not least <= value < 2**31:
        raise BadInput("is out of range", where=option, value=value, allowed=f"{least:g} or more")
    return value


def cast(ready: Ready, report: Report) -> Done:
    """Cast and write the plan; the version before it stays in castings/earlier.

    Raises
    ------
    Interrupted : a person stopped it; nothing was written, and the error holds the best plan so far.
    BadInput : the disc refused the file.
    """
    return keep(ready, *solve(ready, report))


def solve(ready: Ready, report: Report) -> tuple[Casting, tuple[Breach, ...]]:
    """The casting and what the judge found in it; nothing is written."""
    casting = flow.plan(
        ready.reading,
        ready.piano,
        ready.players,
        ready.kit,
        seconds=ready.seconds,
        seed=ready.seed,
        progress=report,
        like=ready.like,
        pins=ready.pins,
        keep=ready.keep,
        known=ready.known,
    )
    return casting, tuple(verify(casting, ready.piano, ready.players, ready.kit))


def going_on(
    production: Production, name: str, reading: score_reading.Reading | None = None, known: flow.Posed | None = None
) -> Ready:
    """What casting goes on from a casting that there is.

    Raises
    ------
    BadInput : a slip in a file, or a casting that is out of date for more than its pins.
    """
    sha = project.casting_sha(production, name)
    return replace(made_ready(production, None, (), None, None, None, name, reading), known=known, kept_sha=sha)


def posed(production: Production, name: str, reading: score_reading.Reading | None = None) -> flow.Posed:
    """The question of a casting, good for any pins."""
    piano, without = project.piano_of(name), project.absent_of(name)
    ready = made_ready(production, piano, without, None, None, None, reading=reading)
    return flow.posed(ready.reading, ready.piano, ready.players, ready.kit, ready.pins)


def keep(ready: Ready, casting: Casting, breaches: tuple[Breach, ...]) -> Done:
    """Write a casting; the version before it stays in castings/earlier."""
    path = project.write_casting(ready.production, casting, ready.name)
    return Done(name=ready.name, path=path, casting=casting, breaches=breaches, notes=ready.notes, kept=ready.keep)


def keep_best(ready: Ready, stopped: Interrupted) -> str:
    """Keep the best plan of work that was stopped beside the whole plans, and say in words where it is."""
    best = stopped.best
    if not isinstance(best, Casting):
        return "stopped before there was a plan; every file is as it was"
    path = project.write_casting(ready.production, best, ready.name, finished=False)
    kept = project.casting_path(ready.production, ready.name)
    count = len(best.figures)
    return (
        f"stopped; the best plan so far casts {count - len(best.uncast)} of {count} figures and is in {path}; "
        f"{kept} is as it was; to use the new one: mv {path} {kept}"
    )


def books(folder: str, casting: str | None, every: bool, report: Report) -> tuple[Book, ...]:
    """Print the book of one casting, or of all, into the folder book.

    Parameters
    ----------
    casting : its name; the main piano's with everybody there when None.

    Raises
    ------
    BadInput : no such casting, a slip in a file, or the disc refused.
    """
    production = project.load(Path(folder))
    names = project.casting_names(production.folder) if every else (casting or production.facts.piano,)
    if not names:
        hint = f"rimside cast {folder} makes one"
        raise BadInput("there is no casting to print", where=project.CASTINGS, hint=hint)
    castings = [project.read_casting(production, name) for name in names]
    reading, printed = production.reading(), []
    for number, (name, plan) in enumerate(zip(names, castings, strict=True)):
        report(f"book {name}", number / len(names))
        printed.append(_book(production, name, plan, reading))
    report("books", 1.0)
    return tuple(printed)


def _book(production: Production, name: str, casting: Casting, reading: score_reading.Reading) -> Book:
    shown = material(production, name, casting, reading)
    path = project.write_book(production, name, book.make_book(shown))
    return Book(name=name, path=path, pages_of=casting, warning=project.out_of_date(production, casting, name))


def material(production: Production, name: str, casting: Casting, reading: score_reading.Reading) -> BookInput:
    """A casting with all that paper and page show beside it, from the files as they are now.

    Raises
    ------
    BadInput : a slip in a file, or a player of the casting whom the ensemble no longer lists.
    """
    facts, players = production.facts, _players_of(production, casting, name)
    notes = facts.place, facts.date, project.out_of_date(production, casting, name)
    return BookInput(
        title=facts.title,
        ensemble_name=facts.ensemble,
        casting=casting,
        score=reading.score,
        piano=production.piano(project.piano_of(name)),
        players=players,
        absent=tuple(player for player in production.players() if player not in players),
        kit=production.kit(),
        scheme=facts.labels,
        notes=tuple(line for line in notes if line),
        pitch_colours=facts.pitch_colours,
    )


def _players_of(production: Production, casting: Casting, name: str) -> tuple[Player, ...]:
    """The players of a casting as the ensemble's file has them now."""
    ids = {player.id for player in casting.players}
    present = tuple(player for player in production.players() if player.id in ids)
    gone = ids - {player.id for player in present}
    if gone:
        what = f"{project.ENSEMBLE} no longer lists players of this casting"
        value = ", ".join(sorted(gone))
        raise BadInput(what, where=f"{project.CASTINGS}/{name}.json", value=value, hint="cast again")
    return present
