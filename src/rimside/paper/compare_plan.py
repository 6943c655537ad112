"""One plan over another: what stands where on two pianos, laid on each other at the keyboard's bass end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rimside.casting.compare import Comparison, Difference, Weight
from rimside.paper import svg
from rimside.paper.lettering import FAMILIES
from rimside.paper.plan import view_box_mm
from rimside.paper.plan_case import bridge_runs
from rimside.paper.plan_marks import scale_bar
from rimside.paper.typeset import typeset
from rimside.paper.wording import SCHEME_WORDS
from rimside.piano.model import Piano, Point
from rimside.pitch import LabelScheme, choir_of, label

HERE, THERE = "#1F3A5F", "#C2410C"
"""A dark blue in full lines, an orange red in dashes: told apart by line, not by colour alone."""
DASHES = "26 14"
LABEL_MM = 24.0
HALO = {"stroke": "#FFFFFF", "stroke_width": 8.0, "stroke_linejoin": "round", "paint_order": "stroke"}
"""White round letters, so that lines behind them do not cut them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pen:
    colour: str
    dashes: str
    square: bool

    def style(self, breadth_mm: float) -> dict[str, Any]:
        plain: dict[str, Any] = {"fill": "none", "stroke": self.colour, "stroke_width": breadth_mm}
        return plain | ({"stroke_dasharray": self.dashes} if self.dashes else {})


_HERE_PEN = _Pen(colour=HERE, dashes="", square=False)
_THERE_PEN = _Pen(colour=THERE, dashes=DASHES, square=True)


def make_compare_svg(found: Comparison, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> str:
    """Both plans as SVG text, one unit a mm; of courses only those that the piece uses, and no others."""
    boxes = [view_box_mm(piano) for piano in (found.here, found.there)]
    left, top = min(box[0] for box in boxes), min(box[1] for box in boxes)
    right, bottom = max(box[0] + box[2] for box in boxes), max(box[1] + box[3] for box in boxes)
    size = (right - left, bottom - top)
    layers = [
        *_piano(found.there, found, _THERE_PEN),
        *_piano(found.here, found, _HERE_PEN),
        *_labels(found, scheme),
    ]
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.0f} {top:.0f} {size[0]:.0f} {size[1]:.0f}" '
        f'width="{size[0]:.0f}" height="{size[1]:.0f}" font-family="{", ".join(FAMILIES)}">'
    )
    return "\n".join([head, *layers, *scale_bar(left, top, *size), "</svg>"])


def _piano(piano: Piano, found: Comparison, pen: _Pen) -> Iterator[str]:
    """Outline, bridges and near ends, struts, dampers and spots of one."""
    yield svg.path(piano.outline, closed=True, **pen.style(9.0))
    for run in bridge_runs([course for course in piano.courses if choir_of(course.key) == 1]):
        for points in ([course.near for course in run], [course.far for course in run]):
            yield svg.path(points, **pen.style(4.0))
    for strut in piano.struts:
        for points in _sides(strut.start, strut.end, strut.width_mm):
            yield svg.path(points, **pen.style(4.5))
    for course in piano.courses:
        if course.key in found.keys:
            yield svg.line(course.near, course.far, **pen.style(2.6))
            if course.damper is not None:
                yield svg.line(course.at(course.damper.from_mm), course.at(course.damper.to_mm), stroke=pen.colour,
                               stroke_width=7.0)  # fmt: skip
    for spot in piano.spots:
        used = spot.name in found.spots
        yield from _spot(spot.at, pen, used)


def _sides(start: Point, end: Point, width_mm: float) -> tuple[list[Point], ...]:
    """The two long edges of a strut and its ends, as one closed run."""
    length_mm = max(start.distance_mm(end), 1.0)
    across_x = width_mm / 2.0 * (end.y_mm - start.y_mm) / length_mm
    across_y = -width_mm / 2.0 * (end.x_mm - start.x_mm) / length_mm
    corners = [(start, 1), (end, 1), (end, -1), (start, -1), (start, 1)]
    return ([Point(x_mm=p.x_mm + s * across_x, y_mm=p.y_mm + s * across_y) for p, s in corners],)


def _spot(at: Point, pen: _Pen, used: bool) -> Iterator[str]:
    """A ring here, a square there; filled when the piece uses it."""
    fill = pen.colour if used else "#FFFFFF"
    style = {"fill": fill, "stroke": pen.colour, "stroke_width": 4.0}
    if pen.square:
        yield svg.rect(at.y_mm - 15.0, at.y_mm + 15.0, at.x_mm - 15.0, at.x_mm + 15.0, **style)
    else:
        yield svg.circle(at, 12.0, **style)


def _labels(found: Comparison, scheme: LabelScheme) -> Iterator[str]:
    """The courses' labels at the near ends here, one row for every neighbour so that none covers another."""
    last_x, row = -1e9, 0
    for course in sorted((c for c in found.here.courses if c.key in found.keys), key=lambda c: c.near.x_mm):
        row = (row + 1) % 4 if course.near.x_mm - last_x < 1.3 * LABEL_MM else 0
        last_x = course.near.x_mm
        at = Point(x_mm=course.near.x_mm, y_mm=course.near.y_mm - 40.0 - 62.0 * row)
        yield svg.text(at, label(course.key, scheme), LABEL_MM, fill=HERE, font_weight="bold", **HALO)
    for piano, colour in ((found.here, HERE), (found.there, THERE)):
        for strut in piano.struts:
            at = Point(x_mm=strut.end.x_mm, y_mm=strut.end.y_mm + 30.0)
            yield svg.text(at, strut.name, 0.8 * LABEL_MM, fill=colour, text_anchor="start", **HALO)


def make_compare_pdf(found: Comparison, title: str, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> bytes:
    """The picture on an A3 sheet, and the table of what has to be done otherwise."""
    data = {
        "title": title,
        "here": found.here.title,
        "there": found.there.title,
        "here_colour": HERE,
        "there_colour": THERE,
        "scheme": SCHEME_WORDS[scheme],
        "groups": [
            {"weight": weight.value, "rows": [_row(one) for one in found.of(weight)]}
            for weight in Weight
            if found.of(weight)
        ],
    }
    return typeset("compare.typ", data, {"compare": make_compare_svg(found, scheme)})


def _row(one: Difference) -> dict[str, object]:
    return {"what": one.what, "here": one.here, "there": one.there, "figures": few(one.figures), "source": one.source}


def few(names: Sequence[str], most: int = 6) -> str:
    """The first few names, and how many more."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return f"{', '.join(names[:most])}{more}"
