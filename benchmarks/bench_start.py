"""What `rimside --help` costs against `python -c pass`, whole processes in turn."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

RUNS = 15


def main() -> list[tuple[str, float]]:
    """Print and return medians in s and their ratio."""
    command = Path(sys.executable).with_name("rimside")
    ours, bare = [], []
    for _ in range(RUNS + 1):
        bare.append(_seconds([sys.executable, "-c", "pass"]))
        ours.append(_seconds([str(command), "--help"]))
    median_ours, median_bare = statistics.median(ours[1:]), statistics.median(bare[1:])
    print(f"python -c pass   {1000 * median_bare:7.1f} ms (baseline)")
    print(f"rimside --help   {1000 * median_ours:7.1f} ms, ratio {median_ours / median_bare:.2f} (target at most 3)")
    return [("python -c pass", median_bare), ("rimside --help", median_ours)]


def _seconds(command: list[str]) -> float:
    started = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - started


if __name__ == "__main__":
    main()
