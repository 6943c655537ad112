"""Mutes followed along their course: laid and lifted exactly where what is played changes, whatever is left out."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations, pairwise, product

import pytest

from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.loadin import with_load
from rimside.casting.problem import Choice, Problem
from rimside.casting.result import Casting
from rimside.casting.tidy import tidied
from rimside.casting.verify import verify
from rimside.score.model import Figure, Mute, Technique
from tests.amounts import seeds
from tests.casting.judging import world
from tests.casting.solving import level, question, solved
from tests.casting.worlds import World, figure, toy_piano, toy_players

BOW, PLUCK = Technique.LINE_BOW, Technique.FINGER_PLUCK
TOO_FAST = 60
BARE, MUTED = Mute.NONE, Mute.MOULDED


def pluck(name: str, start_s: float, mute: Mute, times: int = 1) -> Figure:
    """A pluck of one second on one course; 60 strokes of it nobody plays."""
    return figure(name, PLUCK, (40,), start_s, start_s + 1.0, times=times, mute=mute)


def deeds(casting: Casting) -> list[str]:
    """What is done to the mute, in order of time."""
    return [chore.kind for chore in sorted(casting.chores, key=lambda chore: chore.start_s)]


@pytest.mark.parametrize(
    ("mutes", "expected"),
    [
        ((MUTED, BARE, MUTED), ["lay mute", "lift mute"]),
        ((BARE, MUTED, BARE), []),
        ((MUTED, BARE), ["lay mute", "lift mute"]),
        ((BARE, MUTED), []),
    ],
)
def test_what_nobody_plays_changes_no_mute(mutes: tuple[Mute, ...], expected: list[str]) -> None:
    """The second figure is too fast for anybody: no mute is laid twice, lifted from nothing, or left inside."""
    asked = [pluck(f"F{n}", 8.0 * n, mute, TOO_FAST if n == 1 else 1) for n, mute in enumerate(mutes)]
    whole = solved(world(*asked))
    assert [entry.figure for entry in whole.uncast] == ["F1"]
    assert deeds(whole) == expected


def test_a_muted_run_may_begin_with_an_unplayed_figure() -> None:
    """The first of two muted figures is left out; the mute is laid all the same, and said to be for the second."""
    whole = solved(world(pluck("A", 0, BARE), pluck("B", 8, MUTED, TOO_FAST), pluck("C", 16, MUTED)))
    lay = next(chore for chore in whole.chores if chore.start_s > 0)
    assert (lay.kind, lay.needed_by) == ("lay mute", ("C",))


def test_when_figures_go_the_mutes_of_the_others_stay_right() -> None:
    """Take out the muted middle: both changes go; take out the first: what laid the mute goes, the lift stays."""
    problem = question(world(pluck("A", 0, BARE), pluck("B", 8, MUTED), pluck("C", 16, BARE)))
    choice = Choice(player=0, place=0, lane=0)
    slots = {name: indices[0] for name, indices in problem.slots.items()}
    all_done = dict.fromkeys((*problem.numbers.values(), *slots.values()), choice)
    for gone, left in (("B", 0), ("A", 1), ("C", 1)):
        kept = tidied(problem, {i: c for i, c in all_done.items() if i != problem.numbers[gone]})
        assert sum(index in kept for index in slots.values()) == left


# Authority: casting/verify.py, written apart from the solver: every set of figures, every moment of each chore.


def random_world(seed: int) -> World:
    """One player at one place; four figures on one course, muted or bare, among two that ask for both hands."""
    chance = random.Random(seed)
    starts = [0.0]
    while len(starts) < 4:
        starts.append(starts[-1] + 1.0 + chance.choice([2.0, 2.5, 4.0, 5.0]))
    mutes = [chance.choice([MUTED, BARE]) for _ in starts]
    course = [pluck(f"F{n}", at, mute) for n, (at, mute) in enumerate(zip(starts, mutes, strict=True))]
    bows = [
        figure(f"G{n}", BOW, (52,), at, at + chance.choice([1.0, 2.0]))
        for n, at in enumerate(chance.sample([float(s) for s in range(1, int(starts[-1]))], 2))
    ]
    piano = toy_piano()
    near = min(piano.places, key=lambda place: (place.at.x_mm - 600.0) ** 2 + (place.at.y_mm - 300.0) ** 2)
    return world(*course, *bows, players=toy_players(1), piano=toy_piano(places=(near,)))


def ways(problem: Problem) -> Iterator[tuple[int, dict[int, Choice]]]:
    """Every assignment, those that leave out least first, with how many figures it leaves out."""
    figures = [index for index in problem.numbers.values() if problem.tasks[index].barred is None]
    moments = [(None, *slots) for slots in problem.slots.values()]
    for left in range(len(figures) + 1):
        for cast in combinations(figures, len(figures) - left):
            for chosen in product(*moments):
                done = sorted((*cast, *(slot for slot in chosen if slot is not None)))
                yield left, {index: Choice(player=0, place=0, lane=0) for index in done}


def in_turn(problem: Problem, assignment: dict[int, Choice]) -> bool:
    """Whether lays and lifts take turns."""
    kinds = [problem.tasks[index].work for index in sorted(assignment) if problem.tasks[index].figure is None]
    return all(a.kind != b.kind for a, b in pairwise(kinds))  # type: ignore[union-attr]


def correct(where: World, problem: Problem, assignment: dict[int, Choice]) -> bool:
    """Whether the judge finds nothing against it, proof aside."""
    if not in_turn(problem, assignment):
        return False
    actions = pedal_actions(problem.pedals, "unassigned")
    whole = with_load(assemble(problem, assignment, (), actions, 0.0, explain=False), problem)
    return not [b for b in verify(whole, where.piano, where.players, where.kit) if b.rule.startswith("H")]


@pytest.mark.parametrize("seed", seeds(6, 12))
def test_coverage_is_the_best_of_all_ways(seed: int) -> None:
    """As many figures are cast as trying everything casts, and the bound says so."""
    where = random_world(seed)
    problem = question(where)
    barred = sum(task.barred is not None for task in problem.tasks)
    fewest = next(left for left, way in ways(problem) if correct(where, problem, way))
    whole = solved(where)
    assert level(whole, 1) == (fewest + barred, fewest + barred)
    played = [f.mute for f in where.figures if f.keys == (40,) and f.id in {row.figure for row in whole.cast}]
    inside = [c for c in whole.chores if 0.0 <= c.start_s < max(f.end_s for f in where.figures)]
    assert len(inside) == sum(a != b for a, b in pairwise(played))
