"""The only file that knows the solver: a model goes in, an outcome comes out."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from rimside.casting.model import Model

WORKERS = 2
POLL_S = 0.02
_LOWEST = -(2**62)


class Status(StrEnum):
    """The four different ends of a search."""

    BEST = "best"
    FOUND = "found"
    IMPOSSIBLE = "impossible"
    OUT_OF_TIME = "out of time"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the solver said: values by variable number (empty when none), the objective reached and its bound."""

    status: Status
    values: tuple[int, ...] = ()
    objective: int | None = None
    bound: int | None = None

    @property
    def usable(self) -> bool:
        """Whether there is an answer to read."""
        return bool(self.values)


def solve(model: Model, *, seconds: float, seed: int = 0, workers: int = WORKERS) -> Outcome:
    """Minimise the model's objective with CP-SAT.

    The search runs in a thread of its own, so that a KeyboardInterrupt reaches the caller and stops it.

    Parameters
    ----------
    seconds : wall time allowed; an answer proved best within it does not depend on it.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(0.05, seconds)
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed
    solver.parameters.catch_sigint_signal = False
    status = solver.status_name(_run(solver, _built(model)))
    names = {"OPTIMAL": Status.BEST, "FEASIBLE": Status.FOUND, "INFEASIBLE": Status.IMPOSSIBLE}
    return _outcome(model, names.get(status, Status.OUT_OF_TIME), solver)


def _built(model: Model) -> Any:
    """The solver's own model; its literals count as ours do, so numbers pass through unchanged."""
    from ortools.sat.python import cp_model

    built = cp_model.CpModel()
    for low, high in model.bounds:
        built.new_int_var(low, high, "")
    rows = built.proto.constraints
    for clause in model.clauses:
        rows.add().bool_or.literals.extend(clause)
    for terms, bound in model.rows:
        linear = rows.add().linear
        linear.vars.extend([variable for _, variable in terms])
        linear.coeffs.extend([coefficient for coefficient, _ in terms])
        linear.domain.extend([_LOWEST, bound])
    if model.objective:
        built.proto.objective.vars.extend([variable for _, variable in model.objective])
        built.proto.objective.coeffs.extend([coefficient for coefficient, _ in model.objective])
    built.proto.solution_hint.vars.extend(model.hint.keys())
    built.proto.solution_hint.values.extend(model.hint.values())
    return built


def _run(solver: Any, built: Any) -> Any:
    answer: list[Any] = []
    thread = threading.Thread(target=lambda: answer.append(solver.solve(built)), daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(POLL_S)
    except KeyboardInterrupt:
        solver.stop_search()
        thread.join()
        raise
    return answer[0]


def _outcome(model: Model, status: Status, solver: Any) -> Outcome:
    if status is Status.IMPOSSIBLE:
        return Outcome(status=status)
    bound = math.ceil(solver.best_objective_bound - 1e-6) if model.objective else 0
    if status is Status.OUT_OF_TIME:
        return Outcome(status=status, bound=bound + model.offset)
    values = tuple(int(value) for value in solver.response_proto.solution)
    reached = sum(coefficient * values[variable] for coefficient, variable in model.objective)
    return Outcome(status=status, values=values, objective=reached + model.offset, bound=bound + model.offset)
