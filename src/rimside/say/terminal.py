"""The terminal itself: calm text, or JSON; rows in columns; and how far long work has come."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from rimside.files.job import Report


def show(options: argparse.Namespace, text: Callable[[], str], table: Callable[[], object]) -> None:
    """Print a result as the person asked for it: as text, as JSON, or not at all."""
    if options.json:
        print(json.dumps(table(), ensure_ascii=False, indent=1))
    elif not options.quiet:
        print(text())


@contextmanager
def progress(options: argparse.Namespace) -> Iterator[Report]:
    """A way to report progress: a bar on stderr for somebody who watches, nothing otherwise."""
    if options.json or options.quiet or not (options.progress or sys.stderr.isatty()):
        yield lambda stage, share: None
        return
    from tqdm import tqdm

    with tqdm(total=100.0, unit="%", bar_format="{desc:<24} {bar} {n:3.0f} %  {elapsed}", file=sys.stderr) as bar:

        def report(stage: str, share: float) -> None:
            bar.set_description_str(stage, refresh=False)
            bar.update(100.0 * min(max(share, 0.0), 1.0) - bar.n)
            bar.refresh()

        yield report


def columns(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Rows of text in columns as wide as they need, indented by two; whole numbers stand to the right."""
    lines = [heads, *rows] if heads else list(rows)
    padded = [_column(cells, bool(heads)) for cells in zip(*lines, strict=True)]
    return "\n".join(f"  {'  '.join(line).rstrip()}" for line in zip(*padded, strict=True))


def _column(cells: Sequence[str], headed: bool) -> list[str]:
    width, body = max(map(len, cells)), cells[headed:]
    numbers = bool(body) and all(cell.isdecimal() for cell in body)
    return [cell.rjust(width) if numbers else cell.ljust(width) for cell in cells]


def counted(count: int, noun: str) -> str:
    """A count with its noun ("1 note", "2 notes")."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def clock(seconds: float) -> str:
    """A moment or length as minutes and seconds ("2:07")."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"
