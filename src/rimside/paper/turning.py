"""Where a player's lines are divided into cards: where they fit, and where the player has most time to turn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

Line = dict[str, object]

LINE_MM: Mapping[str, float] = {
    "figure": 9.6,
    "section": 9.0,
    "move": 8.4,
    "cue": 8.4,
    "chore": 9.6,
    "weave": 10.5,
    "instead": 5.5,
}
"""Height of each kind of line on a card; a figure on many courses takes several (`rows`)."""
WITH_NEXT = frozenset({"section", "move", "weave", "instead"})
"""Kinds of line that belong to the line below them."""
FULL_SHARE = 0.6
"""A card is filled at least this far before a better moment for turning is taken. Our own choice."""


def paginated(lines: Sequence[Line], room_mm: float) -> list[list[Line]]:
    """Lines on cards: none overfull, none ending with the head or move that belongs to the next line.

    Of the places where a card could end when it is well filled, the one before which the player is free longest is
    taken (`free_s` of the line that follows), the last of them when they are alike.
    """
    blocks = list(_blocks(lines))
    pages: list[list[Line]] = []
    start = 0
    while start < len(blocks):
        end = _last_that_fits(blocks, start, room_mm)
        if end < len(blocks):
            end = _best_turn(blocks, start, end, FULL_SHARE * room_mm)
        pages.append([line for block in blocks[start:end] for line in block])
        start = end
    return pages


def height_mm(lines: Sequence[Line]) -> float:
    """How much of a card some lines take."""
    return sum(LINE_MM[str(line["kind"])] * int(str(line.get("rows", 1))) for line in lines)


def _last_that_fits(blocks: Sequence[list[Line]], start: int, room_mm: float) -> int:
    """One past the last block that still fits; at least one block, so that it ends."""
    end, used_mm = start + 1, height_mm(blocks[start])
    while end < len(blocks) and used_mm + height_mm(blocks[end]) <= room_mm:
        used_mm += height_mm(blocks[end])
        end += 1
    return end


def _best_turn(blocks: Sequence[list[Line]], start: int, end: int, full_mm: float) -> int:
    cuts = [cut for cut in range(start + 1, end) if height_mm([ln for b in blocks[start:cut] for ln in b]) >= full_mm]
    return max([*cuts, end], key=lambda cut: (float(str(blocks[cut][0].get("free_s", 0.0))), cut))


def _blocks(lines: Sequence[Line]) -> Iterator[list[Line]]:
    """Heads, moves and asides together with the line that follows them."""
    block: list[Line] = []
    for line in lines:
        block.append(line)
        if line["kind"] not in WITH_NEXT:
            yield block
            block = []
    if block:
        yield block
