"""Published scheduling examples and theorems, put as castings: players are rooms, ships or machines."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pytest

from rimside.casting import objective
from rimside.casting.problem import Problem
from rimside.casting.search import Search
from rimside.people import Player
from rimside.score.model import Figure, Technique
from tests.casting.solving import question
from tests.casting.worlds import World, figure, held, toy_piano
from tests.outside.test_casting_theorems import LINES, greatest_overlap, long_armed, quick_kit

Interval = tuple[int, int]
KEYS = tuple(range(22, 66))
"""Courses with a line bow each, so that no two jobs want the same one."""


def jobs(intervals: Sequence[Interval]) -> tuple[Figure, ...]:
    """A two-handed figure for each interval: whoever plays it does nothing else meanwhile."""
    return tuple(
        figure(f"J{number:02}", Technique.LINE_BOW, (KEYS[number],), float(start), float(end))
        for number, (start, end) in enumerate(intervals)
    )


def crew(count: int) -> tuple[Player, ...]:
    """Players who reach everything, told apart by number."""
    (one,) = long_armed(1)
    return tuple(replace(one, id=f"p{number}", name=f"P{number}") for number in range(count))


def asked(figures: tuple[Figure, ...], players: int) -> Problem:
    """Who does these jobs, changes costing nothing, hands never in each other's way, everybody having room.

    Only hands and time are left: lanes have no contacts, and any number can stand at one place.
    """
    world = World(piano=toy_piano(), players=crew(players), kit=quick_kit(LINES), figures=figures, pedals=held())
    problem = question(world)
    bare = tuple(
        replace(task, places=(0,), lanes=(replace(task.lanes[0], contacts=()),), weight=1) for task in problem.tasks
    )
    return replace(problem, tasks=bare, breadth_mm=(0.0,) * players)


def uncast(problem: Problem) -> int:
    """The least weight left out; it is proved."""
    search = Search(problem=problem, seconds=10.0, depth=1)
    search.run()
    proof = search.proofs()[objective.UNCAST]
    assert proof.proved
    return proof.value


# Intervals that are touched end to start may share a room, in all of these.
# Authority: CS 4440 Theory of Algorithms, California State University Stanislaus, spring 2020, "Problem on Interval
# Scheduling and Interval Partitioning" (www.cs.csustan.edu/~john, 27 February 2020): the worked example, and the
# solution of the assignment. One room takes the jobs that the page chooses; all take as many rooms as the page opens.
EXAMPLE: tuple[Interval, ...] = (
    (13, 15), (17, 22), (12, 17), (9, 10), (12, 15), (9, 11), (11, 14), (10, 15), (16, 19), (12, 14), (18, 23), (8, 11),
)  # fmt: skip
ASSIGNMENT: tuple[Interval, ...] = (
    (8, 11), (13, 15), (9, 10), (8, 10), (15, 16), (16, 19), (18, 19), (8, 10), (9, 14), (11, 16), (17, 19), (9, 13),
)  # fmt: skip


@pytest.mark.parametrize(
    ("intervals", "in_one_room", "rooms"), [(EXAMPLE, 3, 6), (ASSIGNMENT, 4, 6)], ids=["example", "assignment"]
)
def test_a_course_sheet_of_rooms_and_lectures(intervals: Sequence[Interval], in_one_room: int, rooms: int) -> None:
    """One player takes as many as the sheet says; all are taken by as many players as it opens rooms, by no fewer."""
    figures = jobs(intervals)
    assert uncast(asked(figures, 1)) == len(intervals) - in_one_room
    assert uncast(asked(figures, rooms)) == 0
    assert uncast(asked(figures, rooms - 1)) > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipment:
    """A full load from one port to another that must arrive on its day."""

    origin: str
    destination: str
    day: int
    profit: int


# Authority: the tanker problem of G. B. Dantzig & D. R. Fulkerson, Naval Research Logistics Quarterly 1 (1954) 217
# (cited from memory), with the four shipments, days and profits of R. K. Ahuja, T. L. Magnanti & J. B. Orlin, Network
# Flows (1993), application 6.6 "Tanker scheduling problem" and its sequel, where each ship costs 5.
SHIPMENTS = (
    Shipment(origin="A", destination="C", day=3, profit=10),
    Shipment(origin="A", destination="C", day=8, profit=10),
    Shipment(origin="B", destination="D", day=3, profit=3),
    Shipment(origin="B", destination="C", day=6, profit=4),
)
LOADED_DAYS = {("A", "C"): 3, ("A", "D"): 2, ("B", "C"): 2, ("B", "D"): 3}
EMPTY_DAYS = {("C", "A"): 2, ("C", "B"): 1, ("D", "A"): 1, ("D", "B"): 2}
SHIP_COSTS = 5


def shipped(ships: int) -> Problem:
    """Ships are players, shipments figures at a place of their own, and sailing back empty is the walk between two."""
    intervals = [(s.day - LOADED_DAYS[s.origin, s.destination], s.day) for s in SHIPMENTS]
    problem = asked(jobs(intervals), ships)
    order = [int(task.work.id[1:]) for task in problem.tasks]
    tasks = tuple(
        replace(task, places=(number,), weight=SHIPMENTS[number].profit)
        for task, number in zip(problem.tasks, order, strict=True)
    )
    walks = tuple(tuple(float(EMPTY_DAYS[one.destination, other.origin]) for other in SHIPMENTS) for one in SHIPMENTS)
    return replace(problem, tasks=tasks, walk_s=walks)


# By hand: shipments 1 and 4 fit one ship (3 + 1 <= 4), 1 and 2 (3 + 2 <= 5), 3 and 2 (3 + 1 <= 5); 3 and 4 do not
# (3 + 2 > 4), nor do 1 and 3, or 2 and 4, which sail at one time. So two ships carry all, 1-4 and 3-2, and one earns
# most with 1-2.
@pytest.mark.parametrize(("ships", "left"), [(1, 7), (2, 0), (3, 0)])
def test_tankers_that_sail_back_empty(ships: int, left: int) -> None:
    """Two ships are needed and are enough; one leaves the cheap shipments, worth 3 and 4."""
    assert uncast(shipped(ships)) == left


def test_as_many_tankers_as_pay() -> None:
    """Profits less the charge for ships: 15 with one, 17 with two, 12 with three; two ships are best."""
    whole = sum(shipment.profit for shipment in SHIPMENTS)
    net = {ships: whole - uncast(shipped(ships)) - SHIP_COSTS * ships for ships in (1, 2, 3)}
    assert net == {1: 15, 2: 17, 3: 12}


def random_intervals(seed: int, count: int) -> list[Interval]:
    """Jobs of 1 to 9 s that begin within half a minute."""
    rng = random.Random(f"crew {seed}")
    return [(start, start + rng.randint(1, 9)) for start in (rng.randint(0, 30) for _ in range(count))]


# Authority: the fewest machines for jobs of fixed times is the most that run at one time (U. I. Gupta, D. T. Lee &
# J. Y.-T. Leung, IEEE Transactions on Computers C-28 (1979) 807; cited from memory).
@pytest.mark.parametrize("seed", range(4))
def test_the_fewest_players_are_the_most_jobs_at_once(seed: int) -> None:
    """With as many players as jobs overlap all are done, with one fewer something stays."""
    figures = jobs(random_intervals(seed, 24))
    machines = greatest_overlap(figures)
    assert uncast(asked(figures, machines)) == 0
    assert uncast(asked(figures, machines - 1)) > 0


def most_by_greed(intervals: Sequence[Interval], machines: int) -> int:
    """Take each job as it begins; when too many run, give up the one that ends last.

    Source: U. Faigle & W. M. Nawijn, Discrete Applied Mathematics 58 (1995) 13; also M. C. Carlisle & E. L. Lloyd,
    there 59 (1995) 225: the most jobs that k machines can do. Both cited from memory.
    """
    running, done = list[int](), 0
    for start, end in sorted(intervals):
        done += sum(until <= start for until in running)
        running = [*(until for until in running if until > start), end]
        if len(running) > machines:
            running.remove(max(running))
    return done + len(running)


@pytest.mark.parametrize(("seed", "players"), [(10, 1), (11, 2), (12, 3), (13, 4)])
def test_too_few_players_do_as_many_jobs_as_greed(seed: int, players: int) -> None:
    """Jobs of equal weight: what stays uncast is what the greedy rule of Faigle & Nawijn gives up."""
    intervals = random_intervals(seed, 24)
    assert uncast(asked(jobs(intervals), players)) == len(intervals) - most_by_greed(intervals, players)
