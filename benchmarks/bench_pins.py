"""One changed pin on the 10-minute middle piece: how long until there is a new casting that the judge accepts.

    python -m benchmarks.bench_pins [--seconds S]

Each of 30 pins gives one figure, drawn at random, to another player who could have it.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from dataclasses import dataclass

from benchmarks.families import Instance, instance, problem
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.pin import Pin
from rimside.casting.problem import Assignment, Problem
from rimside.casting.repin import recast
from rimside.casting.result import Casting
from rimside.casting.search import Search
from rimside.casting.verify import verify

SECONDS, PINS, PLAYERS = 120.0, 30, 8
TARGET_MEDIAN_S, TARGET_95_S = 1.0, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One pin and what came of it: time in s, the weight uncast before and after, whether pin and judge are content."""

    figure: str
    seconds: float
    uncast: tuple[int, int]
    good: bool


def draw(put: Problem, standing: Assignment, rng: random.Random) -> Pin:
    """A figure that is cast, given to another player who could have it."""
    index = rng.choice([i for i in sorted(standing) if len(put.tasks[i].players) > 1])
    player = rng.choice([p for p in put.tasks[index].players if p != standing[index].player])
    return Pin(figure=put.tasks[index].work.id, player=put.players[player].id)


def measured(of: Instance, put: Problem, casting: Casting, pin: Pin) -> Answered:
    """One pin, from the person's wish to the judge's word."""
    started = time.perf_counter()
    answer = recast(put, (pin,), casting)
    wrong = verify(answer, of.piano, of.players, of.kit)
    seconds = time.perf_counter() - started
    row = next((row for row in answer.cast if row.figure == pin.figure), None)
    honoured = row is None or row.player == pin.player
    before, after = (one.proof[0].value for one in (casting, answer))
    return Answered(figure=pin.figure, seconds=seconds, uncast=(before, after), good=honoured and not wrong)


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
    casting = assemble(put, search.best, search.proofs(), pedal_actions(put.pedals, "wedge"), 0.0, explain=False)
    rows = [measured(of, put, casting, draw(put, search.best, rng)) for _ in range(PINS)]
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
