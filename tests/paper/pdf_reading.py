"""Reading a PDF back with tools that had no part in making it: pypdf for structure, pypdfium2 for pages and text."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pypdf
import pypdfium2
from pypdf.generic import ContentStream

MM_PER_POINT = 25.4 / 72.0
"""A PDF unit is 1/72 inch. Source: ISO 32000-1, 8.3.2.3 (default user space)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One character as it stands on a page: its box in mm from the page's lower left corner."""

    char: str
    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float


def document(pdf: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(pdf)


def page_sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    return [(width * MM_PER_POINT, height * MM_PER_POINT) for width, height in (p.get_size() for p in document(pdf))]


def page_texts(pdf: bytes) -> list[str]:
    return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document(pdf)]


def letters(pdf: bytes, page: int) -> list[Letter]:
    """Every character of a page with the box of its ink."""
    text = document(pdf)[page].get_textpage()
    found = []
    for number in range(text.count_chars()):
        left, bottom, right, top = text.get_charbox(number)
        found.append(
            Letter(
                char=text.get_text_range(number, 1),
                left_mm=left * MM_PER_POINT,
                bottom_mm=bottom * MM_PER_POINT,
                width_mm=(right - left) * MM_PER_POINT,
                height_mm=(top - bottom) * MM_PER_POINT,
            )
        )
    return found


def fonts(pdf: bytes) -> dict[str, bool]:
    """Every face that a page or a drawing on it uses, and whether its file lies inside the PDF."""
    found: dict[str, bool] = {}
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for font in _fonts(page["/Resources"]):
            base = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            descriptor = base["/FontDescriptor"].get_object()
            found[str(font["/BaseFont"])] = any(
                name in descriptor for name in ("/FontFile2", "/FontFile3", "/FontFile")
            )
    return found


def _fonts(resources: Any) -> Iterator[Any]:
    resources = resources.get_object()
    for font in resources.get("/Font", {}).values():
        yield font.get_object()
    for inner in resources.get("/XObject", {}).values():
        if "/Resources" in inner.get_object():
            yield from _fonts(inner.get_object()["/Resources"])


def missing(pdf: bytes) -> int:
    """How many glyphs number 0 are shown: that is how a face draws a character that it does not hold.

    Source: ISO/IEC 14496-22, glyph 0 is the missing glyph; ISO 32000-1, 9.7.4.2, CIDs equal glyph numbers here.
    """
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return sum(_missing(page.get_contents(), page["/Resources"], reader) for page in reader.pages)


def _missing(stream: Any, resources: Any, reader: pypdf.PdfReader) -> int:
    resources, count = resources.get_object(), 0
    for operands, operator in ContentStream(stream, reader).operations:
        if operator in (b"Tj", b"TJ"):
            parts = operands[0] if operator == b"TJ" else operands
            count += sum(_zeros(part) for part in parts if isinstance(part, str | bytes))
    for inner in resources.get("/XObject", {}).values():
        form = inner.get_object()
        if form.get("/Subtype") == "/Form":
            count += _missing(form, form.get("/Resources", {}), reader)
    return count


def _zeros(shown: Any) -> int:
    data = shown if isinstance(shown, bytes) else shown.original_bytes
    return sum(1 for at in range(0, len(data) - 1, 2) if data[at : at + 2] == b"\0\0")


def words(text: str) -> str:
    """A text on one line, every run of blanks one blank."""
    return re.sub(r"\s+", " ", text)
