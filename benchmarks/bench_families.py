"""The families of `families.py`, cast one after another, each in a process of its own: a table, a picture of the times.

    python -m benchmarks.bench_families [--quick] [--results FILE] [--seconds S]

What is done stands in the results file at once, so that a bench that was stopped goes on where it was; a finished one
leaves its results under the name `...-last.json`, and the next begins anew. Beside one
instance of each length and density, with 8 players, runs the one-shot textbook model with the same time; on the
3-minute dense one it runs again with ten times the time. Every casting is judged.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from benchmarks import tables
from benchmarks.families import DENSITIES, MINUTES, PLAYERS, Instance, instance, problem
from benchmarks.one_shot import solve_one_shot
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.problem import Assignment, Problem
from rimside.casting.result import Proof
from rimside.casting.search import Search
from rimside.casting.verify import verify

OURS, ONE_SHOT = "ours", "one-shot"
SECONDS, QUICK_SECONDS = 120.0, 15.0
LONGER = 10
BESIDE_PLAYERS = 8
GRACE = {OURS: 2.5, ONE_SHOT: 1.25}
"""Of its limit: when a process is ended; ours stops itself, but the textbook model may not even be written by then."""
LOADING_S = 15.0
MOST_MEMORY_BYTES = 8 * 1024**3
RESULTS = Path("build/bench")
PICTURE = Path("docs/pictures/bench-times.svg")


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One question put to one model with one time limit."""

    model: str
    minutes: int
    density: str
    players: int
    seconds: float

    @property
    def key(self) -> str:
        """Its name in the results."""
        return f"{self.model} {self.minutes} {self.density} {self.players} {self.seconds:g}"


def full_runs(seconds: float) -> list[Run]:
    """All 27 instances, the textbook model beside nine of them, and once with ten times the time."""
    runs = []
    for minutes in MINUTES:
        for density in DENSITIES:
            for players in PLAYERS:
                own = Run(model=OURS, minutes=minutes, density=density, players=players, seconds=seconds)
                runs.append(own)
                if players == BESIDE_PLAYERS:
                    runs.append(_beside(own, seconds))
                if (minutes, density, players) == (3, "dense", BESIDE_PLAYERS):
                    runs.append(_beside(own, LONGER * seconds))
    return runs


def quick_runs(seconds: float) -> list[Run]:
    """The 3-minute family and a middle piece of 10 minutes; the textbook model beside one of each density."""
    return [
        run
        for run in full_runs(seconds)
        if run.seconds == seconds
        and (run.minutes == 3 or (run.minutes, run.density, run.players) == (10, "middle", BESIDE_PLAYERS))
    ]


def _beside(run: Run, seconds: float) -> Run:
    return Run(model=ONE_SHOT, minutes=run.minutes, density=run.density, players=run.players, seconds=seconds)


# One run, in a process of its own.


def measured(run: Run) -> dict[str, Any]:
    """What one run brings: levels as [value, bound], times in s, peak memory, breaches that the judge finds."""
    of = instance(run.minutes, run.density, run.players)
    put = problem(of)
    started = time.perf_counter()
    answer = {OURS: _ours, ONE_SHOT: _one_shot}[run.model](of, put, run.seconds, started)
    return {
        "figures": len(put.tasks),
        "wall_s": round(time.perf_counter() - started, 2),
        **answer,
        "peak_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
    }


def _ours(of: Instance, put: Problem, seconds: float, started: float) -> dict[str, Any]:
    settled: list[float] = []

    def told(what: str, share: float) -> None:
        if what.startswith("level") and not settled:
            settled.append(time.perf_counter() - started)

    search = Search(problem=put, seconds=seconds, progress=told)
    search.run()
    wall_s = time.perf_counter() - started
    return {
        "wall_s": round(wall_s, 2),
        "coverage_s": round(settled[0] if settled else wall_s, 2),
        "levels": [[proof.value, proof.bound] for proof in search.proofs()],
        "breaches": breaches(of, put, search.best, search.proofs()),
    }


def _one_shot(of: Instance, put: Problem, seconds: float, started: float) -> dict[str, Any]:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    assignment, outcome = solve_one_shot(put, seconds=seconds)
    uncast = sum(task.weight for task in put.tasks if task.index not in assignment)
    wrong = breaches(of, put, assignment, ())
    return {"levels": [[uncast, max(0, outcome.bound or 0)]], "breaches": [name for name in wrong if name != "proof"]}


def breaches(of: Instance, put: Problem, assignment: Assignment, proofs: tuple[Proof, ...]) -> list[str]:
    """The rules that the judge finds broken."""
    actions = pedal_actions(put.pedals, "wedge")
    casting = assemble(put, assignment, proofs, actions, 0.0, explain=False)
    return sorted({breach.rule for breach in verify(casting, of.piano, of.players, of.kit)})


def apart(run: Run) -> dict[str, Any]:
    """A run in a process of its own, so that its peak of memory is its own; a failure is a result too."""
    command = [sys.executable, "-m", "benchmarks.bench_families", "--one", json.dumps(asdict(run))]
    limit_s = GRACE[run.model] * run.seconds + LOADING_S
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=limit_s, check=False)
    except subprocess.TimeoutExpired:
        return {"failed": "not written in time"}
    if done.returncode != 0:
        last = (done.stderr.strip().splitlines() or [f"ended with {done.returncode}"])[-1]
        return {"failed": "out of memory" if "MemoryError" in last or "bad_alloc" in done.stderr else last}
    return dict(json.loads(done.stdout))


# The whole bench.


def bench(runs: list[Run], results: Path, measure: Callable[[Run], dict[str, Any]] = apart) -> dict[str, Any]:
    """Run what the results file lacks, and write it after each run."""
    done: dict[str, Any] = json.loads(results.read_text("utf-8")) if results.exists() else {}
    for run in runs:
        if run.key not in done:
            done[run.key] = {"run": asdict(run), **measure(run)}
            _write(results, json.dumps(done, indent=1))
            print(tables.line(done[run.key]), flush=True)
    return {run.key: done[run.key] for run in runs}


def _write(path: Path, text: str) -> None:
    """The whole file or the one before, never half of it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    new = path.with_name(f"{path.name}.new")
    new.write_text(text, "utf-8")
    new.replace(path)


def main(arguments: list[str] | None = None) -> None:
    """Run the bench and print its table; the picture is drawn when the bench is the whole one."""
    asked = _parser().parse_args(arguments)
    if asked.one:
        print(json.dumps(measured(Run(**json.loads(asked.one)))))
        return
    seconds = asked.seconds or (QUICK_SECONDS if asked.quick else SECONDS)
    results = asked.results or RESULTS / f"families-{'quick' if asked.quick else 'full'}.json"
    rows = list(bench((quick_runs if asked.quick else full_runs)(seconds), results).values())
    print(f"\nRead off on {tables.machine()}; {seconds:g} s allowed.\n")
    print(tables.markdown(rows))
    print(tables.beside(rows))
    print(tables.slopes(rows))
    if not asked.quick:
        _write(PICTURE, tables.picture(rows))
    results.replace(results.with_stem(f"{results.stem}-last"))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description="Cast the families of questions and measure.")
    parser.add_argument("--quick", action="store_true", help="the 3-minute family and one of 10 minutes, shorter")
    parser.add_argument("--seconds", type=float, help="time allowed to each run")
    parser.add_argument("--results", type=Path, help="where results are kept and taken up again")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    return parser


if __name__ == "__main__":
    main()
