"""How the tags of one figure fall on rows of a card, so that every label keeps its full size."""

from __future__ import annotations

from collections.abc import Sequence

ROOM_MM = 68.0
"""Breadth of a card for tags and words. The template's column less its gap."""
LABEL_EM_MM, WORD_EM_MM = 6.07, 4.57
"""Letter sizes of labels and words on a card: 4.05 and 3.05 mm capitals over 0.668."""
PAD_MM, GAP_MM, WORDS_GAP_MM = 2.2, 0.9, 2.5
"""Both sides of a tag together; between tags; before the words. As in the template."""
_SIGN_EMS = {"♯": 0.47, "♭": 0.43, "'": 0.23, ",": 0.25}
_CHAR_EMS, _WORD_CHAR_EMS = 0.65, 0.46
"""Breadths of letters and figures (bold) and of words (regular). Measured on Atkinson Hyperlegible."""
NARROWEST = 0.72
"""Words are narrowed this far before tags go to another row."""

Tag = dict[str, str]


def tag_rows(tags: Sequence[Tag], words: str) -> list[list[Tag]]:
    """The tags in as few rows as hold them and the words that follow; the last row may be for the words alone."""
    words_mm = NARROWEST * _WORD_CHAR_EMS * WORD_EM_MM * len(words) + WORDS_GAP_MM
    if len(tags) < 2 or _width_mm(tags) + words_mm <= ROOM_MM:
        return [list(tags)]
    rows: list[list[Tag]] = [[]]
    for tag in tags:
        if rows[-1] and _width_mm([*rows[-1], tag]) > ROOM_MM:
            rows.append([])
        rows[-1].append(tag)
    return rows if _width_mm(rows[-1]) + words_mm <= ROOM_MM else [*rows, []]


def _width_mm(tags: Sequence[Tag]) -> float:
    """About how wide some tags come out side by side."""
    return sum(_tag_mm(tag["label"]) for tag in tags) + GAP_MM * (len(tags) - 1)


def _tag_mm(label: str) -> float:
    return PAD_MM + LABEL_EM_MM * sum(_SIGN_EMS.get(char, _CHAR_EMS) for char in label)
