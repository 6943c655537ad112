"""The printed markers: which there are, how large, and where their corners lie."""

from __future__ import annotations

import math

from rimside.errors import BadInput

SQUARES = 4
"""Squares of a marker's pattern on one side, without its black border of one square."""
MOST = 50
"""How many different markers there are, numbered from 0."""
SIDE_MM = 60.0
"""Outer edge of the black border, unless a sheet is asked for in another size."""
EDGE_MM = 100.0
"""Length of the line that is measured on a printed sheet."""
WRONG_SCALE = 0.05
"""A sheet printed further off than this was printed by mistake, not by a careless printer. Our assumption."""


def true_side_mm(side_mm: float, printed_edge_mm: float) -> float:
    """The side of a marker as printed, from the measured length of the sheet's line.

    Raises
    ------
    BadInput : the line is further off than any printer's own error.
    """
    scale = printed_edge_mm / EDGE_MM
    if abs(scale - 1.0) > WRONG_SCALE:
        inches = abs(printed_edge_mm * 25.4 / EDGE_MM - 1.0) < WRONG_SCALE
        hint = "was it measured in inches?" if inches else "print it again at 100 %, without fitting it to the page"
        raise BadInput(
            "the marker sheet is printed at the wrong scale",
            where="printed_edge_mm",
            value=printed_edge_mm,
            allowed=f"{EDGE_MM * (1 - WRONG_SCALE):.0f} to {EDGE_MM * (1 + WRONG_SCALE):.0f}",
            hint=hint,
        )
    return side_mm * scale


def corners_mm(side_mm: float, x_mm: float, y_mm: float, turn_deg: float) -> tuple[tuple[float, float], ...]:
    """The four outer corners in the plan, from the pattern's upper left one clockwise as printed.

    Parameters
    ----------
    x_mm, y_mm : the marker's centre.
    turn_deg : by how much its upper edge is turned from the x axis, anticlockwise.
    """
    half, turn = side_mm / 2.0, math.radians(turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    return tuple(
        (x_mm + cos * u - sin * v, y_mm + sin * u + cos * v)
        for u, v in ((-half, half), (half, half), (half, -half), (-half, -half))
    )
