"""The whole job on one screen: score, piano, people and kit become a casting."""

from __future__ import annotations

from dataclasses import replace

from rimside.casting import refit
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.chores import cue_chores, mute_chores
from rimside.casting.fallback import with_fallback
from rimside.casting.loadin import with_load
from rimside.casting.pin import Pin
from rimside.casting.pin_clash import with_pin_reasons
from rimside.casting.problem import Problem
from rimside.casting.question import Question
from rimside.casting.repin import recast
from rimside.casting.result import Casting
from rimside.casting.search import Progress, Search
from rimside.casting.standing import standing_from
from rimside.casting.turns import with_turns
from rimside.errors import Interrupted
from rimside.kit import Kit
from rimside.people import Player
from rimside.piano.dampers import usable_pedals
from rimside.piano.model import Piano
from rimside.score.model import Pedal, PedalSpan
from rimside.score.reading import Reading

WEDGE, UNASSIGNED = "wedge", "unassigned"


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
) -> Casting:
    """Cast a score on a piano, as the pins allow.

    Parameters
    ----------
    like : an earlier casting to stay as close to as can be.
    keep : a casting of the same question with other pins: only what the changed pins touch is decided anew.

    Raises
    ------
    Interrupted : a person stopped the search; it carries the best casting so far.
    BadInput : a pin that cannot be meant so.
    """
    pedals, by = pedals_held(reading, piano)
    figures = with_fallback(reading.figures, piano, kit, reading.instead)
    muting = mute_chores(figures, kit)
    question = Question(
        figures=figures,
        piano=piano,
        players=players,
        kit=kit,
        pedals=pedals,
        extra={
            "chores": (*muting.chores, *cue_chores(reading.score.cues, kit)),
            "mutings": muting.mutings,
            "conflicts": muting.conflicts,
        },
    )
    plain = question.problem()
    if keep is not None:
        return with_turns(with_load(recast(plain, pins, keep, seed=seed), plain), plain)
    pinned = replace(question, pins=pins)
    problem = pinned.problem()
    casting = cast(problem, by, seconds=seconds, seed=seed, progress=progress, like=like, question=pinned, load=True)
    return with_pin_reasons(casting, plain, problem, standing_from(casting, problem)) if pins else casting


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
) -> Casting:
    """Answer a problem; `pedals_by` says who or what holds its pedals.

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
        casting = with_turns(with_load(casting, problem), problem)
    if stopped:
        raise Interrupted(casting)
    return casting


def pedals_held(reading: Reading, piano: Piano) -> tuple[tuple[PedalSpan, ...], str]:
    """The pedals as written, as far as this piano has them; unwritten, the damper pedal wedged down throughout."""
    written = usable_pedals(piano, reading.score.pedals)
    if any(span.pedal in (Pedal.DAMPER, Pedal.SOSTENUTO) for span in reading.score.pedals):
        return written, UNASSIGNED
    if Pedal.DAMPER not in piano.pedals:
        return written, UNASSIGNED
    wedged = PedalSpan(pedal=Pedal.DAMPER, down_s=0.0, up_s=max(reading.score.end_s, _last_end_s(reading)))
    return (*written, wedged), WEDGE if "wedge" in piano.permissions.allowed else UNASSIGNED


def _last_end_s(reading: Reading) -> float:
    return max((figure.end_s for figure in reading.figures), default=0.0)
