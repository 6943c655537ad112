"""The faces of the book, the characters they cover, and what happens to those that they do not.

A glyph that no face holds prints as a box without any warning, so every text goes through `settable` first.
"""

from __future__ import annotations

from functools import cache

from rimside.paper.fontfile import characters, font_file
from rimside.paper.outlines import SIGNS

FAMILY = "Atkinson Hyperlegible"
SIGN_FAMILY = "Rimside Signs"
FALLBACK_FAMILIES = ("Libertinus Serif", "DejaVu Sans Mono")
"""Declared second faces, for what people write in other alphabets; both are built into the typesetter."""
FAMILIES = (FAMILY, SIGN_FAMILY, *FALLBACK_FAMILIES)
FACES = ("Regular", "Bold", "Italic", "BoldItalic")

FALLBACK_RANGES: tuple[tuple[int, int, str], ...] = (
    (0x0100, 0x017F, "Latin Extended-A"),
    (0x0391, 0x03A1, "Greek capitals, first part"),
    (0x03A3, 0x03CE, "Greek, the rest"),
    (0x0400, 0x045F, "Cyrillic"),
    (0x1E00, 0x1EF9, "Latin Extended Additional"),
    (0x2032, 0x2033, "primes"),
)
"""Code points that the second faces cover, ends included. Checked by setting each of them (tests/outside)."""


def face_file(face: str) -> bytes:
    """The TrueType file of one face of Atkinson Hyperlegible (OFL 1.1), from the installed package."""
    import fontpkg_atkinson_hyperlegible as package

    return bytes((package.ROOT / "files" / f"AtkinsonHyperlegible-{face}.ttf").read_bytes())


@cache
def sign_file() -> bytes:
    """The TrueType file of our own signs."""
    return font_file(SIGN_FAMILY, SIGNS)


@cache
def covered() -> frozenset[str]:
    """The characters that the book's own two faces hold, in every weight and slope."""
    faces = (characters(face_file(face)) for face in FACES)
    return frozenset.intersection(*faces) | characters(sign_file())


def missing_glyphs(text: str) -> set[str]:
    """The characters of a text that none of the declared faces can set."""
    return {char for char in text if char not in covered() and not _in_second_faces(char) and char != "\n"}


def _in_second_faces(char: str) -> bool:
    return any(first <= ord(char) <= last for first, last, _ in FALLBACK_RANGES)


def settable(text: str) -> str:
    """The text with each character that no face sets written as its code ("[U+4E2D]"): nothing prints a box."""
    lost = missing_glyphs(text)
    return "".join(f"[U+{ord(char):04X}]" if char in lost else char for char in text)
