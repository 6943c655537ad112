"""The whole job on one screen: score, piano, people and kit become a casting."""

from __future__ import annotations

from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.options import build_problem
from rimside.casting.pedals import PedalPlan, plan_pedals
from rimside.casting.problem import Problem
from rimside.casting.result import Casting
from rimside.casting.search import Progress, Search
from rimside.errors import Interrupted
from rimside.kit import Kit
from rimside.people import Player
from rimside.piano.model import Piano
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
) -> Casting:
    """Cast a score on a piano.

    Raises
    ------
    Interrupted : a person stopped the search; it carries the best casting so far.
    """
    pedals = pedals_held(reading, piano, kit)
    problem = build_problem(reading.figures, piano, players, kit, pedals.spans)
    by = WEDGE if any(holders.wedge and not holders.hold for holders in pedals.holders) else UNASSIGNED
    return cast(problem, by, seconds=seconds, seed=seed, progress=progress)


def cast(
    problem: Problem,
    pedals_by: str,
    *,
    seconds: float,
    seed: int = 0,
    depth: int = 6,
    progress: Progress | None = None,
) -> Casting:
    """Answer a question that is already put; `pedals_by` says who or what holds its pedals."""
    search = Search(problem=problem, seconds=seconds, seed=seed, depth=depth, progress=progress)
    stopped = False
    try:
        search.run()
    except KeyboardInterrupt:
        stopped = True
    actions = pedal_actions(problem.pedals, pedals_by)
    spent_s = round(search.spent_s, 3)
    casting = assemble(problem, search.best, search.proofs(), actions, spent_s, explain=not stopped)
    if stopped:
        raise Interrupted(casting)
    return casting


def pedals_held(reading: Reading, piano: Piano, kit: Kit) -> PedalPlan:
    """The pedals as written; where nothing is written of dampers, the fewest actions that serve the figures."""
    return plan_pedals(reading.figures, piano, reading.score.pedals, kit, end_s=reading.score.end_s)
