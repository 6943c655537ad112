"""The whole job on one screen: score, piano, people and kit become a casting."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rimside.casting import refit
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.fallback import with_fallback
from rimside.casting.loadin import with_load
from rimside.casting.pedals.plan import UNASSIGNED as UNASSIGNED
from rimside.casting.pedals.plan import WEDGE as WEDGE
from rimside.casting.pedals.plan import PedalPlan
from rimside.casting.pin import Pin
from rimside.casting.pin_clash import with_pin_reasons
from rimside.casting.pins import asked_kinds
from rimside.casting.problem import Problem
from rimside.casting.question import Change, Question
from rimside.casting.repin import recast
from rimside.casting.result import Casting
from rimside.casting.retry import retry
from rimside.casting.search import Progress, Search
from rimside.casting.standing import standing_from
from rimside.casting.surroundings import Surroundings
from rimside.casting.touches import with_best_nodes
from rimside.casting.turns import with_turns
from rimside.casting.verify import verify
from rimside.errors import Interrupted
from rimside.kit import Kit
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.score.model import Figure
from rimside.score.reading import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Posed:
    """A question with its pins, and what follows from it without them; good for other pins as well, at once."""

    question: Question
    pedals: PedalPlan | None
    plain: Problem

    def pinned(self, pins: tuple[Pin, ...]) -> Posed:
        """The same question with other pins."""
        question = replace(self.question, pins=pins)
        kinds = [stock.kind for stock in question.kit.stock]
        same = asked_kinds(pins, kinds) == asked_kinds(self.question.pins, kinds)
        return replace(self, question=question, plain=self.plain if same else question.plain())


def posed(reading: Reading, piano: Piano, players: tuple[Player, ...], kit: Kit, pins: tuple[Pin, ...] = ()) -> Posed:
    """The question of a score on a piano."""
    asked = replace(question(reading, piano, players, kit), pins=pins)
    return Posed(question=asked, pedals=asked.pedal_plan(), plain=asked.plain())


def plan(
    reading: Reading,
    piano: Piano,
    players: tuple[Player, ...],
    kit: Kit,
    *,
    seconds: float = 30.0,
    seed: int = 0,
    progress: Progress | None = None,
    like: refit.Earlier | None = None,
    pins: tuple[Pin, ...] = (),
    keep: Casting | None = None,
    known: Posed | None = None,
) -> Casting:
    """Cast a score on a piano, as the pins allow.

    Parameters
    ----------
    like : an earlier casting to stay as close to as can be.
    keep : a casting of the same question with other pins: only what the changed pins touch is decided anew.
    known : the same question, posed before with whatever pins.

    Raises
    ------
    Interrupted : a person stopped the search; it carries the best casting so far.
    BadInput : a pin that cannot be meant so.
    """
    now = posed(reading, piano, players, kit, pins) if known is None else known.pinned(pins)
    pinned, plain, pedals = now.question, now.plain, now.pedals
    if keep is not None:
        again = recast(plain, pins, keep, seed=seed, question=pinned)
        return _laid_out(again, plain, pedals)
    problem = pinned.problem()
    casting = cast(
        problem,
        UNASSIGNED,
        seconds=seconds,
        seed=seed,
        progress=progress,
        like=like,
        question=pinned,
        load=True,
        pedals=pedals,
    )
    return with_pin_reasons(casting, plain, problem, standing_from(casting, problem)) if pins else casting


def mended(
    reading: Reading,
    piano: Piano,
    players: tuple[Player, ...],
    kit: Kit,
    casting: Casting,
    figure: str,
    change: Change,
    pins: tuple[Pin, ...] = (),
) -> tuple[Question, Casting]:
    """What is asked with one change made for an uncast figure, and the casting with it: as little else changes as can.

    Parameters
    ----------
    casting : the answer to the question as it is.
    figure, change : the uncast figure, and what one of its mends changes.

    Raises
    ------
    BadInput : there is no such figure, or no room for it with this change any more.
    """
    asked = replace(question(reading, piano, players, kit), pins=pins)
    found, castings = retry(asked, casting, figure, change)
    now, pedals = found.question, found.question.pedal_plan()
    for calmer in castings[:-1]:
        whole = _laid_out(calmer, found.problem, pedals)
        if not verify(whole, now.piano, now.players, now.kit):
            return now, whole
    return now, _laid_out(castings[-1], found.problem, pedals)


def question(reading: Reading, piano: Piano, players: tuple[Player, ...], kit: Kit) -> Question:
    """What is asked when a score is cast on a piano, without pins."""
    figures = _figures(reading, piano, kit)
    return Question(figures=figures, piano=piano, players=players, kit=kit, surroundings=_surroundings(reading))


def cast(
    problem: Problem,
    pedals_by: str,
    *,
    seconds: float,
    seed: int = 0,
    depth: int = 6,
    progress: Progress | None = None,
    like: refit.Earlier | None = None,
    question: Question | None = None,
    load: bool = False,
    pedals: PedalPlan | None = None,
) -> Casting:
    """Answer a problem; `pedals_by` says who or what holds its pedals where no plan of `pedals` is laid out.

    With the `question` that it was built from, what would mend uncast figures is sought after the search. With
    `load`, load-in and load-out are laid out around the piece, and cards are turned in it.
    """
    if like is not None:
        problem = refit.liking(problem, like.casting)
    search = Search(problem=problem, seconds=seconds, seed=seed, depth=depth, progress=progress)
    stopped = False
    try:
        search.run()
    except KeyboardInterrupt:
        stopped = True
    actions = pedal_actions(problem.pedals, pedals_by)
    spent_s = round(search.spent_s, 3)
    answer = search.best, search.proofs(), actions, spent_s
    try:
        casting = assemble(problem, *answer, explain=not stopped, question=question)
    except KeyboardInterrupt:
        stopped, casting = True, assemble(problem, *answer, explain=False)
    if like is not None:
        casting = refit.marked(casting, problem, like)
    if load:
        casting = _laid_out(casting, problem, pedals)
    if stopped:
        raise Interrupted(casting)
    return casting


def _laid_out(casting: Casting, problem: Problem, pedals: PedalPlan | None) -> Casting:
    """The casting with its pedals held by those who were found for it, load-in and load-out, and cards turned."""
    if pedals is not None:
        casting = replace(casting, pedals=pedals.actions_by(casting.chores))
    return with_turns(with_load(casting, problem), problem)


def _figures(reading: Reading, piano: Piano, kit: Kit) -> tuple[Figure, ...]:
    """The figures as this piano has them: what stands in for a technique, the best node of a partial."""
    return with_best_nodes(with_fallback(reading.figures, piano, kit, reading.instead), piano, kit)


def _surroundings(reading: Reading) -> Surroundings:
    score = reading.score
    return Surroundings(cues=score.cues, written=score.pedals, end_s=score.end_s)


def pedals_held(reading: Reading, piano: Piano, kit: Kit) -> PedalPlan:
    """The pedals as written; where nothing is written of dampers, the fewest actions that serve the figures."""
    figures = _figures(reading, piano, kit)
    return _surroundings(reading).pedals(figures, piano, kit)
