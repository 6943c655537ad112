"""A tour: every piano with everybody there, and without those who may be missing; what can be played, what changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import combinations
from pathlib import Path

from rimside.casting.refit import Earlier
from rimside.casting.result import Casting, Change
from rimside.casting.verify import Breach, verify
from rimside.errors import BadInput, Interrupted, RimsideError
from rimside.files import job, project, workers
from rimside.files.job import Ready, Report
from rimside.files.project import Production
from rimside.people import Player
from rimside.piano.model import Piano


class Absences(StrEnum):
    """Who may be missing: nobody, any one, any one or two."""

    NONE = "none"
    EACH = "each"
    PAIRS = "pairs"


class State(StrEnum):
    """What became of one stop."""

    AS_IT_IS = "playable as it is"
    CHANGED = "playable with changes"
    NOT_PLAYABLE = "not playable"
    NOT_DONE = "not worked out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One piano and who is missing there, by id."""

    piano: str
    absent: tuple[str, ...]

    @property
    def name(self) -> str:
        """The name of its casting."""
        return project.casting_name(self.piano, self.absent)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What became of one stop: its casting, or in `slip` why there is none.

    `kept` means that it was done before; `changes` are those from the casting that the tour stays close to.
    """

    stop: Stop
    casting: Casting | None = None
    breaches: tuple[Breach, ...] = ()
    slip: str = ""
    kept: bool = False
    changes: tuple[Change, ...] = ()

    @property
    def state(self) -> State:
        """In one word."""
        if self.casting is None:
            return State.NOT_DONE
        if self.casting.uncast:
            return State.NOT_PLAYABLE
        return State.CHANGED if self.changes else State.AS_IT_IS

    @property
    def playable(self) -> bool:
        """Whether everything is cast and nothing is broken."""
        return self.state in (State.AS_IT_IS, State.CHANGED) and not self.breaches


@dataclass(frozen=True, slots=True, kw_only=True)
class Tour:
    """Every stop, in order of piano, then of who is missing; `like` is the casting that all stay close to."""

    like: str
    rows: tuple[Row, ...]
    notes: tuple[str, ...]

    @property
    def whole(self) -> bool:
        """Whether every stop can be played and nothing is broken."""
        return all(row.playable for row in self.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a tour is asked for: `like` is a casting's name, the first piano's (made first if need be) when None.

    `anew` casts again what is up to date; `scheduler` is the address of a cluster, None for this machine.
    """

    absences: Absences = Absences.EACH
    like: str | None = None
    seconds: float | None = None
    seed: int | None = None
    anew: bool = False
    scheduler: str | None = None


def stops(production: Production, absences: Absences) -> tuple[Stop, ...]:
    """Every piano of a production without nobody, without each one, without each two, as far as asked."""
    most = {Absences.NONE: 0, Absences.EACH: 1, Absences.PAIRS: 2}[absences]
    ids = [player.id for player in production.players()]
    missing = [absent for count in range(most + 1) for absent in combinations(ids, count)]
    return tuple(Stop(piano=piano, absent=absent) for piano in production.facts.pianos for absent in missing)


def tour(folder: str, plan: Plan, report: Report) -> Tour:
    """Cast every stop as closely to one casting as can be; each is written as soon as it is done.

    What lies there already, up to date and close to the same casting, is taken as it is.

    Raises
    ------
    BadInput : a slip in a file or option, or a cluster that does not answer; castings done before that are kept.
    Interrupted : a person stopped it; it holds the tour as far as it came.
    """
    run = _Run(production=project.load(Path(folder)), plan=plan, report=report)
    try:
        run.run()
    except KeyboardInterrupt:
        raise Interrupted(run.result()) from None
    return run.result()


def stopped_words(stopped: Interrupted) -> str:
    """What a person is told who stops a tour."""
    assert isinstance(stopped.best, Tour)
    rows = stopped.best.rows
    done = sum(row.casting is not None for row in rows)
    return (
        f"stopped; {done} of {len(rows)} stops are done and kept in {project.CASTINGS}; the same command goes on there"
    )


@dataclass(slots=True, kw_only=True)
class _Run:
    """One tour as far as it has come."""

    production: Production
    plan: Plan
    report: Report
    everybody: tuple[Player, ...] = ()
    pianos: dict[str, Piano] = field(default_factory=dict)
    rows: dict[Stop, Row] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def like(self) -> str:
        """The name of the casting that all stops stay close to."""
        return project.bare_name(self.plan.like or self.production.facts.piano)

    @property
    def stops(self) -> tuple[Stop, ...]:
        """Every stop that is asked for."""
        return stops(self.production, self.plan.absences)

    def run(self) -> None:
        """Every stop, each written as soon as it is done."""
        self.everybody = self.production.players()
        self.pianos = {name: self.production.piano(name) for name in self.production.facts.pianos}
        first = job.made_ready(self.production, None, (), self.plan.seconds, self.plan.seed, None)
        earlier = self._earlier(first)
        questions: dict[Stop, Ready] = {}
        for stop in self.stops:
            if stop.name == earlier.name:
                judged = self._judged(stop, earlier.casting)
                self.rows.setdefault(stop, Row(stop=stop, casting=earlier.casting, kept=True, breaches=judged))
            elif (done := self._done_before(stop, earlier.name)) is not None:
                self.rows[stop] = done
            elif len(stop.absent) == len(self.everybody):
                self.rows[stop] = Row(stop=stop, slip="nobody is left to play")
            else:
                present = project.line_up(self.everybody, stop.absent)
                piano = self.pianos[stop.piano]
                questions[stop] = replace(first, name=stop.name, piano=piano, players=present, like=earlier)
        self._answer(questions)

    def result(self) -> Tour:
        """What is known so far."""
        rows = (self.rows.get(stop, Row(stop=stop, slip="not reached")) for stop in self.stops)
        return Tour(like=self.like, rows=tuple(rows), notes=self.notes)

    def _earlier(self, first: Ready) -> Earlier:
        """The casting to stay close to: what people know already, so it is never cast again, only made when missing."""
        if self.plan.like is None and first.name not in project.casting_names(self.production.folder):
            stop = Stop(piano=self.production.facts.piano, absent=())
            self._answer({stop: first})
            if slip := self.rows[stop].slip:
                raise BadInput(
                    f"there is nothing to stay close to ({slip})", where=f"{project.CASTINGS}/{self.like}.json"
                )
        earlier, self.notes = job.earlier_casting(self.production, first.reading, self.like)
        return earlier

    def _up_to_date(self, name: str) -> bool:
        there = name in project.casting_names(self.production.folder)
        return there and not project.out_of_date(self.production, project.read_casting(self.production, name), name)

    def _done_before(self, stop: Stop, like: str) -> Row | None:
        """The stop's casting as it lies there, when it answers the same question."""
        if self.plan.anew or not self._up_to_date(stop.name):
            return None
        casting = project.read_casting(self.production, stop.name)
        if casting.like != like:
            return None
        return Row(stop=stop, casting=casting, kept=True, breaches=self._judged(stop, casting), changes=casting.changes)

    def _judged(self, stop: Stop, casting: Casting) -> tuple[Breach, ...]:
        present = project.line_up(self.everybody, stop.absent)
        return tuple(verify(casting, self.pianos[stop.piano], present, self.production.kit()))

    def _answer(self, questions: Mapping[Stop, Ready]) -> None:
        """Work the questions out, write each casting as it comes, and note what became of its stop."""
        asked = list(questions.items())

        def told(number: int, answer: workers.Answer | RimsideError) -> None:
            stop, ready = asked[number]
            if isinstance(answer, RimsideError):
                self.rows[stop] = Row(stop=stop, slip=str(answer))
                return
            done = job.keep(ready, *answer)
            self.rows[stop] = Row(stop=stop, casting=done.casting, breaches=done.breaches, changes=done.casting.changes)

        work = [ready for _, ready in asked]
        if self.plan.scheduler is None:
            workers.here(work, told, self.report)
        else:
            workers.on_cluster(self.plan.scheduler, work, told, self.report)
