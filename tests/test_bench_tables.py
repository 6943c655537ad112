"""The bench: it goes on where it was stopped, and its slopes, table and picture say what the numbers say."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from benchmarks import tables
from benchmarks.bench_families import Run, bench, full_runs, quick_runs


def row(figures: int, coverage_s: float, **changes: Any) -> tables.Row:
    """A row of ours."""
    run = {"model": "ours", "minutes": 3, "density": "middle", "players": 8, "seconds": 120.0}
    levels = [[0, 0], [7, 5], [3, 0], [2, 0], [5, 0], [900, 0]]
    usual = {"run": run, "figures": figures, "levels": levels, "wall_s": 60.0, "peak_mb": 200, "breaches": []}
    return {**usual, "coverage_s": coverage_s, **changes}


def test_the_full_bench_fits_into_two_hours() -> None:
    """27 instances, 9 one-shot models beside them and one of ten times the time; pins and refits have the rest."""
    runs = full_runs(120.0)
    assert len(runs) == 27 + 9 + 1
    assert sum(run.seconds for run in runs) <= 5600.0


def test_the_quick_bench_fits_into_ten_minutes() -> None:
    """Nine instances of 3 minutes and one of 10, four of them beside the textbook model."""
    runs = quick_runs(15.0)
    assert len(runs) == 10 + 4
    assert sum(run.seconds for run in runs) <= 300.0


def test_a_bench_that_was_stopped_goes_on_where_it_was(tmp_path: Path) -> None:
    """What stands in the results file is not measured again, and what was measured before the stop is kept."""
    asked: list[str] = []

    def measure(run: Run) -> dict[str, Any]:
        if len(asked) == 2:
            raise KeyboardInterrupt
        asked.append(run.key)
        return {"failed": "only a test"}

    runs, results = full_runs(120.0)[:4], tmp_path / "results.json"
    with pytest.raises(KeyboardInterrupt):
        bench(runs, results, measure)
    assert asked == [run.key for run in runs[:2]]
    done = bench(runs, results, lambda run: {"failed": f"second time: {run.key}"})
    assert [entry["failed"][:6] for entry in done.values()] == ["only a", "only a", "second", "second"]


def test_the_slope_of_a_square_law_is_two() -> None:
    """Points on y = 0.01 x^2 give the exponent 2 and the factor 0.01."""
    exponent, factor = tables.slope([(x, 0.01 * x * x) for x in (20.0, 90.0, 300.0, 600.0)])
    assert exponent == pytest.approx(2.0)
    assert factor == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("density", "uncast", "met"), [("sparse", 1, "no"), ("dense", 2, "yes"), ("dense", 3, "no"), ("middle", 0, "yes")]
)
def test_what_was_asked_of_coverage(density: str, uncast: int, met: str) -> None:
    """Proved on sparse and middle pieces; on dense ones two figures may lie between value and bound."""
    base = row(40, 2.0, levels=[[uncast, 0]])
    assert tables.verdict({**base, "run": {**base["run"], "density": density}}) == met


def test_a_casting_that_the_judge_refuses_meets_nothing() -> None:
    """Coverage that breaks a rule is worth nothing, and the table names the rule."""
    refused = row(40, 2.0, breaches=["H4"])
    assert tables.verdict(refused) == "no"
    assert "| H4 | no |" in tables.markdown([refused])


def test_the_table_has_one_cell_for_each_heading() -> None:
    """Rows of ours, of the textbook model and of failures are equally wide."""
    failed = {"run": {**row(9, 1.0)["run"], "model": "one-shot"}, "failed": "out of memory"}
    lines = tables.markdown([row(40, 2.0), failed]).splitlines()
    assert {len(line.split(" | ")) for line in lines} == {len(tables.HEAD)}


def test_ours_is_held_against_the_textbook_model() -> None:
    """One figure uncast against two is better; against a model that did not fit it is better too."""
    shot = {**row(9, 1.0, levels=[[2, 0]]), "run": {**row(9, 1.0)["run"], "model": "one-shot"}}
    mine = row(9, 1.0, levels=[[1, 1]])
    assert tables.beside([mine, shot]).endswith("| 1 | 2 | 0 | better |")
    assert tables.beside([mine, {**shot, "levels": [[0, 0]]}]).endswith("| worse |")
    assert tables.beside([mine, {"run": shot["run"], "failed": "out of memory"}]).endswith("| better |")


def test_the_picture_is_drawn_from_the_numbers() -> None:
    """The SVG is well formed, has two dots for each row and states both slopes."""
    rows = [row(20, 1.0), row(200, 10.0), row(600, 30.0)]
    root = ET.fromstring(tables.picture(rows))
    dots = root.findall("{http://www.w3.org/2000/svg}circle")
    assert len(dots) == 6
    assert "slope 1.00" in tables.picture(rows)
