"""The model of clauses and rows, and that the solver's reading of it is ours."""

from __future__ import annotations

from itertools import product
from random import Random

import pytest

from rimside.casting.model import Model
from rimside.casting.solve import Status, solve


def true(literal: int, values: tuple[int, ...]) -> bool:
    """Whether a literal holds: a number as it is, its complement when the variable is 0."""
    return values[literal] == 1 if literal >= 0 else values[~literal] == 0


def least(model: Model) -> int | None:
    """The least objective over all values, by trying every one of them."""
    found = [
        sum(c * values[v] for c, v in model.objective) + model.offset
        for values in product(*(range(low, high + 1) for low, high in model.bounds))
        if all(any(true(literal, values) for literal in clause) for clause in model.clauses)
        and all(sum(c * values[v] for c, v in terms) <= bound for terms, bound in model.rows)
    ]
    return min(found, default=None)


def some_model(seed: int) -> Model:
    """Six booleans and a number from -2 to 3, random clauses, rows and an equation."""
    rng, model = Random(seed), Model()
    bits = [model.boolean() for _ in range(6)]
    number = model.integer(-2, 3)
    for _ in range(9):
        model.clause([rng.choice((bit, ~bit)) for bit in rng.sample(bits, 3)])
    for _ in range(3):
        model.at_most(
            [(rng.randint(-3, 3), variable) for variable in (*rng.sample(bits, 3), number)], rng.randint(-2, 3)
        )
    model.equal([(1, bit) for bit in bits], rng.randint(1, 4))
    model.objective = [(rng.randint(-4, 4), variable) for variable in (*bits, number)]
    model.offset = rng.randint(-5, 5)
    return model


# Authority: every value tried.
@pytest.mark.parametrize("by_core", [True, False])
@pytest.mark.parametrize("seed", range(25))
def test_the_solver_finds_the_least_of_all_values(seed: int, by_core: bool) -> None:
    """Objective, bound and status are those of trying everything; some of the models are impossible."""
    model = some_model(seed)
    outcome, true_least = solve(model, effort=5.0, seconds=10.0, by_core=by_core), least(model)
    assert outcome.status is (Status.IMPOSSIBLE if true_least is None else Status.BEST)
    assert outcome.objective == true_least
    assert outcome.bound == true_least


def test_some_of_the_random_models_are_impossible_and_some_not() -> None:
    """The test above sees both."""
    assert {least(some_model(seed)) is None for seed in range(25)} == {True, False}


def test_any_of_is_true_when_one_is() -> None:
    """The result is forced up by any literal, and not forced by none."""
    for given in product((0, 1), repeat=2):
        model = Model()
        pair = [model.boolean() for _ in given]
        for variable, value in zip(pair, given, strict=True):
            model.fix(variable, value)
        result = model.any_of(pair)
        model.objective = [(1, result)]
        assert solve(model, effort=1.0, seconds=5.0).objective == max(given)


def test_a_contradiction_is_impossible() -> None:
    """A literal and its complement: no values to read."""
    model = Model()
    one = model.boolean()
    model.clause([one])
    model.clause([~one])
    outcome = solve(model, effort=1.0, seconds=5.0)
    assert outcome.status is Status.IMPOSSIBLE
    assert not outcome.usable
