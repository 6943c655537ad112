"""Small helpers that write SVG in plan coordinates turned by a quarter: right is y (to the tail), down is x."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from rimside.paper.lettering import settable
from rimside.piano.model import Point


def xy(point: Point) -> str:
    """A plan point as SVG coordinates."""
    return f"{point.y_mm:.1f},{point.x_mm:.1f}"


def path(points: Iterable[Point], *, closed: bool = False, **style: object) -> str:
    """A run of straight lines."""
    run = " L".join(xy(point) for point in points)
    return f'<path d="M{run}{"Z" if closed else ""}"{attributes(style)}/>'


def line(a: Point, b: Point, **style: object) -> str:
    """One straight line."""
    return f'<line x1="{a.y_mm:.1f}" y1="{a.x_mm:.1f}" x2="{b.y_mm:.1f}" y2="{b.x_mm:.1f}"{attributes(style)}/>'


def rect(from_y_mm: float, to_y_mm: float, from_x_mm: float, to_x_mm: float, **style: object) -> str:
    """A rectangle along the keyboard's axes."""
    return (
        f'<rect x="{from_y_mm:.1f}" y="{from_x_mm:.1f}" width="{to_y_mm - from_y_mm:.1f}" '
        f'height="{to_x_mm - from_x_mm:.1f}"{attributes(style)}/>'
    )


def circle(at: Point, radius_mm: float, **style: object) -> str:
    """A circle."""
    return f'<circle cx="{at.y_mm:.1f}" cy="{at.x_mm:.1f}" r="{radius_mm:.1f}"{attributes(style)}/>'


def text(at: Point, words: str, size_mm: float, **style: object) -> str:
    """Words that are set, never read as markup; `at` is the middle of the first line's height by default."""
    baseline = Point(x_mm=at.x_mm + 0.334 * size_mm, y_mm=at.y_mm)
    settings = {"text_anchor": "middle", "fill": "#1F1B18"} | style
    return (
        f'<text x="{baseline.y_mm:.1f}" y="{baseline.x_mm:.1f}" font-size="{size_mm:.1f}"{attributes(settings)}>'
        f"{escape(settable(words))}</text>"
    )


def attributes(style: dict[str, object]) -> str:
    """Settings as XML attributes; `stroke_width` is written stroke-width, `id_` is id."""
    return "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(str(value), quote=True)}"' for name, value in style.items()
    )
