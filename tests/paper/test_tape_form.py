"""The printed form: every reading stands in the picture and in the table, on two pages."""

from __future__ import annotations

import re
from dataclasses import replace

import pypdfium2
import pytest

from rimside.errors import BadInput
from rimside.paper.tape_form import form_svg, tape_form
from rimside.piano.readings import Counts, steps
from rimside.piano.shipped import SHIPPED
from tests.piano.example import piano
from tests.piano.tape_example import counts_of


def pages(pdf: bytes) -> list[str]:
    return [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]


def numbers(svg: str) -> list[int]:
    return sorted(int(found) for found in re.findall(r">(\d+)</text>", svg))


@pytest.mark.parametrize("name", SHIPPED)
def test_every_reading_is_drawn_once(name: str) -> None:
    """The picture has one numbered arrow for each line of the table, no two numbers on one place."""
    rows = list(enumerate(steps(counts_of(name)), start=1))
    svg = form_svg(piano(name), rows)
    assert numbers(svg) == [number for number, _ in rows]
    spots = [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([-\d.]+)" cy="([-\d.]+)" r="25', svg)]
    assert len(spots) == len(rows)
    assert all(abs(a[0] - b[0]) + abs(a[1] - b[1]) > 40 for a in spots for b in spots if a != b)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", SHIPPED)
def test_the_form_has_two_pages(name: str, paper: str) -> None:
    """Picture, cautions and counts on the first page, the readings on the second."""
    first, second = pages(tape_form(piano(name), counts_of(name), told=False, paper=paper))
    for words in ("ask the owner", "Nothing sticky", "every damper", "last_keys", "No metal"):
        assert words in " ".join(first.split()), words
    assert len(re.findall("speaking length", second)) == sum("length_" in s.name for s in steps(counts_of(name)))


def test_many_sections_still_fit() -> None:
    """Six sections, their keys told, on the shorter paper."""
    counts = replace(counts_of("grand_275"), last_keys=(30, 48, 60, 72, 80, 88), first_plain=31, struts_after=())
    first, second = pages(tape_form(piano("grand_275"), counts, told=True, paper="letter"))
    assert "first of section 6, 81" in " ".join(second.split())
    assert isinstance(counts, Counts) and "30, 48, 60" in first


def test_unknown_paper_is_refused() -> None:
    """Paper that the form is not made for."""
    with pytest.raises(BadInput, match="a5"):
        tape_form(piano("grand_210"), counts_of("grand_210"), told=False, paper="a5")
