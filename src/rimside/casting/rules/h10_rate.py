"""H10 rate: no hand repeats faster than its technique allows, nor leaps faster than a hand can aim."""

from __future__ import annotations

from itertools import groupby

from rimside.casting.result import Contact
from rimside.casting.scale import fits
from rimside.kit import TARGET_WIDTH_MM, TechniqueRow
from rimside.people import fitts_s
from rimside.pitch import Key
from rimside.score.model import Figure

RULE, NAME = "H10", "pace of a hand"
KEY_PITCH_MM = 1225.0 / 88
"""Mean distance between neighbouring keys, mm. Source: physics of layout, keyboard 1225 mm for 88 keys."""

Attack = tuple[float, tuple[Key, ...]]


def attacks(figure: Figure) -> list[Attack]:
    """The moments of attack with the keys struck at each, in order."""
    strokes = sorted(figure.strokes, key=lambda stroke: (stroke.onset_s, stroke.key or 0))
    return [
        (onset, tuple(stroke.key for stroke in group if stroke.key is not None))
        for onset, group in groupby(strokes, key=lambda stroke: stroke.onset_s)
    ]


def chord_hands(figure: Figure, row: TechniqueRow) -> int:
    """Hands for the widest chord of the figure; 3 stands for more than a player has."""
    return max(_hands_for(keys, row) for _, keys in attacks(figure))


def _hands_for(keys: tuple[Key, ...], row: TechniqueRow) -> int:
    hands, left = 0, sorted(keys)
    while left:
        reach = max(row.span_keys, row.neighbours) - 1
        held = [key for key in left if key - left[0] <= reach][: row.neighbours]
        hands, left = hands + 1, left[len(held) :]
    return max(1, min(hands, 3))


def playable(figure: Figure, row: TechniqueRow, contacts: tuple[Contact, ...], hands: int) -> bool:
    """Whether `hands` hands taking strokes in turn keep within the repeat limit and the time of every leap."""
    at = {contact.key: contact for contact in contacts if contact.role == "play"}
    listed = attacks(figure)
    return all(_hand_can(row, at, first, second) for first, second in zip(listed, listed[hands:], strict=False))


def _hand_can(row: TechniqueRow, at: dict[Key | None, Contact], first: Attack, second: Attack) -> bool:
    gap = second[0] - first[0]
    if not fits(gap, 1.0 / row.repeat_limit_hz):
        return False
    if first[1] == second[1] or not first[1] or not second[1]:
        return True
    a, b = at[first[1][0]], at[second[1][0]]
    leap_mm = ((a.x_mm - b.x_mm) ** 2 + (a.y_mm - b.y_mm) ** 2) ** 0.5
    if row.at_keyboard and leap_mm <= row.span_keys * KEY_PITCH_MM:
        return True
    return fits(gap, fitts_s(leap_mm, TARGET_WIDTH_MM))
