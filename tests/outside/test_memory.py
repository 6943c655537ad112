"""How much memory the longest and thickest piece of the benchmarks takes."""

from __future__ import annotations

import pytest

from benchmarks.bench_families import OURS, Run, apart

MOST_MB = 2048
"""Ours: an ordinary laptop has 8 GB, and other programs run beside."""


# Authority: the operating system's own count for a process (getrusage, ru_maxrss).
@pytest.mark.soak
def test_the_dense_piece_of_twenty_minutes_stays_under_two_gigabytes() -> None:
    """600 figures and ten players, cast for 120 s in a process of its own; the casting is correct."""
    row = apart(Run(model=OURS, minutes=20, density="dense", players=10, seconds=120.0))
    assert row["breaches"] == []
    assert row["figures"] == 600
    assert row["peak_mb"] < MOST_MB
