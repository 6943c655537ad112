"""A picture with its marks, and the report of the piano made of them, as plain values for the page."""

from __future__ import annotations

import hashlib
from pathlib import Path

from rimside.files import tracing
from rimside.files.measure_tape import doubt_words
from rimside.files.project import SURVEY
from rimside.files.tracing import Found
from rimside.piano.survey import remarks
from rimside.piano.tape import Surveyed

Row = dict[str, object]


def sheet(folder: Path, found: Found) -> Row:
    """The picture's place in the plan, the marks so far, and the trace file that they are written to."""
    picture = found.picture
    assert picture is not None
    data = trace_bytes(folder, found)
    return {
        "report": found.report, "trace": found.trace, "sha": sha(data),
        "columns": picture.columns, "rows": picture.rows, "mm_per_pixel": picture.mm_per_pixel,
        "origin_mm": [picture.origin.x_mm, picture.origin.y_mm],
        "error_mm": picture.error_mm, "worst_mm": picture.worst_mm,
        "slip": tracing.slip_of(folder, found.trace, data) if data else "",
        **({"told": tracing.told(data)} if data else {"told": {}}),
    }  # fmt: skip


def trace_bytes(folder: Path, found: Found) -> bytes:
    """The trace file as it lies on the disc; empty when there is none yet."""
    path = folder / SURVEY / found.trace
    return path.read_bytes() if path.is_file() else b""


def sha(data: bytes) -> str | None:
    """The SHA-256 of a file, None for one that is not there."""
    return hashlib.sha256(data).hexdigest() if data else None


def report(done: Surveyed) -> Row:
    """What became of the marks: what is measured, how sure, what is assumed, missing and in doubt."""
    return {
        "title": done.survey.title,
        "like": done.like,
        "readings": len(done.known.readings),
        "measured": sorted(done.survey.measured),
        "errors": [
            [row.name, round(row.near_mm), round(row.middle_mm), round(row.far_mm), round(row.along_mm)]
            for row in done.errors
        ],
        "assumed": [f"{row.place}: {row.text}" for row in done.assumptions],
        "missing": list(done.missing),
        "doubts": [doubt_words(row) for row in done.doubts],
        "remarks": list(remarks(done.piano)),
    }
