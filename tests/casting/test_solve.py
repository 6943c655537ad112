"""The four ends of a search, and Ctrl-C."""

from __future__ import annotations

import _thread
import threading
import time
from random import Random

import pytest

from rimside.casting.model import Model
from rimside.casting.solve import Status, solve


def pigeons(holes: int) -> Model:
    """One pigeon more than holes, each in a hole of its own: impossible, and slow to prove."""
    model = Model()
    sits = [[model.boolean() for _ in range(holes)] for _ in range(holes + 1)]
    for pigeon in sits:
        model.clause(pigeon)
    for hole in range(holes):
        for a in range(holes + 1):
            for b in range(a):
                model.clause([~sits[a][hole], ~sits[b][hole]])
    return model


def knapsack(items: int) -> Model:
    """Cover many random rows with as little as can be: an answer is found at once, the proof takes long."""
    rng, model = Random(5), Model()
    bits = [model.boolean() for _ in range(items)]
    for _ in range(items):
        model.clause(rng.sample(bits, 5))
    model.objective = [(rng.randint(5, 9), bit) for bit in bits]
    return model


def test_impossible_is_not_out_of_time() -> None:
    """Four pigeons in three holes are impossible."""
    assert solve(pigeons(3), effort=5.0, seconds=10.0).status is Status.IMPOSSIBLE


def test_out_of_time_has_a_bound_and_no_answer() -> None:
    """Pigeons with next to no effort: nothing is known, and that is what it says."""
    outcome = solve(pigeons(40), effort=0.01, seconds=10.0)
    assert outcome.status is Status.OUT_OF_TIME
    assert not outcome.usable
    assert outcome.objective is None


def test_found_is_not_best() -> None:
    """A hard cover with little effort: an answer, a bound below it, and no claim of more."""
    outcome = solve(knapsack(300), effort=0.05, seconds=10.0, by_core=False)
    assert outcome.status is Status.FOUND
    assert outcome.objective is not None
    assert outcome.bound is not None
    assert outcome.bound < outcome.objective


def test_same_effort_same_answer() -> None:
    """One worker and one seed bring the same values twice."""
    first, second = (solve(knapsack(300), effort=0.3, seconds=20.0, seed=3, by_core=False) for _ in range(2))
    assert first.values == second.values
    assert first.bound == second.bound


def test_the_offset_counts_in_value_and_bound() -> None:
    """What the rest of a piece adds is in both."""
    model = Model()
    model.objective, model.offset = [(2, model.integer(1, 5))], 40
    outcome = solve(model, effort=1.0, seconds=5.0)
    assert (outcome.objective, outcome.bound, outcome.status) == (42, 42, Status.BEST)


def test_ctrl_c_stops_the_solver_at_once() -> None:
    """An interrupt during a long search comes out of it within seconds."""
    model, begun = knapsack(600), time.monotonic()
    timer = threading.Timer(0.5, _thread.interrupt_main)
    with pytest.raises(KeyboardInterrupt):
        timer.start()
        solve(model, effort=1000.0, seconds=60.0, by_core=False)
    timer.join()
    assert time.monotonic() - begun < 20.0
