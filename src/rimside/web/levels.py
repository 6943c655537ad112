"""What a casting is worth, level by level, in the short words of the page."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rimside.casting.result import bare_level
from rimside.paper.wording import IN_MILLISECONDS

WORDS = {
    "uncast": "music left out", "changed": "changes from what it is like", "risk": "hurried changes, s",
    "moves": "changes of place", "returns": "figures that come back to another player",
    "memory": "things to remember, for the busiest", "load": "between most and least busy, s",
}  # fmt: skip
"""By bare name, the weightiest first."""


def words(level: str) -> str:
    """A level in words; what nobody knows by its own name."""
    return WORDS.get(bare_level(level), bare_level(level))


def shown(level: str, value: int) -> str:
    """A value of a level: spans of time in s, all else plain."""
    return f"{value / 1000.0:.1f}" if bare_level(level) in IN_MILLISECONDS else f"{value}"


def changed(
    rows: Iterable[tuple[str, int, int]], words: Callable[[str], str], shown: Callable[[str, int], object]
) -> list[dict[str, object]]:
    """The levels whose value is another one afterwards, in the words and values of a page; whether it gets better."""
    return [
        {"words": words(bare), "before": shown(bare, before), "after": shown(bare, after), "better": after < before}
        for level, before, after in rows
        if before != after
        for bare in (bare_level(level),)
    ]
