"""The only file that knows the solver: a model goes in, an outcome comes out."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from rimside.casting.model import Model

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
    """What the solver said: values by variable number (empty when none), the objective reached and its bound.

    `effort` counts the work done in the solver's own units, the same on every machine.
    """

    status: Status
    values: tuple[int, ...] = ()
    objective: int | None = None
    bound: int | None = None
    effort: float = 0.0

    @property
    def usable(self) -> bool:
        """Whether there is an answer to read."""
        return bool(self.values)


def solve(
    model: Model,
    *,
    effort: float,
    seconds: float,
    seed: int = 0,
    by_core: bool = True,
    workers: int = 1,
    stop: threading.Event | None = None,
) -> Outcome:
    """Minimise the model's objective with CP-SAT; with one worker the same model brings the same answer.

    The search runs in a thread of its own, so that a KeyboardInterrupt reaches the caller and stops it.

    Parameters
    ----------
    effort : work allowed, in the solver's deterministic units (about one a second on one core).
    seconds : wall time allowed; only a search that this stops may differ from run to run.
    by_core : prove from below by unsatisfiable cores, which closes all levels but the spread of loads far sooner
        (docs/decisions/0002-search.md).
    stop : when another thread sets it, the search ends with what it has.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = max(0.01, effort)
    solver.parameters.max_time_in_seconds = max(0.05, seconds)
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed
    solver.parameters.catch_sigint_signal = False
    if by_core:
        solver.parameters.optimize_with_core = True
        solver.parameters.linearization_level = 0
    status = solver.status_name(_run(solver, _built(model), stop))
    names = {"OPTIMAL": Status.BEST, "FEASIBLE": Status.FOUND, "INFEASIBLE": Status.IMPOSSIBLE}
    return _outcome(model, names.get(status, Status.OUT_OF_TIME), solver)


def load() -> None:
    """Import the solver, which takes a moment, before there is anything to interrupt."""
    from ortools.sat.python import cp_model

    cp_model.CpModel()


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


def _run(solver: Any, built: Any, stop: threading.Event | None) -> Any:
    answer: list[Any] = []
    thread = threading.Thread(target=lambda: answer.append(solver.solve(built)), daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(POLL_S)
            if stop is not None and stop.is_set():
                solver.stop_search()
    except KeyboardInterrupt:
        solver.stop_search()
        thread.join()
        raise
    return answer[0]


def _outcome(model: Model, status: Status, solver: Any) -> Outcome:
    effort = float(solver.response_proto.deterministic_time)
    if status is Status.IMPOSSIBLE:
        return Outcome(status=status, effort=effort)
    bound = math.ceil(solver.best_objective_bound - 1e-6) if model.objective else 0
    if status is Status.OUT_OF_TIME:
        return Outcome(status=status, bound=bound + model.offset, effort=effort)
    values = tuple(int(value) for value in solver.response_proto.solution)
    reached = sum(coefficient * values[variable] for coefficient, variable in model.objective)
    return Outcome(
        status=status,
        values=values,
        objective=reached + model.offset,
        bound=bound + model.offset,
        effort=effort,
    )
