"""H8 in full: the fewest pedal actions that let ring what must ring and damp what must be damped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rimside.casting.chore import Chore, Need
from rimside.kit import Kit
from rimside.piano.dampers import HeldKey
from rimside.piano.model import Piano
from rimside.pitch import Key
from rimside.score.model import Figure, PedalSpan


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalPlan:
    """What is done to pedals and silent keys, before anybody is asked to do it.

    `catches` runs beside `spans`: the courses that a sostenuto span is meant to hold; () for the other pedals, and when
    it is meant to hold all. `holders` runs beside `spans` too: the ids of the chores that hold the span by foot, or
    wedge it and free it, "" where there is none. `conflicts` gives rule and reason for each figure that no plan serves.
    `actions` counts each going down and coming up of a pedal or a silent key, `bound` what no plan can do with fewer.
    """

    spans: tuple[PedalSpan, ...]
    catches: tuple[tuple[Key, ...], ...] = ()
    holders: tuple[Holders, ...] = ()
    held_keys: tuple[HeldKey, ...] = ()
    conflicts: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    chores: tuple[Chore, ...] = ()
    needs: tuple[Need, ...] = ()
    actions: int = 0
    bound: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Holders:
    """The chores that could hold one span: `hold` by foot, or `wedge` and then `free`; "" where there is none."""

    hold: str = ""
    wedge: str = ""
    free: str = ""


def plan_pedals(
    figures: Iterable[Figure], piano: Piano, written: tuple[PedalSpan, ...], kit: Kit, *, end_s: float = 0.0
) -> PedalPlan:
    """The pedals as written, or, when nothing is written of dampers, the plan with the fewest actions.

    Parameters
    ----------
    written : the pedal marks of the score.
    end_s : when the piece ends, s; figures may end later.
    """
    raise NotImplementedError
