"""The plan of what is open to a kind of hand."""

from __future__ import annotations

import re

import pytest

from rimside.kit import HANDS
from rimside.paper.access_plan import OPEN, UNSUITED, make_access_pdf, make_access_svg
from rimside.paper.ink import contrast
from rimside.piano.access_map import access
from rimside.pitch import Key, LabelScheme
from tests.paper import pdf_reading
from tests.piano.example import piano

ALL = tuple(Key(key) for key in range(1, 89))
LINE = re.compile(r'<line x1="([\d.-]+)" y1="([\d.-]+)" x2="([\d.-]+)" y2="([\d.-]+)"[^>]*stroke="(#\w+)"')


def band(svg: str, key: int) -> str:
    found = re.search(rf'<g id="access-open-{key}">(.*?)</g>', svg, re.DOTALL)
    assert found is not None
    return found[1]


@pytest.mark.parametrize("hand", ["line bow", "touch", "friction strip"])
def test_bands_lie_where_the_map_says(hand: str) -> None:
    """Each band runs over an open stretch of its course in plan mm; there are as many as stretches, and no more."""
    svg = make_access_svg(piano(), ALL, HANDS[hand])
    for key in (1, 28, 40, 88):
        row, course = access(piano(), Key(key), HANDS[hand]), piano().course(Key(key))
        colour = OPEN if row.suits else UNSUITED
        drawn = [tuple(map(float, line[:4])) for line in LINE.findall(band(svg, key)) if line[4] == colour]
        ends = [(course.at(stretch.from_mm), course.at(stretch.to_mm)) for stretch in row.open]
        assert drawn == [pytest.approx((a.y_mm, a.x_mm, b.y_mm, b.x_mm), abs=0.06) for a, b in ends]


def test_open_is_told_by_pattern_as_well() -> None:
    """Bands carry cross stripes, bands of courses that do not suit none, and the stripes stand out."""
    svg = make_access_svg(piano(), ALL, HANDS["line bow"])
    assert "stroke-dasharray" in band(svg, 40)
    assert "stroke-dasharray" not in band(svg, 1)
    assert contrast(OPEN, "#123F2A") > 4.5


def test_only_the_keys_that_are_asked_for() -> None:
    """A band for each of them and for no other."""
    svg = make_access_svg(piano(), ALL[27:30], HANDS["touch"])
    assert re.findall(r'id="access-open-(\d+)"', svg) == ["28", "29", "30"]


def test_the_sheet_names_what_is_closed_and_what_does_not_suit() -> None:
    """A3 across; the line's legend has the wound courses and those above the last open one, in the scheme asked for."""
    # ISO 216: A3 297 x 420 mm.
    pdf = make_access_pdf(piano(), ALL, HANDS["line bow"], LabelScheme.KEY_NUMBER)
    assert pdf_reading.page_sizes_mm(pdf) == [pytest.approx((420.0, 297.0), abs=0.01)]
    text = pdf_reading.words(pdf_reading.page_texts(pdf)[0])
    closed = [row.key for row in (access(piano(), key, HANDS["line bow"]) for key in ALL) if row.suits and not row.open]
    assert f"Nowhere open: {min(closed)}–{max(closed)}" in text
    assert "needs plain strings: 1–20" in text
    assert pdf_reading.missing(pdf) == 0
