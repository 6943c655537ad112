"""The sheet of markers for photographs: exact in size, with a line to check it by."""

from __future__ import annotations

from rimside.errors import BadInput
from rimside.paper.papers import PAPERS_MM
from rimside.paper.typeset import typeset
from rimside.piano.photo.camera import marker_squares
from rimside.piano.photo.markers import EDGE_MM, MOST, SIDE_MM, SQUARES

LEAST_SIDE_MM, MOST_SIDE_MM = 20.0, 120.0
CUT_MM = 4.0
"""Between the white margin, one square wide, and the cutting line, both sides together."""
_FOOT_MM, _EDGE_MM = 26.0, 8.0
"""What stands below the markers, and what no printer prints on."""


def marker_sheet(*, count: int = 10, first: int = 0, side_mm: float = SIDE_MM, paper: str = "a4") -> bytes:
    """A PDF with markers `first` to `first + count - 1`, as many on a page as it holds.

    Raises
    ------
    BadInput : unknown paper, markers that do not exist, a side that is too small to be seen or too large for the paper.
    """
    if paper not in PAPERS_MM:
        raise BadInput("unknown paper", where="--paper", value=paper, allowed=", ".join(PAPERS_MM))
    if count < 1 or first < 0 or first + count > MOST:
        raise BadInput("there are no such markers", where="--count", value=f"{first} to {first + count - 1}",
                       allowed=f"0 to {MOST - 1}")  # fmt: skip
    columns, rows = _per_page(side_mm, paper)
    each, numbers = columns * rows, list(range(first, first + count))
    return typeset(
        "markers.typ",
        {
            "paper": list(PAPERS_MM[paper]), "columns": columns, "side": side_mm, "margin": side_mm / (SQUARES + 2),
            "card": _card_mm(side_mm), "edge": EDGE_MM,
            "pages": [numbers[at : at + each] for at in range(0, count, each)],
        },
        {f"marker-{number}": _svg(number) for number in numbers},
    )  # fmt: skip


def _per_page(side_mm: float, paper: str) -> tuple[int, int]:
    width_mm, height_mm = PAPERS_MM[paper]
    columns = int((width_mm - 2 * _EDGE_MM) // _card_mm(side_mm))
    rows = int((height_mm - 2 * _EDGE_MM - _FOOT_MM) // _card_mm(side_mm))
    if not LEAST_SIDE_MM <= side_mm <= MOST_SIDE_MM or columns < 1 or rows < 1:
        raise BadInput("no such marker fits this paper", where="--side", value=side_mm,
                       allowed=f"{LEAST_SIDE_MM:.0f} to {MOST_SIDE_MM:.0f} mm, smaller than the paper")  # fmt: skip
    return columns, rows


def _card_mm(side_mm: float) -> float:
    """A marker with its white margin of one square, and room to cut."""
    return side_mm * (SQUARES + 4) / (SQUARES + 2) + CUT_MM


def _svg(number: int) -> str:
    """The pattern as one path, so that no hair of white shows between its squares."""
    black = "".join(
        f"M{column},{row}h1v1h-1z"
        for row, squares in enumerate(marker_squares(number))
        for column, dark in enumerate(squares)
        if dark
    )
    size = SQUARES + 2
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" width="{size}" height="{size}">'
        f'<path d="{black}" fill="#000000" shape-rendering="crispEdges"/></svg>'
    )
