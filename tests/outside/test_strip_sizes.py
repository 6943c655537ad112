"""Node strips measured on the printed page with a tool that had no part in making them."""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise

import pypdfium2.raw
import pytest

from rimside.paper.node_strip import HEAD_MM, MARGIN_MM, OVERLAP_MM, STRIP_MM, make_strips
from rimside.pitch import Key
from tests.paper import pdf_reading
from tests.piano.example import piano

Box = tuple[float, float, float, float]
HAIR_MM = 0.02
"""A hundredth of a mm or two: what is left of 1:1 after rounding in the page's own units."""


@cache
def strips(*keys: int, sheet: str = "a4") -> bytes:
    return make_strips(piano(), [Key(key) for key in keys], sheet=sheet)


def boxes(pdf: bytes, page: int) -> list[Box]:
    """Left, bottom, right and top of everything drawn on a page that is no letter, mm."""
    drawn = pdf_reading.document(pdf)[page].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH])
    found = []
    for shape in drawn:
        left, bottom, right, top = (side * pdf_reading.MM_PER_POINT for side in shape.get_bounds())
        found.append((left, bottom, right, top))
    return found


def upright(found: list[Box]) -> list[Box]:
    return [box for box in found if box[2] - box[0] < 0.55 and box[3] - box[1] > 0.9]


def middle(box: Box) -> float:
    return (box[0] + box[2]) / 2


def rulers(found: list[Box]) -> list[Box]:
    """The long level lines below the head, topmost first: one a strip."""
    level = [box for box in found if box[2] - box[0] > 20 and box[3] - box[1] < 0.45]
    return sorted((box for box in level if box[3] < 210 - HEAD_MM), key=lambda box: -box[1])


def test_the_check_edge_is_a_hundred_millimetres() -> None:
    """On every sheet a line runs 100 mm between the middles of its two end marks."""
    for page in range(len(pdf_reading.document(strips(1, 40, 88)))):
        marks = [box for box in upright(boxes(strips(1, 40, 88), page)) if 210 - 22 < box[1] < 210 - 18]
        assert len(marks) == 2
        assert abs(middle(marks[1]) - middle(marks[0])) == pytest.approx(100.0, abs=HAIR_MM)


@pytest.mark.parametrize(
    ("sheet", "size"), [("a4", (297.0, 210.0)), ("a3", (420.0, 297.0)), ("letter", (279.4, 215.9))]
)
def test_sheets_have_their_size(sheet: str, size: tuple[float, float]) -> None:
    """A4 and A3 across, and letter."""
    # ISO 216: 210 x 297, 297 x 420 mm; ANSI/ASME Y14.1: 8.5 x 11 in.
    assert all(found == pytest.approx(size, abs=0.05) for found in pdf_reading.page_sizes_mm(strips(40, sheet=sheet)))


@pytest.mark.parametrize("key", [1, 28, 40, 64, 88])
def test_every_node_is_printed_where_it_lies(key: int) -> None:
    """Over all sheets of a course: a mark at L k/n from the near end for each irreducible k/n of partials 2 to 8."""
    # The fractions are worked out here: gcd(k, n) = 1 (cellomap.com, finding harmonics' touch points).
    pdf, length_mm = strips(key), piano().course(Key(key)).length_mm
    wanted = sorted(length_mm * k / n for n in range(2, 9) for k in range(1, n) if math.gcd(k, n) == 1)
    run_mm = 297.0 - 2 * MARGIN_MM
    printed: set[float] = set()
    for page in range(len(pdf_reading.document(pdf))):
        found = boxes(pdf, page)
        (ruler,) = rulers(found)
        above = [box for box in upright(found) if abs(box[1] - middle_y(ruler)) < 0.3 and box[3] - ruler[3] > 0.5]
        start_mm = page * (run_mm - OVERLAP_MM)
        here = [start_mm + middle(box) - MARGIN_MM for box in above]
        printed |= set(here)
        expected = [at for at in wanted if start_mm - 1e-6 <= at <= start_mm + run_mm + 1e-6]
        assert sorted(here) == pytest.approx(expected, abs=HAIR_MM)
    assert all(min(abs(at - one) for one in printed) < HAIR_MM for at in wanted)


def middle_y(box: Box) -> float:
    return (box[1] + box[3]) / 2


def test_sheets_overlap_and_meet_at_their_seams() -> None:
    """The dashed lines of two sheets stand for the same point of the string, named on both."""
    pdf, run_mm = strips(40), 297.0 - 2 * MARGIN_MM
    texts = pdf_reading.page_texts(pdf)
    step_mm = run_mm - OVERLAP_MM
    assert len(texts) == math.ceil((piano().course(Key(40)).length_mm - OVERLAP_MM) / step_mm)
    for number in range(1, len(texts)):
        seam_mm = number * step_mm + OVERLAP_MM / 2
        before, after = (boxes(pdf, page) for page in (number - 1, number))
        assert any(
            middle(box) == pytest.approx(MARGIN_MM + run_mm - OVERLAP_MM / 2, abs=HAIR_MM) for box in tall(before)
        )
        assert any(middle(box) == pytest.approx(MARGIN_MM + OVERLAP_MM / 2, abs=HAIR_MM) for box in tall(after))
        assert f"{seam_mm:g} mm on {number + 1}" in pdf_reading.words(texts[number - 1])
        assert f"{seam_mm:g} mm on {number}" in pdf_reading.words(texts[number])


def tall(found: list[Box]) -> list[Box]:
    return [box for box in upright(found) if box[3] - box[1] > 25]


def test_the_ruler_counts_ten_millimetres_a_tick() -> None:
    """Below the line ticks stand 10 mm apart, the first at the near end."""
    found = boxes(strips(40), 0)
    (ruler,) = rulers(found)
    below = sorted(middle(box) for box in upright(found) if abs(box[3] - middle_y(ruler)) < 0.3 and box[1] < ruler[1])
    assert below[0] == pytest.approx(MARGIN_MM, abs=HAIR_MM)
    assert [b - a for a, b in pairwise(below)] == pytest.approx([10.0] * (len(below) - 1), abs=HAIR_MM)


def test_the_far_end_stands_at_the_strings_length() -> None:
    """A thick bar begins where the string ends, on the last sheet."""
    length_mm = piano().course(Key(64)).length_mm
    bars = [box for box in boxes(strips(64), 0) if 0.85 < box[2] - box[0] < 0.95 and 4.9 < box[3] - box[1] < 5.1]
    assert sorted(box[0] for box in bars) == pytest.approx([MARGIN_MM - 0.9, MARGIN_MM + length_mm], abs=HAIR_MM)


def test_several_courses_share_a_sheet_and_none_runs_off() -> None:
    """Five strips on A4, a sixth on the next; all that is drawn lies on the paper."""
    pdf = strips(60, 62, 64, 66, 68, 70)
    assert [len(rulers(boxes(pdf, page))) for page in range(2)] == [5, 1]
    tops = [ruler[1] for ruler in rulers(boxes(pdf, 0))]
    assert [a - b for a, b in pairwise(tops)] == pytest.approx([STRIP_MM] * 4, abs=HAIR_MM)
    for page in range(2):
        assert all(box[0] >= 0 and box[1] >= 0 and box[2] <= 297 and box[3] <= 210 for box in boxes(pdf, page))


def test_letters_are_inside_the_file_and_none_is_missing() -> None:
    """Every face lies in the PDF, and no character prints as a box; sharps included."""
    pdf = strips(41, 1)
    assert pdf_reading.missing(pdf) == 0
    assert all(pdf_reading.fonts(pdf).values())
    assert "C♯4" in pdf_reading.page_texts(pdf)[0].replace(" ", "")
