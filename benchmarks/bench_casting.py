"""The demo cast on each of its pianos, and beside it the one-shot textbook model with the same time, in one table."""

from __future__ import annotations

import resource
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.one_shot import solve_one_shot
from examples.demo import build
from rimside.casting import objective
from rimside.casting.options import build_problem
from rimside.casting.problem import Problem
from rimside.casting.search import Search
from rimside.files.project import load
from rimside.flow import pedals_held

SECONDS = 30.0


def main() -> None:
    """Print one table: what is uncast and its bound, when coverage was settled, the whole time, all six levels."""
    head = f"{'piano':<12}{'model':<10}{'figures':>8}{'uncast':>7}{'bound':>6}{'cast in':>9}{'whole':>8}"
    print(f"{head}  levels (value/bound)")
    for name, problem in demo_problems():
        ours(name, problem)
        one_shot(name, problem)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of this process {peak_mb:.0f} MB; {SECONDS:.0f} s allowed to each model")


def demo_problems() -> list[tuple[str, Problem]]:
    """The demo's questions, one for each piano."""
    with TemporaryDirectory() as folder:
        build(Path(folder))
        production = load(Path(folder))
        reading, players, kit = production.reading(), production.players(), production.kit()
        pianos = [(name, production.piano(name)) for name in production.facts.pianos]
    return [
        (name, build_problem(reading.figures, piano, players, kit, pedals_held(reading, piano, kit).spans))
        for name, piano in pianos
    ]


def ours(name: str, problem: Problem) -> None:
    """One row for our search; `cast in` is the time until coverage was settled."""
    settled: list[float] = []
    started = time.perf_counter()

    def told(what: str, share: float) -> None:
        if what.startswith("level") and not settled:
            settled.append(time.perf_counter() - started)

    search = Search(problem=problem, seconds=SECONDS, progress=told)
    search.run()
    whole = time.perf_counter() - started
    levels = " ".join(f"{proof.value}/{proof.bound}" for proof in search.proofs())
    first = search.proofs()[objective.UNCAST]
    _row(name, "rimside", problem, first.value, first.bound, settled[0] if settled else whole, whole, levels)


def one_shot(name: str, problem: Problem) -> None:
    """One row for the textbook model, which decides coverage alone."""
    started = time.perf_counter()
    assignment, outcome = solve_one_shot(problem, seconds=SECONDS)
    whole = time.perf_counter() - started
    uncast = objective.uncast_weight(problem, assignment)
    _row(name, "one-shot", problem, uncast, max(0, outcome.bound or 0), whole, whole, "")


def _row(
    name: str, model: str, problem: Problem, uncast: int, bound: int, cast_s: float, whole_s: float, levels: str
) -> None:
    figures = len(problem.tasks)
    print(
        f"{name:<12}{model:<10}{figures:>8}{uncast:>7}{bound:>6}{cast_s:>7.1f} s{whole_s:>6.1f} s  {levels}", flush=True
    )


if __name__ == "__main__":
    main()
