"""The demo refitted from each of its pianos to each other one, and on its first piano without each player."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from examples.demo import build
from rimside.casting import refit
from rimside.casting.options import build_problem
from rimside.casting.problem import Problem
from rimside.casting.refit import Earlier
from rimside.casting.search import Search
from rimside.files.project import load
from rimside.flow import cast, pedals_held

FIRST_S, REFIT_S = 20.0, 30.0
"""Allowed to each casting that is refitted, and to each refit."""


def main() -> None:
    """Print one table: what changes, the bound, how much of it was forced, and when the least change was proved."""
    print(f"{'from':<12}{'to':<26}{'weight':>7}{'bound':>7}{'forced':>8}{'proved in':>11}")
    problems = dict(demo_problems())
    first = next(iter(problems))
    for name in [name for name in problems if "without" not in name]:
        old = Earlier(name=name, casting=cast(problems[name], "wedge", seconds=FIRST_S))
        for goal, problem in problems.items():
            if goal != name and ("without" not in goal or name == first):
                refitted(old, goal, problem)


def demo_problems() -> Iterator[tuple[str, Problem]]:
    """The demo's questions: each piano with everybody, and the first one without each player."""
    with TemporaryDirectory() as folder:
        build(Path(folder))
        production = load(Path(folder))
        reading, everybody, kit = production.reading(), production.players(), production.kit()
        pianos = [production.piano(name) for name in production.facts.pianos]
    asked = [(piano.name, piano, everybody) for piano in pianos]
    asked += [
        (f"{pianos[0].name} without {gone.name}", pianos[0], tuple(one for one in everybody if one is not gone))
        for gone in everybody
    ]
    for name, piano, players in asked:
        yield name, build_problem(reading.figures, piano, players, kit, pedals_held(reading, piano)[0])


def refitted(old: Earlier, goal: str, problem: Problem) -> None:
    """One row; only the levels of coverage and change are worked on, so the time is that of their proof."""
    started = time.perf_counter()
    problem = refit.liking(problem, old.casting)
    search = Search(problem=problem, seconds=REFIT_S, depth=2)
    search.run()
    took_s = time.perf_counter() - started
    changed = search.proofs()[1]
    forced = sum(
        refit.WEIGHTS[what]
        for index in search.best
        if index in problem.liked
        for what in refit.unavoidable(problem, index)
    )
    proved = f"{took_s:9.1f} s" if changed.proved else "  not"
    print(f"{old.name:<12}{goal:<26}{changed.value:>7}{changed.bound:>7}{forced:>8}{proved:>11}", flush=True)


if __name__ == "__main__":
    main()
