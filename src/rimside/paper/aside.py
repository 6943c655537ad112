"""What stands above a figure's line on a card: the own part inside an interlocking whole, and a technique replaced."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise

from rimside.paper.material import BookInput
from rimside.pitch import Key, label
from rimside.score.model import Figure
from rimside.score.motifs import SAME_MS

Line = dict[str, object]
MOST_STROKES = 32
"""Strokes that a strip shows; a longer pattern is shown up to there. As many as can be told apart on 82 mm."""
_Stroke = tuple[float, bool, frozenset[Key | None]]
"""A moment in s, whether it is the player's own, and its courses."""


def asides(book: BookInput, figure: Figure) -> list[Line]:
    """The lines that belong above a figure's line; none for most figures."""
    said = (instead_words(book, figure), node_words(figure))
    lines: list[Line] = [{"kind": "instead", "text": words} for words in said if words]
    return [*lines, _weave(book, figure)] if figure.weave else lines


def instead_words(book: BookInput, figure: Figure) -> str:
    """What the score asks for, and why it is played otherwise here; empty for a figure played as written."""
    if figure.written is None:
        return ""
    permission = book.kit.rows[figure.written].permission
    if permission is not None and permission not in book.piano.permissions.allowed:
        return f"written: {figure.written.value}; not allowed on this piano"
    kinds = [(book.piano.course(key).wound, label(key, book.scheme)) for key in figure.keys]
    there = [
        f"{', '.join(name for wound, name in kinds if wound is kind)} is {'wound' if kind else 'plain'}"
        for kind in dict.fromkeys(wound for wound, _ in kinds)
    ]
    return f"written: {figure.written.value}; {', '.join(there)} here"


def node_words(figure: Figure) -> str:
    """That the score asks for a partial, and which of its nodes is taken on this piano; empty for a written node."""
    if figure.touch is None or not figure.touch.loose:
        return ""
    return f"written: {figure.touch.asked}; node {figure.touch.node} is the best one here"


def weave_words(figure: Figure) -> str:
    """Which part of how many; empty for a figure that is no part of an interlocking whole."""
    return f"part {figure.thread} of {figure.threads}" if figure.weave else ""


def _weave(book: BookInput, figure: Figure) -> Line:
    threads = [other for other in book.casting.figures if other.weave == figure.weave]
    strokes = list(_strokes(figure, threads))
    shown, lasts_s, repeated = _one_round(strokes)
    keys = sorted({key or 0 for _, _, struck in strokes for key in struck})
    return {
        "kind": "weave",
        "text": weave_words(figure),
        "others": ", ".join(_others(book, figure, threads)),
        "times": "" if repeated < 2 else f"{repeated}×",
        "levels": len(keys),
        "more": len(shown) > MOST_STROKES,
        "strokes": [
            {"at": (at_s - shown[0][0]) / lasts_s, "own": own, "level": keys.index(key or 0)}
            for at_s, own, struck in shown[:MOST_STROKES]
            for key in sorted(struck, key=lambda key: key or 0)
        ],
    }


def _strokes(figure: Figure, threads: Sequence[Figure]) -> Iterator[_Stroke]:
    """Every moment of the whole, in order; no two threads strike at one moment."""
    rows = sorted(
        (stroke.onset_s, thread.id == figure.id, stroke.key or 0) for thread in threads for stroke in thread.strokes
    )
    for (at_s, own), group in groupby(rows, key=lambda row: row[:2]):
        yield at_s, own, frozenset(Key(key) if key else None for _, _, key in group)


def _one_round(strokes: Sequence[_Stroke]) -> tuple[Sequence[_Stroke], float, int]:
    """The shortest pattern that comes round, its length in s, and how often it comes; the last may be cut off."""
    spacings_s = [after[0] - before[0] for before, after in pairwise(strokes)]
    count = len(strokes)
    for period in range(1, count // 2 + 1):
        alike = all(a[1:] == b[1:] for a, b in zip(strokes, strokes[period:], strict=False))
        even = (abs(a - b) * 1000 <= SAME_MS for a, b in zip(spacings_s, spacings_s[period:], strict=False))
        if alike and all(even):
            return strokes[:period], strokes[period][0] - strokes[0][0], -(-count // period)
    return strokes, strokes[-1][0] - strokes[0][0] + min(spacings_s, default=1.0), 1


def _others(book: BookInput, figure: Figure, threads: Sequence[Figure]) -> Iterator[str]:
    names = {player.id: player.name for player in book.players}
    takes = {cast.figure: names.get(cast.player, cast.player) for cast in book.casting.cast}
    for other in sorted(threads, key=lambda one: one.thread):
        if other.id != figure.id:
            yield takes.get(other.id, "nobody")
