"""Single sheets that belong to no production, written where a person says."""

from __future__ import annotations

from pathlib import Path

from rimside.files.atomic import write_file
from rimside.paper.marker_sheet import marker_sheet


def write_markers(file: str, count: int, first: int, side_mm: float, paper: str) -> Path:
    """Write the sheet of markers.

    Raises
    ------
    BadInput : markers or paper that do not exist, or the disc refused.
    """
    path = Path(file)
    write_file(path, marker_sheet(count=count, first=first, side_mm=side_mm, paper=paper), file)
    return path
