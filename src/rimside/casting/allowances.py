"""How long chores take and how far a foot reaches: facts of the world that solver and judge share.

All are our own assumptions, no published source; measure them at a rehearsal.
"""

from __future__ import annotations

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
