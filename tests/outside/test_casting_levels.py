"""Every level of the objective against exhaustive search: all castings of tiny worlds, judged and counted by the judge.

The search through all castings knows the options of each figure from the problem, and nothing else of the solver: what
is correct and what it is worth is told by casting/verify.py, which never met the solver.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from itertools import combinations, product

import pytest

from rimside.casting import objective
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.part import decide
from rimside.casting.problem import Choice, Problem
from rimside.casting.result import Casting
from rimside.casting.search import Search
from rimside.casting.verify import levels, verify
from rimside.piano.model import Piano
from rimside.score.model import Figure, Technique
from tests.casting.solving import question
from tests.casting.worlds import World, figure, held, toy_kit, toy_piano, toy_player

ALONE, FAR = (29, 70, 98, 99), (98, 99)
"""Seeds with a single player; and those whose music goes from end to end of the piano, so that one must move."""
SEEDS = (2, 3, 9, 11, 13, *ALONE)
LEVELS = range(6)


def narrow_piano() -> Piano:
    """The toy piano with one place on the bass side and two on the treble side."""
    piano = toy_piano()
    chosen = {"p06", "p08", "p17"}
    return replace(piano, places=tuple(place for place in piano.places if place.id in chosen))


def tiny_world(seed: int) -> World:
    """Four figures: tight changes, a motif that comes back, kinds to remember, unequal lengths; few or one to play."""
    rng, made = random.Random(f"level {seed}"), list[Figure]()
    start = 0.0
    for number in range(4):
        technique = rng.choice((Technique.LINE_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK))
        key = rng.choice((24, 34, 45) if technique is Technique.LINE_BOW else (10, 24, 45, 56, 66))
        if seed in FAR:
            technique, key = Technique.FINGER_PLUCK, (6, 66)[number % 2]
        name = "again" if number % 2 else f"motif {number}"
        made.append(figure(f"F{number}", technique, (key,), start, start + rng.choice((1.0, 2.5)), motif=name))
        start = round(start + rng.choice((6.0, 7.0) if seed in FAR else (0.0, 0.5, 2.6, 4.0)), 1)
    players = (toy_player(0), toy_player(1, stature_mm=1850.0))
    return World(
        piano=narrow_piano(),
        players=players[: 1 if seed in ALONE else 2],
        kit=toy_kit(),
        figures=tuple(made),
        pedals=held(),
    )


def tiny_question(world: World) -> Problem:
    """The question with the outermost two lanes of each figure, so that all castings can be gone through."""
    problem = question(world)
    return replace(problem, tasks=tuple(replace(t, lanes=t.lanes[:: max(1, len(t.lanes) - 1)]) for t in problem.tasks))


def options(problem: Problem, number: int) -> list[Choice]:
    """Every player, place, lane and implement of one figure, allowed or not; of equal implements one is enough here."""
    task = problem.tasks[number]
    taken = list(combinations(task.implements, task.need)) if task.from_rest else [()]
    every = product(range(len(problem.players)), range(len(problem.piano.places)), range(len(task.lanes)), taken)
    return [Choice(player=p, place=q, lane=v, implements=w) for p, q, v, w in every]


def casting_of(problem: Problem, assignment: Mapping[int, Choice]) -> Casting:
    """What the judge is given: a casting that proves nothing."""
    return assemble(problem, assignment, (), pedal_actions(problem.pedals, "unassigned"), 0.0, explain=False)


def correct(problem: Problem, world: World, assignment: Mapping[int, Choice]) -> bool:
    """Whether the judge finds nothing wrong but the missing proof."""
    found = verify(casting_of(problem, assignment), world.piano, world.players, world.kit)
    return all(breach.rule == "proof" for breach in found)


def every_correct(
    problem: Problem, world: World, number: int = 0, so_far: Mapping[int, Choice] | None = None
) -> Iterator[Mapping[int, Choice]]:
    """All correct castings. Leaving a figure out never breaks a rule, so an incorrect beginning is not gone on with."""
    chosen = so_far or {}
    if number == len(problem.tasks):
        yield chosen
        return
    yield from every_correct(problem, world, number + 1, chosen)
    for choice in options(problem, number):
        more = {**chosen, number: choice}
        if correct(problem, world, more):
            yield from every_correct(problem, world, number + 1, more)


@cache
def reachable(seed: int) -> frozenset[tuple[int, ...]]:
    """The six levels, as the judge counts them, of every correct casting of a tiny world."""
    world = tiny_world(seed)
    problem = tiny_question(world)
    return frozenset(levels(casting_of(problem, a), world.kit) for a in every_correct(problem, world))


# Authority: exhaustive search, judged and counted by casting/verify.py.
@pytest.mark.parametrize("seed", SEEDS)
def test_all_six_levels_are_the_best_of_all_castings(seed: int) -> None:
    """In the order of the levels the search reaches the best of all, and no bound says more than is true."""
    search = Search(problem=tiny_question(tiny_world(seed)), seconds=20.0)
    search.run()
    best = min(reachable(seed))
    assert tuple(proof.value for proof in search.proofs()) == best
    assert all(proof.bound <= value for proof, value in zip(search.proofs(), best, strict=True))


# Authority: exhaustive search, judged and counted by casting/verify.py.
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("seed", SEEDS)
def test_each_level_by_itself_is_the_least_of_all_castings(seed: int, level: int) -> None:
    """With as much cast as can be and all other levels free, the model's least of one level is that of all castings."""
    problem = tiny_question(tiny_world(seed))
    most_cast = min(found[objective.UNCAST] for found in reachable(seed))
    least = min(found[level] for found in reachable(seed) if found[objective.UNCAST] == most_cast)
    caps = {objective.UNCAST: most_cast}
    part = decide(problem, range(len(problem.tasks)), (level,), {}, effort=20.0, seconds=60.0, caps=caps)
    assert part.closed
    assert objective.count(problem, part.answer)[level] == least
    assert part.bound == least


def test_the_tiny_worlds_put_every_level_to_the_test() -> None:
    """At each level some world can do worse than its best: a level that could only be one number would test nothing."""
    for level in LEVELS:
        assert any(len({found[level] for found in reachable(seed)}) > 1 for seed in SEEDS), objective.NAMES[level]
        assert any(min(reachable(seed))[level] > 0 for seed in SEEDS), objective.NAMES[level]
