"""One rule of a correct casting, one file. Some bar single options, some go into the model, some do both."""

from rimside.casting.rules import (
    h01_whole,
    h02_hands,
    h03_reach,
    h04_change,
    h05_room,
    h06_tools,
    h07_clear,
    h09_chores,
)

MODEL_RULES = (h01_whole, h02_hands, h03_reach, h04_change, h05_room, h06_tools, h07_clear, h09_chores)
"""The rules that go into the model; the others (H8, H10, H11, H12) bar options before there is one."""
