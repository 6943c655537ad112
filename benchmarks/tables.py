"""What the bench prints and draws: lines, the table in markdown, and a log-log picture of times with its slope."""

from __future__ import annotations

import math
import os
import platform
import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

Row = dict[str, Any]
"""What one run brought: `run`, `figures`, `levels`, `wall_s`, `coverage_s`, `peak_mb`, `breaches`; or `failed`."""
LEVELS = ("uncast", "risk, ms", "moves", "returns", "memory", "load, ms")
DENSE_ALLOWANCE = 2
"""Figures that may lie between value and bound of a dense piece."""


def machine() -> str:
    """The processor, its cores, the memory and the Python that the bench runs on."""
    cpu = re.search(r"model name\s*:\s*(.+)", _text("/proc/cpuinfo"))
    memory = re.search(r"MemTotal:\s*(\d+)", _text("/proc/meminfo"))
    name = cpu.group(1) if cpu else platform.processor() or platform.machine()
    size = f", {int(memory.group(1)) / 1024**2:.0f} GB of memory" if memory else ""
    return f"{os.cpu_count()} cores of {name}{size}, {platform.system()}, Python {platform.python_version()}"


def _text(path: str) -> str:
    return Path(path).read_text("utf-8") if Path(path).exists() else ""


def verdict(row: Row) -> str:
    """Whether a casting of ours meets what was asked of its coverage: proved, or on dense pieces within two figures."""
    if row["run"]["model"] != "ours":
        return ""
    if "failed" in row or row["breaches"]:
        return "no"
    value, bound = row["levels"][0]
    allowed = DENSE_ALLOWANCE if row["run"]["density"] == "dense" else 0
    return "yes" if value - bound <= allowed else "no"


def cells(row: Row) -> list[str]:
    """One line of the table."""
    run = row["run"]
    limit = f" ({run['seconds']:g} s)"
    start = [f"{run['minutes']} min {run['density']}", str(run["players"]), run["model"] + limit]
    if "failed" in row:
        return [*start, "", row["failed"], *[""] * (len(LEVELS) + 4)]
    levels = [f"{value:,}/{bound:,}" for value, bound in row["levels"]]
    levels += [""] * (len(LEVELS) - len(levels))
    times = [f"{row.get('coverage_s', row['wall_s']):.1f}", f"{row['wall_s']:.1f}"]
    judged = ", ".join(row["breaches"]) or "holds"
    return [*start, str(row["figures"]), *levels, *times, str(row["peak_mb"]), judged, verdict(row)]


HEAD = ("piece", "players", "model", "figures", *LEVELS, "covered, s", "whole, s", "peak, MB", "judge", "met")


def markdown(rows: Iterable[Row]) -> str:
    """All rows as a table; levels are value/bound."""
    lines = [_joined(HEAD), _joined(["---"] * len(HEAD)), *(_joined(cells(row)) for row in rows)]
    return "\n".join(lines)


def line(row: Row) -> str:
    """One row as it is told while the bench runs."""
    return "  ".join(cell for cell in cells(row) if cell)


def beside(rows: Sequence[Row]) -> str:
    """Ours against the textbook model, wherever both ran: what each leaves uncast, and which is better."""
    own = {_piece(row): row["levels"][0][0] for row in rows if row["run"]["model"] == "ours" and "failed" not in row}
    lines = ["", _joined(("piece", "players", "ours uncast", "one-shot uncast", "its bound", "ours is"))]
    lines.append(_joined(["---"] * 6))
    for row in rows:
        if row["run"]["model"] != "ours" and _piece(row) in own:
            theirs, bound = row.get("levels", [[None, None]])[0]
            said = [row["failed"], ""] if theirs is None else [str(theirs), str(bound)]
            ours = own[_piece(row)]
            lines.append(_joined([*cells(row)[:2], str(ours), *said, _compared(ours, theirs)]))
    return "\n".join(lines)


def _piece(row: Row) -> tuple[object, ...]:
    return tuple(row["run"][name] for name in ("minutes", "density", "players"))


def _compared(ours: int, theirs: int | None) -> str:
    if theirs is None or ours < theirs:
        return "better"
    return "the same" if ours == theirs else "worse"


def _joined(texts: Sequence[str]) -> str:
    return f"| {' | '.join(texts)} |"


# Time against number of figures.

Points = list[tuple[float, float]]


def points(rows: Iterable[Row], field: str) -> Points:
    """(figures, seconds) of all castings of ours."""
    return [(row["figures"], row[field]) for row in rows if row["run"]["model"] == "ours" and "failed" not in row]


def slope(of: Points) -> tuple[float, float]:
    """Exponent and factor of the power law nearest to the points by least squares of the logarithms."""
    xs, ys = [math.log(x) for x, _ in of], [math.log(y) for _, y in of]
    x_mean, y_mean = sum(xs) / len(xs), sum(ys) / len(ys)
    spread = sum((x - x_mean) ** 2 for x in xs)
    exponent = sum((x - x_mean) * (y - y_mean) for x, y in zip(xs, ys, strict=True)) / spread
    return exponent, math.exp(y_mean - exponent * x_mean)


def slopes(rows: Sequence[Row]) -> str:
    """The slopes in words."""
    covered, whole = slope(points(rows, "coverage_s"))[0], slope(points(rows, "wall_s"))[0]
    return (
        f"\nTime grows with the number of figures to the power {covered:.2f} until coverage is settled, "
        f"{whole:.2f} in all (least squares on logarithms)."
    )


WIDTH, HEIGHT, MARGIN = 640.0, 420.0, 60.0
SERIES = (("coverage_s", "#0072B2", "until coverage is settled"), ("wall_s", "#D55E00", "in all"))


def picture(rows: Sequence[Row]) -> str:
    """An SVG of time against number of figures, both axes logarithmic, a line of least squares through each series."""
    every = [point for field, _, _ in SERIES for point in points(rows, field)]
    x_of = _scale([x for x, _ in every], MARGIN, WIDTH - MARGIN / 3)
    y_of = _scale([y for _, y in every], HEIGHT - MARGIN, MARGIN / 3)
    parts = [*_axis([x for x, _ in every], x_of, across=True), *_axis([y for _, y in every], y_of, across=False)]
    for number, (field, colour, words) in enumerate(SERIES):
        parts += _series(points(rows, field), colour, words, number, (x_of, y_of))
    parts.append(_label(WIDTH / 2, HEIGHT - 14, "figures"))
    parts.append(_label(16, HEIGHT / 2, "seconds", turn=True))
    size = f'width="{WIDTH:.0f}" height="{HEIGHT:.0f}" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" font-size="12">'
    title = "<title>Time to cast against the number of figures, both logarithmic</title>"
    return "\n".join([head, title, '<rect width="100%" height="100%" fill="white"/>', *parts, "</svg>", ""])


Scale = Callable[[float], float]


def _scale(values: list[float], start: float, end: float) -> Scale:
    low, high = math.log(min(values) / 1.2), math.log(max(values) * 1.2)
    return lambda value: start + (end - start) * (math.log(value) - low) / (high - low)


def _ticks(values: list[float]) -> list[float]:
    """1, 2 and 5 times powers of ten inside the values."""
    low, high = min(values) / 1.2, max(values) * 1.2
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    return [tick for power in powers for step in (1, 2, 5) if low <= (tick := step * 10.0**power) <= high]


def _axis(values: list[float], scale: Scale, *, across: bool) -> list[str]:
    parts = []
    for tick in _ticks(values):
        at = scale(tick)
        ends = (at, HEIGHT - MARGIN, at, MARGIN / 3) if across else (MARGIN, at, WIDTH - MARGIN / 3, at)
        parts.append(_line(*ends, "#dddddd"))
        parts.append(
            _label(at, HEIGHT - MARGIN + 18, f"{tick:g}") if across else _label(MARGIN - 20, at + 4, f"{tick:g}")
        )
    return parts


def _series(of: Points, colour: str, words: str, number: int, scales: tuple[Scale, Scale]) -> list[str]:
    x_of, y_of = scales
    exponent, factor = slope(of)
    left, right = min(x for x, _ in of), max(x for x, _ in of)
    fill = f'fill="{"white" if number else colour}" stroke="{colour}" stroke-width="1.5"'
    dots = [f'<circle cx="{x_of(x):.1f}" cy="{y_of(y):.1f}" r="3.5" {fill}/>' for x, y in of]
    ends = [(x_of(x), y_of(factor * x**exponent)) for x in (left, right)]
    told = f"{'○' if number else '●'} {words}: slope {exponent:.2f}"
    legend = f'<text x="{MARGIN + 12}" y="{MARGIN / 3 + 18 + 18 * number}" fill="{colour}">{told}</text>'
    return [*dots, _line(*ends[0], *ends[1], colour), legend]


def _line(x: float, y: float, to_x: float, to_y: float, colour: str) -> str:
    return f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{to_x:.1f}" y2="{to_y:.1f}" stroke="{colour}"/>'


def _label(x: float, y: float, words: str, *, turn: bool = False) -> str:
    turned = f' transform="rotate(-90 {x:.0f} {y:.0f})"' if turn else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle"{turned}>{words}</text>'
