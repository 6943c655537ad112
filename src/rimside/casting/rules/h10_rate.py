"""H10 rate: no hand repeats faster than its technique allows, nor leaps faster than a hand can aim."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby, pairwise

from rimside.casting.result import Contact
from rimside.casting.scale import fits
from rimside.kit import TARGET_WIDTH_MM, TechniqueRow
from rimside.people import fitts_s
from rimside.pitch import Key
from rimside.score.model import Figure

RULE, NAME = "H10", "pace of a hand"
KEY_PITCH_MM = 1225.0 / 88
"""Mean distance between neighbouring keys, mm. Source: physics of layout, keyboard 1225 mm for 88 keys."""

Grip = tuple[Key, ...]
Attack = tuple[float, tuple[Grip, ...]]
"""A moment of attack and what each hand that takes part in it strikes; a spot is an empty grip."""


def attacks(figure: Figure, row: TechniqueRow) -> list[Attack]:
    """The moments of attack in order, the courses of each shared out among as few hands as hold them."""
    strokes = sorted(figure.strokes, key=lambda stroke: (stroke.onset_s, stroke.key or 0))
    return [
        (onset, _grips({stroke.key for stroke in group if stroke.key is not None}, row))
        for onset, group in groupby(strokes, key=lambda stroke: stroke.onset_s)
    ]


def _grips(keys: set[Key], row: TechniqueRow) -> tuple[Grip, ...]:
    left, grips = sorted(keys), []
    while left:
        reach = max(row.span_keys, row.neighbours)
        held = [key for key in left if key - left[0] < reach][: row.neighbours]
        grips.append(tuple(held))
        left = left[len(held) :]
    return tuple(grips) or ((),)


def hands_at_once(figure: Figure, row: TechniqueRow) -> int:
    """Hands that the fullest moment of the figure asks for."""
    return max(len(grips) for _, grips in attacks(figure, row))


def playable(figure: Figure, row: TechniqueRow, contacts: tuple[Contact, ...], hands: int) -> bool:
    """Whether `hands` hands keep within the repeat limit and the time of every leap.

    Hands take single strokes in turn, whichever begins; a moment for all of them takes all. A technique that needs
    both hands for one tool moves as one hand, and one without hands repeats on each course by itself.
    """
    listed = attacks(figure, row)
    if row.hands == 0:
        return all(_in_time(row, {}, _on_course(figure, key)) for key in figure.keys)
    if any(len(grips) > hands for _, grips in listed):
        return False
    at = {contact.key: contact for contact in contacts if contact.role == "play"}
    return any(all(_in_time(row, at, hits) for hits in _shared(listed, hands, first)) for first in range(hands))


Hit = tuple[float, Grip]


def _on_course(figure: Figure, key: Key) -> list[Hit]:
    return [(onset, (key,)) for onset in sorted(stroke.onset_s for stroke in figure.strokes if stroke.key == key)]


def _shared(listed: list[Attack], hands: int, first: int) -> list[list[Hit]]:
    given: list[list[Hit]] = [[] for _ in range(hands)]
    turn = first
    for onset, grips in listed:
        if len(grips) == 1:
            given[turn].append((onset, grips[0]))
            turn = (turn + 1) % hands
        else:
            for hand, grip in enumerate(grips):
                given[hand].append((onset, grip))
    return given


def _in_time(row: TechniqueRow, at: Mapping[Key | None, Contact], hits: list[Hit]) -> bool:
    return all(
        fits(later[0] - earlier[0], max(1.0 / row.repeat_limit_hz, _leap_s(row, at, earlier[1], later[1])))
        for earlier, later in pairwise(hits)
    )


def _leap_s(row: TechniqueRow, at: Mapping[Key | None, Contact], a: Grip, b: Grip) -> float:
    """Time to aim at other courses; a hand on the keys need not leap within its own span."""
    if a == b or not a or not b:
        return 0.0
    (ax, ay), (bx, by) = (_middle([at[key] for key in grip]) for grip in (a, b))
    leap_mm = ((ax - bx) ** 2 + (ay - by) ** 2) ** 0.5
    within = row.at_keyboard and leap_mm <= row.span_keys * KEY_PITCH_MM
    return 0.0 if within else fitts_s(leap_mm, TARGET_WIDTH_MM)


def _middle(contacts: list[Contact]) -> tuple[float, float]:
    return sum(c.x_mm for c in contacts) / len(contacts), sum(c.y_mm for c in contacts) / len(contacts)
