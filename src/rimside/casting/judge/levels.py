"""The levels of the objective, counted from a casting alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations, pairwise

from rimside.casting.judge.h04_change import change_s
from rimside.casting.judge.plan import (
    TIE_S,
    WHOLE_TIE,
    Stay,
    Task,
    by_player,
    chore_stays,
    figure_stays,
    overlap,
    reach_need_mm,
    tasks_of,
)
from rimside.casting.result import Casting
from rimside.kit import Kit
from rimside.pitch import Key
from rimside.score.model import Figure

RESERVE_S = 1.0
"""The comfortable reserve of a change."""
LEAN_RISK_MS_PER_S = 100
ESSENTIAL_WEIGHT = 1000
CHANGE_WEIGHTS = {"player": 4, "place": 2, "implement": 1}
"""What each change of a refit costs."""


def levels(casting: Casting, kit: Kit) -> tuple[int, ...]:
    """The six levels of the objective, recomputed from the casting alone; lower is better.

    Returns uncast, risk (ms), moves, returns, memory and load (ms), in this order.
    """
    tasks = tasks_of(casting, kit)
    return (
        _uncast_level(casting),
        _risk_level(casting, tasks),
        _moves_level(casting, tasks),
        _returns_level(tasks),
        _memory_level(tasks),
        _load_level(casting, tasks),
    )


def _uncast_level(casting: Casting) -> int:
    given = {row.figure for row in casting.cast}
    cues = sum(chore.kind == "give cue" and chore.player is None for chore in casting.chores)
    return cues + sum(ESSENTIAL_WEIGHT if f.essential else 1 for f in casting.figures if f.id not in given)


def changed_level(casting: Casting) -> int:
    """For each figure what is hardest to relearn: another player, else another place and another implement."""
    what: dict[str, set[str]] = {}
    for change in casting.changes:
        what.setdefault(change.figure, set()).add(change.what)
    return sum(
        CHANGE_WEIGHTS["player"] if "player" in kinds else sum(CHANGE_WEIGHTS.get(kind, 0) for kind in kinds)
        for kinds in what.values()
    )


def _counted(casting: Casting, tasks: Sequence[Task]) -> list[Stay]:
    """What risk and moves are counted over: figures, and the chores inside the piece; a card is turned in passing."""
    inside = (
        stay
        for stay in chore_stays(casting)
        if _inside(casting, stay.start_s) and (stay.chore is None or stay.chore.kind != "turn card")
    )
    return sorted((*figure_stays(tasks), *inside), key=lambda stay: (stay.start_s, stay.end_s, stay.name))


def _inside(casting: Casting, start_s: float) -> bool:
    """Whether something begins within the piece, not in the load-in or the load-out."""
    return -TIE_S <= start_s < max((figure.end_s for figure in casting.figures), default=0.0) - TIE_S


def _risk_level(casting: Casting, tasks: Sequence[Task]) -> int:
    changes_ms = sum(
        _shortfall_ms(f, g, change_s(casting, f, g))
        for group in by_player(_counted(casting, tasks))
        for f, g in combinations(group, 2)
        if not overlap(f, g)
    )
    return changes_ms + sum(LEAN_RISK_MS_PER_S * _whole_s(task.figure) for task in tasks if _leans(task))


def _shortfall_ms(f: Stay, g: Stay, need_s: float) -> int:
    slack_s = g.start_s - f.end_s - need_s
    return max(0, math.ceil(1000.0 * (RESERVE_S - slack_s) - WHOLE_TIE))


def _whole_s(figure: Figure) -> int:
    return math.ceil(figure.end_s - figure.start_s - TIE_S)


def _leans(task: Task) -> bool:
    """In whole mm, to the safe side: a distance up, a reach down."""
    distance_mm = math.ceil(reach_need_mm(task) - WHOLE_TIE)
    return distance_mm > math.floor(task.player.comfortable_reach_mm + WHOLE_TIE)


def _moves_level(casting: Casting, tasks: Sequence[Task]) -> int:
    groups = by_player(_counted(casting, tasks))
    return sum(a.place.id != b.place.id for group in groups for a, b in pairwise(group))


def _returns_level(tasks: Sequence[Task]) -> int:
    players: dict[str, set[str]] = {}
    for task in tasks:
        players.setdefault(task.figure.motif, set()).add(task.player.id)
    return sum(len(who) - 1 for who in players.values())


def _memory_level(tasks: Sequence[Task]) -> int:
    """Kinds of implement (those of one pitch apart) and motifs of the player with most."""
    kept: dict[str, set[tuple[str, str, Key | None]]] = {}
    for task in tasks:
        things = kept.setdefault(task.player.id, set())
        things.add(("motif", task.figure.motif, None))
        things.update(("kind", tool.kind, tool.key) for tool in task.tools)
    return max((len(things) for things in kept.values()), default=0)


def _load_level(casting: Casting, tasks: Sequence[Task]) -> int:
    """Each figure's length counts in whole ms; a player without figures counts too."""
    busy_ms = dict.fromkeys((player.id for player in casting.players), 0)
    for task in tasks:
        busy_ms[task.player.id] += round(1000.0 * (task.figure.end_s - task.figure.start_s))
    return max(busy_ms.values(), default=0) - min(busy_ms.values(), default=0)
