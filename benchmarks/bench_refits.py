"""The demo cast on its first piano and refitted to each other one: the least changes, their bound, and the time.

python -m benchmarks.bench_refits
"""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

from examples.demo import build
from rimside import flow
from rimside.casting.refit import Earlier
from rimside.casting.verify import verify
from rimside.files.project import load

SECONDS = 30.0
"""For the first casting, and the target for each refit."""


def main() -> None:
    """Print one line for each other piano."""
    with TemporaryDirectory() as folder:
        build(Path(folder))
        production = load(Path(folder))
        reading, players, kit = production.reading(), production.players(), production.kit()
        first, *others = [production.piano(name) for name in production.facts.pianos]
    like = Earlier(name=first.name, casting=flow.plan(reading, first, players, kit, seconds=SECONDS))
    for piano in others:
        started, settled = time.perf_counter(), list[float]()

        def told(what: str, share: float, begun: float = started, settled: list[float] = settled) -> None:
            if what.startswith("level"):
                settled.append(time.perf_counter() - begun)

        casting = flow.plan(reading, piano, players, kit, seconds=SECONDS, like=like, progress=told)
        spent_s = time.perf_counter() - started
        uncast, changed = casting.proof[:2]
        what = ", ".join(f"{count} of {name}" for name, count in Counter(c.what for c in casting.changes).items())
        wrong = sorted({breach.rule for breach in verify(casting, piano, players, kit)})
        print(f"{first.name} to {piano.name}: uncast {uncast.value}/{uncast.bound}, changes weigh", end=" ")
        print(f"{changed.value}/{changed.bound} ({what or 'none'}) after {settled[0]:.1f} s", end="; ")
        print(f"whole {spent_s:.1f} s; judge: {wrong or 'holds'}")


if __name__ == "__main__":
    main()
