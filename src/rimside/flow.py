"""The whole job on one screen: score, piano, people and kit become a casting."""

from __future__ import annotations

from rimside.casting import refit
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.options import build_problem
from rimside.casting.problem import Problem
from rimside.casting.result import Casting
from rimside.casting.search import Progress, Search
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
) -> Casting:
    """Cast a score on a piano; with `like`, as closely to an earlier casting as can be.

    Raises
    ------
    Interrupted : a person stopped the search; it carries the best casting so far.
    """
    pedals, by = pedals_held(reading, piano)
    problem = build_problem(reading.figures, piano, players, kit, pedals)
    return cast(problem, by, seconds=seconds, seed=seed, progress=progress, like=like)


def cast(
    problem: Problem,
    pedals_by: str,
    *,
    seconds: float,
    seed: int = 0,
    depth: int = 6,
    progress: Progress | None = None,
    like: refit.Earlier | None = None,
) -> Casting:
    """Answer a question that is already put; `pedals_by` says who or what holds its pedals."""
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
    casting = assemble(problem, search.best, search.proofs(), actions, spent_s, explain=not stopped)
    if like is not None:
        casting = refit.marked(casting, problem, like)
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
