"""Which figures are decided anew together, when a casting is made better bit by bit.

Every neighbourhood is drawn from a seeded source of chance: fixed cuts miss what straddles them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from random import Random

from rimside.casting import objective
from rimside.casting.draft import opened, touching
from rimside.casting.problem import Assignment, Problem

WINDOW, PLAYERS, OWN, NEAR, MOTIF = 22, 26, 12, 16, 8
"""Figures in a window of time; of a few players; before and after a move of one player, and near it in time; near each
return of a motif. A neighbourhood of some 25 figures is mostly decided, and proved, in well under a second."""

Order = list[int]
Neighbourhood = Callable[[Problem, Assignment, Order, Random], Order]


def drawn(problem: Problem, best: Assignment, order: Order, level: int, chance: Random) -> Order:
    """The next figures to decide anew for a level; never none while there are figures."""
    found = chance.choice(_WORTH_TRYING.get(level, _ANY))(problem, best, order, chance)
    return found or _window(problem, best, order, chance)


def apart(problem: Problem, best: Assignment, one: Order, other: Order) -> bool:
    """Whether two neighbourhoods can be decided at one time: neither sees a task or a bow that the other may change."""
    inside = opened(problem, one), opened(problem, other)
    if not inside[0].isdisjoint(inside[1]):
        return False
    bows = [{problem.tasks[index].bow_key for index in tasks} - {None} for tasks in inside]
    return bows[0].isdisjoint(bows[1]) and all(
        inside[1 - n].isdisjoint(touching(problem, inside[n], best)) for n in (0, 1)
    )


def _window(problem: Problem, best: Assignment, order: Order, chance: Random) -> Order:
    middle = chance.randrange(len(order))
    return order[max(0, middle - WINDOW // 2) : middle + WINDOW // 2]


def _of_players(problem: Problem, best: Assignment, order: Order, chance: Random) -> Order:
    """A stretch of what two to four players do."""
    few = min(len(problem.players), chance.randint(2, 4))
    chosen = chance.sample(range(len(problem.players)), few)
    mine = [index for index in order if index in best and best[index].player in chosen]
    start = chance.randrange(max(1, len(mine) - PLAYERS + 1))
    return mine[start : start + PLAYERS]


def _around_a_move(problem: Problem, best: Assignment, order: Order, chance: Random) -> Order:
    """What one player does before and after a move, and all that is near it in time."""
    moves = list(_moves(problem, best, order))
    if not moves:
        return []
    mine, number = chance.choice(moves)
    own = mine[max(0, number - OWN // 2) : number + OWN // 2]
    return sorted({*own, *_near(problem, order, mine[number], NEAR)})


def _moves(problem: Problem, best: Assignment, order: Order) -> Iterator[tuple[Order, int]]:
    by_player: dict[int, Order] = defaultdict(list)
    for index in order:
        if index in best:
            by_player[best[index].player].append(index)
    for mine in by_player.values():
        for number, (a, b) in enumerate(pairwise(mine), start=1):
            if best[a].place != best[b].place:
                yield mine, number


def _near(problem: Problem, order: Order, index: int, count: int) -> Order:
    at_s = problem.tasks[index].start_s
    return sorted(order, key=lambda other: (abs(problem.tasks[other].start_s - at_s), other))[:count]


def _of_motif(problem: Problem, best: Assignment, order: Order, chance: Random) -> Order:
    """A motif that more than one player has: its returns, and what lies near two of them."""
    who: dict[str, Order] = defaultdict(list)
    for index in order:
        if index in best and problem.tasks[index].motif:
            who[problem.tasks[index].motif].append(index)
    torn = [mine for mine in who.values() if len({best[index].player for index in mine}) > 1]
    if not torn:
        return []
    mine = chance.choice(torn)
    chosen = chance.sample(mine, min(2, len(mine)))
    near = [other for index in chosen for other in _near(problem, order, index, MOTIF)]
    return sorted({*mine[:PLAYERS], *near})


def _of_extremes(problem: Problem, best: Assignment, order: Order, chance: Random) -> Order:
    """What the player with most and one other do, cut to a stretch."""
    busy: dict[int, int] = dict.fromkeys(range(len(problem.players)), 0)
    for index, choice in best.items():
        busy[choice.player] += objective.played_ms(problem.tasks[index])
    most = max(busy, key=lambda player: (busy[player], -player))
    other = chance.choice([player for player in busy if player != most] or [most])
    mine = [index for index in order if index in best and best[index].player in (most, other)]
    start = chance.randrange(max(1, len(mine) - PLAYERS + 1))
    return mine[start : start + PLAYERS]


_ANY: tuple[Neighbourhood, ...] = (_window, _window, _of_players)
_WORTH_TRYING: Mapping[int, tuple[Neighbourhood, ...]] = {
    objective.MOVES: (_window, _window, _of_players, _around_a_move),
    objective.RETURNS: (_of_motif, _of_motif, _of_players, _window),
    objective.MEMORY: (_of_motif, _of_players, _of_extremes),
    objective.LOAD: (_of_extremes, _of_players),
}
