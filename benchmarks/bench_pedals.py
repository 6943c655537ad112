"""The pedal plan of the families' dense pieces when one figure in ten must fall silent: actions, bound and time.

python -m benchmarks.bench_pedals
"""

from __future__ import annotations

import time
from dataclasses import replace

from benchmarks.families import MINUTES, instance
from rimside.casting.pedals.plan import plan_pedals

PLAYERS, DRY_OF = 8, 10


def main() -> None:
    """Print one row for each length."""
    print(f"{'piece':<14}{'figures':>8}{'dry':>5}{'actions':>9}{'bound':>7}{'left out':>10}{'planned in':>12}")
    for minutes in MINUTES:
        of = instance(minutes, "dense", PLAYERS)
        figures = [replace(one, dry=number % DRY_OF == 0) for number, one in enumerate(of.figures)]
        started = time.perf_counter()
        plan = plan_pedals(figures, of.piano, (), of.kit)
        spent_s = time.perf_counter() - started
        dry = sum(figure.dry for figure in figures)
        print(f"{minutes:>2} min dense  {len(figures):>8}{dry:>5}{plan.actions:>9}{plan.bound:>7}", end="")
        print(f"{len(plan.conflicts):>10}{spent_s:>10.1f} s", flush=True)


if __name__ == "__main__":
    main()
