"""What makes two figures the same music: patterns that come round, motif names, and readable ids."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Sequence
from itertools import groupby, pairwise

from rimside.pitch import Key, label
from rimside.score.model import Mute, Stroke, Technique, Touch

SAME_MS = 1.0
"""Onset spacings that differ by no more are one rhythm. Our assumption: a millisecond is below what ears tell apart."""
SUSTAINED = frozenset({Technique.LINE_BOW, Technique.FRICTION_STRIP, Technique.MAGNET_DRIVE})
"""Techniques whose motif is technique and course alone: whoever plays one knows the others."""
_Attack = tuple[float, frozenset[Key | None]]


def attacks(strokes: Sequence[Stroke]) -> tuple[_Attack, ...]:
    """The moments of attack in s, ascending, each with all keys struck at it."""
    ordered = sorted(strokes, key=lambda stroke: stroke.onset_s)
    return tuple(
        (onset_s, frozenset(stroke.key for stroke in group))
        for onset_s, group in groupby(ordered, key=lambda stroke: stroke.onset_s)
    )


def cycles(strokes: Sequence[Stroke]) -> int:
    """How many times the shortest pattern of spacings and keys comes round; 1 when it does not.

    The last attack has no spacing after it, so that it fits any. Only whole rounds count.
    """
    found = attacks(strokes)
    count = len(found)
    spacings_ms = [(after[0] - before[0]) * 1000 for before, after in pairwise(found)]
    for period in range(1, count // 2 + 1):
        if count % period == 0 and _comes_round(found, spacings_ms, period):
            return count // period
    return 1


def _comes_round(found: Sequence[_Attack], spacings_ms: Sequence[float], period: int) -> bool:
    same_keys = all(a[1] == b[1] for a, b in zip(found, found[period:], strict=False))
    return same_keys and all(abs(a - b) <= SAME_MS for a, b in zip(spacings_ms, spacings_ms[period:], strict=False))


def motif(
    technique: Technique, strokes: Sequence[Stroke], spot: str | None, touch: Touch | None, mute: Mute, tremolo: bool
) -> str:
    """A text that is the same for the same music: what is played, and a mark for its rhythm unless it is sustained."""
    keys = [stroke.key for stroke in strokes if stroke.key is not None]
    what = spot or "-".join(label(key) for key in dict.fromkeys(keys))
    parts = [
        technique.value,
        what,
        f"touch {touch.asked}" if touch else "",
        mute.value,
        "tremolo" if tremolo else "",
    ]
    if technique not in SUSTAINED:
        parts.append(_rhythm_mark(strokes))
    return " ".join(part for part in parts if part)


def _rhythm_mark(strokes: Sequence[Stroke]) -> str:
    """Eight hexadecimal digits of onsets in whole ms from the first, and keys."""
    found = attacks(strokes)
    rows = [f"{_whole_ms(onset_s - found[0][0])}:{sorted(key or 0 for key in keys)}" for onset_s, keys in found]
    return hashlib.sha256(";".join(rows).encode()).hexdigest()[:8]


def _whole_ms(time_s: float) -> int:
    """Rounded off the half: musical times like 62.5 ms lie on it exactly, and float noise would tip them."""
    return int(time_s * 1000 + 0.5 + 0.1234567)


def figure_ids(parts: Sequence[str]) -> tuple[str, ...]:
    """An id for each figure, given its part: the part's initials and a running number in that part ("LB2-07")."""
    codes = _codes(parts)
    seen: Counter[str] = Counter()
    ids: list[str] = []
    for part in parts:
        seen[part] += 1
        ids.append(f"{codes[part]}-{seen[part]:02d}")
    return tuple(ids)


def _codes(parts: Sequence[str]) -> dict[str, str]:
    """Initials of each part's words, its numbers whole; a letter or number is added where two parts share them."""
    codes: dict[str, str] = {}
    for part in sorted(set(parts)):
        words = re.findall(r"[^\W\d_]+|\d+", part)
        code = "".join(word if word.isdigit() else word[0].upper() for word in words) or "F"
        others = (f"{code}{letter}" for letter in [*"bcdefghijklmnopqrstuvwxyz", *range(1000, 1001 + len(parts))])
        codes[part] = next(name for name in (code, *others) if name not in codes.values())
    return codes
