"""The plan of a piano with what is open to one kind of hand: striped bands along the courses, by pattern and colour."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from rimside.paper import plan_case, plan_strings, svg
from rimside.paper.lettering import FAMILIES, settable
from rimside.paper.plan import view_box_mm
from rimside.paper.plan_marks import DARK, Board, place_marks, scale_bar, text_width_mm
from rimside.paper.typeset import typeset
from rimside.paper.wording import SCHEME_WORDS
from rimside.piano.access_map import Access, Hand, access
from rimside.piano.model import Course, Piano, Point
from rimside.pitch import Key, LabelScheme, label, plain_key, spans

OPEN, OPEN_EDGE, UNSUITED = "#7CE3A1", "#123F2A", "#D9D2C7"
"""Open; its stripes; open, but the course is not of the kind that the hand works on."""
BAND_MM = 7.0
LABEL_MM = 26.0
PREFIX = "access"


def make_access_svg(
    piano: Piano, keys: Sequence[Key], hand: Hand, scheme: LabelScheme = LabelScheme.SCIENTIFIC, prefix: str = PREFIX
) -> str:
    """The plan as SVG text, one unit a mm: the instrument, its places, and the open stretches over the courses.

    Open stretches are bands with cross stripes; where the course is not of the kind that the hand works on (a line on a
    wound string) the band is pale and without stripes. Each band has the id PREFIX-open-KEY.
    """
    board = Board()
    rows = [access(piano, key, hand) for key in keys]
    layers = [
        *plan_case.case(piano, prefix),
        *plan_strings.strings(piano, None, {}, prefix),
        *(part for row in rows for part in _bands(piano.course(row.key), row, prefix)),
        *_labels(piano, keys, scheme, board),
        *place_marks(piano, {place.id for place in piano.places}, (), prefix, board),
    ]
    left, top, width, height = box = view_box_mm(piano, (), board)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.0f} {top:.0f} {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" font-family="{", ".join(FAMILIES)}">'
    )
    return "\n".join([head, *layers, *scale_bar(*box), "</svg>"])


def make_access_pdf(
    piano: Piano, keys: Sequence[Key], hand: Hand, scheme: LabelScheme = LabelScheme.SCIENTIFIC
) -> bytes:
    """The same on a sheet of A3 with its legend."""
    rows = [access(piano, key, hand) for key in keys]
    values: dict[str, object] = {
        "piano": settable(piano.title),
        "hand": hand.name,
        "scheme": SCHEME_WORDS[scheme],
        "closed": spans((row.key for row in rows if row.suits and not row.open), scheme),
        "unsuited": spans((row.key for row in rows if not row.suits), scheme),
        "fits": hand.fits,
        "open_colour": OPEN,
        "edge_colour": OPEN_EDGE,
        "pale_colour": UNSUITED,
        "fonts": list(FAMILIES),
    }
    return typeset("access.typ", values, {"access": make_access_svg(piano, keys, hand, scheme)})


def _bands(course: Course, row: Access, prefix: str) -> Iterator[str]:
    yield f'<g id="{prefix}-open-{int(course.key)}">'
    for stretch in row.open:
        start, end = course.at(stretch.from_mm), course.at(stretch.to_mm)
        if not row.suits:
            yield svg.line(start, end, stroke=UNSUITED, stroke_width=BAND_MM, opacity=0.75)
            continue
        yield svg.line(start, end, stroke=OPEN_EDGE, stroke_width=BAND_MM)
        yield svg.line(start, end, stroke=OPEN, stroke_width=BAND_MM - 1.6)
        yield svg.line(start, end, stroke=OPEN_EDGE, stroke_width=BAND_MM, stroke_dasharray="2 12")
    yield "</g>"


def _labels(piano: Piano, keys: Sequence[Key], scheme: LabelScheme, board: Board) -> Iterator[str]:
    """The names of the A's and C's beyond their far ends, where there is room for them."""
    for key in keys:
        at = _beyond_far(piano.course(key), 34.0)
        width = text_width_mm(label(key, scheme), LABEL_MM) + 8.0
        if (plain_key(key) - 1) % 12 in (0, 3) and board.free(at, width, 30.0):
            board.take(at, width, 30.0)
            yield svg.rect(at.y_mm - width / 2, at.y_mm + width / 2, at.x_mm - 15.0, at.x_mm + 15.0, rx=4,
                           fill="#FFFFFF", stroke=DARK, stroke_width=1.5)  # fmt: skip
            yield svg.text(at, label(key, scheme), LABEL_MM, font_weight="bold")


def _beyond_far(course: Course, step_mm: float) -> Point:
    dx, dy = course.far.x_mm - course.near.x_mm, course.far.y_mm - course.near.y_mm
    length_mm = math.hypot(dx, dy)
    return Point(x_mm=course.far.x_mm + step_mm * dx / length_mm, y_mm=course.far.y_mm + step_mm * dy / length_mm)
