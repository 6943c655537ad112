"""One changed pin on the 10-minute middle piece: how long until there is a new casting that the judge accepts.

    python -m benchmarks.bench_pins [--seconds S]

Each of 40 pins gives one figure, drawn at random, to another player who could have it.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace

from benchmarks.bench_families import breaches
from benchmarks.families import Instance, instance, problem
from rimside.casting import objective
from rimside.casting.part import decide
from rimside.casting.problem import Assignment, Choice, Problem
from rimside.casting.search import Search

SECONDS, PINS, PLAYERS = 120.0, 40, 8
TARGET_MEDIAN_S, TARGET_95_S = 1.0, 3.0
AROUND = 10
"""Figures on either side that are decided anew with the pinned one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One pin and what came of it: time in s, the weight uncast before and after, whether pin and judge are content."""

    figure: str
    seconds: float
    uncast: tuple[int, int]
    good: bool


def repinned(put: Problem, standing: Assignment, index: int) -> Mapping[int, Choice]:
    """A casting that honours the narrowed options of one task and keeps the rest: its surroundings decided anew."""
    order = [task.index for task in put.tasks if task.barred is None]
    at = order.index(index)
    around = order[max(0, at - AROUND) : at + AROUND + 1]
    kept = {i: choice for i, choice in standing.items() if i != index}
    aims = (objective.UNCAST, objective.STAY)
    part = decide(put, around, aims, kept, effort=TARGET_95_S, seconds=TARGET_95_S)
    return part.answer or kept


def pinned(put: Problem, index: int, player: int) -> Problem:
    """The same question with one figure given to one player."""
    tasks = (replace(task, players=(player,)) if task.index == index else task for task in put.tasks)
    return replace(put, tasks=tuple(tasks))


def draw(put: Problem, standing: Assignment, rng: random.Random) -> tuple[int, int]:
    """A figure that is cast, and another player who could have it."""
    index = rng.choice([i for i in sorted(standing) if len(put.tasks[i].players) > 1])
    return index, rng.choice([p for p in put.tasks[index].players if p != standing[index].player])


def measured(of: Instance, put: Problem, standing: Assignment, index: int, player: int) -> Answered:
    """One pin, from the person's wish to the judge's word."""
    started = time.perf_counter()
    narrowed = pinned(put, index, player)
    answer = repinned(narrowed, standing, index)
    wrong = [rule for rule in breaches(of, narrowed, answer, ()) if rule != "proof"]
    seconds = time.perf_counter() - started
    honoured = index not in answer or answer[index].player == player
    before, after = (objective.uncast_weight(put, a) for a in (standing, answer))
    figure = put.tasks[index].work.id
    return Answered(figure=figure, seconds=seconds, uncast=(before, after), good=honoured and not wrong)


def main(arguments: list[str] | None = None) -> None:
    """Cast once, then change one pin after the other, each on the first casting; print median and 95th percentile."""
    parser = argparse.ArgumentParser(description="Measure how long one changed pin takes.")
    parser.add_argument("--seconds", type=float, default=SECONDS, help="for the casting that the pins change")
    seconds = parser.parse_args(arguments).seconds
    of = instance(10, "middle", PLAYERS)
    put = problem(of)
    search = Search(problem=put, seconds=seconds)
    search.run()
    rng = random.Random("pins")
    rows = [measured(of, put, search.best, *draw(put, search.best, rng)) for _ in range(PINS)]
    times = sorted(row.seconds for row in rows)
    median_s, most_s = statistics.median(times), statistics.quantiles(times, n=20)[-1]
    lost = sum(row.uncast[1] > row.uncast[0] for row in rows)
    print(
        f"{of.name}, {len(put.tasks)} figures, {len(rows)} pins: median {median_s:.2f} s (target {TARGET_MEDIAN_S:g})"
    )
    print(f"95th percentile {most_s:.2f} s (target {TARGET_95_S:g}); {sum(not row.good for row in rows)} not honoured")
    print(f"or not accepted by the judge; after {lost} of them more is uncast than before")


if __name__ == "__main__":
    main()
