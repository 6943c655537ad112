"""Cards turned: a free hand and a second in a gap, found when all else is settled.

How many things fill a card is only estimated here; paper breaks its cards at these moments as far as lines allow.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from rimside.casting.allowances import chore_s
from rimside.casting.chore import ChoreKind
from rimside.casting.problem import Problem
from rimside.casting.result import CastChore, Casting
from rimside.casting.rules.h05_room import too_close
from rimside.casting.scale import TIE_S, written_s
from rimside.casting.stays import Stay, stays

LEAST, MOST = 7, 11
"""Lines on one card, figures, chores and changes of place: a turn is sought after so many. Our estimate for A5."""


def with_turns(casting: Casting, problem: Problem) -> Casting:
    """The casting with a chore for each card to be turned; one for which there is no time names nobody, and why."""
    busy = stays(casting, problem)
    mine: dict[int, list[Stay]] = defaultdict(list)
    for stay in busy:
        mine[stay.player].append(stay)
    turns = [turn for player in sorted(mine) for turn in _turns(problem, player, mine[player], busy)]
    chores = sorted((*casting.chores, *turns), key=lambda chore: (chore.start_s, chore.id))
    return replace(casting, chores=tuple(chores))


def _turns(problem: Problem, player: int, mine: Sequence[Stay], busy: list[Stay]) -> Iterator[CastChore]:
    """One turn after another; where none fits, the card is taken to be full after the most that it may hold.

    What is found is added to `busy`, so that those who come later find it.
    """
    others = [stay for stay in busy if stay.player != player]
    card, position = 2, 0
    while _lines(mine[position:]) > MOST:
        full = range(position + 1, len(mine))
        numbers = [number for number in full if LEAST <= _lines(mine[position:number]) <= MOST]
        gaps = [(number, *_free(mine, number)) for number in numbers]
        fitting = [
            (until_s - from_s, number, turn)
            for number, from_s, until_s in gaps
            if (turn := _fitted(problem, mine, number, others)) is not None
        ]
        if fitting:
            _, position, turn = max(fitting, key=lambda row: row[:2])
            busy.append(turn)
            yield _chore(problem, player, card, turn)
        else:
            yield _none(problem, player, card, mine[numbers[0] - 1].end_s, mine[numbers[-1]].start_s)
            position = numbers[-1]
        card += 1


def _lines(things: Sequence[Stay]) -> int:
    """How many lines some things take: one each, and one for each change of place between them."""
    return len(things) + sum(a.place != b.place for a, b in pairwise(things))


def _free(mine: Sequence[Stay], number: int) -> tuple[float, float]:
    """From when to when a player is free before one thing, whatever of the earlier lasts longest."""
    return max(stay.end_s for stay in mine[:number]), mine[number].start_s


def _fitted(problem: Problem, mine: Sequence[Stay], number: int, others: Sequence[Stay]) -> Stay | None:
    """A turn between two things, right after the first where the player still stands, or right before the second."""
    settle_s, after = problem.settle_s, mine[number]
    before = max(mine[:number], key=lambda stay: stay.end_s)
    walk_s = problem.walk_s[before.place][after.place]
    first_s = written_s(max(stay.until_s for stay in mine[:number]) + settle_s)
    last_s = written_s(min(stay.from_s for stay in mine[number:]) - settle_s - _turn_s(problem))
    if last_s - first_s < walk_s - TIE_S:
        return None
    turns = (
        Stay(start_s=start_s, end_s=written_s(start_s + _turn_s(problem)), player=before.player, place=place)
        for start_s, place in ((first_s, before.place), (last_s, after.place))
    )
    return next((turn for turn in turns if not any(_crowded(problem, turn, other) for other in others)), None)


def _turn_s(problem: Problem) -> float:
    return chore_s(problem.kit, ChoreKind.TURN)


def _crowded(problem: Problem, turn: Stay, other: Stay) -> bool:
    settle_s = problem.settle_s
    together = turn.start_s - settle_s < other.end_s - TIE_S and other.start_s - settle_s < turn.end_s - TIE_S
    return together and too_close(problem, turn.player, other.player, turn.place, other.place)


def _chore(problem: Problem, player: int, card: int, turn: Stay) -> CastChore:
    return CastChore(
        id=_name(problem, player, card),
        kind=ChoreKind.TURN.value,
        start_s=turn.start_s,
        end_s=turn.end_s,
        player=problem.players[player].id,
        place=problem.piano.places[turn.place].id,
        hands=("right",),
        target="",
    )


def _none(problem: Problem, player: int, card: int, from_s: float, until_s: float) -> CastChore:
    who = problem.players[player]
    return CastChore(
        id=_name(problem, player, card),
        kind=ChoreKind.TURN.value,
        start_s=from_s,
        end_s=max(until_s, written_s(from_s + _turn_s(problem))),
        player=None,
        place=None,
        hands=(),
        target="",
        reason=f"{who.name} has no gap for it here; put both cards in sight, or learn this passage by heart",
    )


def _name(problem: Problem, player: int, card: int) -> str:
    return f"turn {problem.players[player].id} {card}"
