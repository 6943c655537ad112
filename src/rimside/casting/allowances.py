"""How long chores take and how far a foot reaches: facts of the world that solver and judge share.

All are our own assumptions, no published source; measure them at a rehearsal.
"""

from __future__ import annotations

from collections.abc import Mapping

from rimside.casting.chore import ChoreKind
from rimside.kit import Kit

FOOT_REACH_MM = 350.0
"""From the middle of a place to a pedal, along the keyboard."""
PEDAL_MIDDLE_X_MM = 612.5
"""Where the sostenuto pedal hangs: under the middle of 1225 mm of keys."""
PEDAL_APART_MM = 75.0
"""From one pedal to the next."""
PEDAL_X_MM = {
    "damper": PEDAL_MIDDLE_X_MM + PEDAL_APART_MM,
    "sostenuto": PEDAL_MIDDLE_X_MM,
    "una-corda": PEDAL_MIDDLE_X_MM - PEDAL_APART_MM,
}
DRY_S = 0.3
"""How long the damper of a dry figure's course lies on it, at least."""
LAY_S, LIFT_S = 2.0, 1.5
"""Laying and lifting one moulded mute, from its rest and back."""
THREAD_S, LOAD_S = 20.0, 10.0
"""Threading one line under its course, or drawing it out; rosining it."""
WEDGE_S = 2.0
"""Wedging a pedal, or freeing it."""
CUE_S, TURN_S = 0.5, 1.0
"""Giving a cue; turning a card."""
CHORE_S: Mapping[ChoreKind, float] = {
    ChoreKind.LAY: LAY_S,
    ChoreKind.LIFT: LIFT_S,
    ChoreKind.THREAD: THREAD_S,
    ChoreKind.UNTHREAD: THREAD_S,
    ChoreKind.LOAD: LOAD_S,
    ChoreKind.WEDGE: WEDGE_S,
    ChoreKind.UNWEDGE: WEDGE_S,
    ChoreKind.CUE: CUE_S,
    ChoreKind.TURN: TURN_S,
}
"""Chores with a length of their own; holding a pedal or a key lasts as long as the music asks."""


def chore_s(kit: Kit, kind: ChoreKind) -> float:
    """How long one chore takes, s: measured at a rehearsal, else the default."""
    return kit.times.chore_s.get(kind.value, CHORE_S[kind])
