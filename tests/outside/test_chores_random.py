"""Random pieces full of mutes: every casting is correct to the judge, and nothing is left inside or done for nobody."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from rimside.casting.result import CastChore, Casting
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Technique
from tests.amounts import seeds
from tests.casting.judging import world
from tests.casting.solving import solved
from tests.casting.worlds import figure, toy_players

PLUCK, BOW = Technique.FINGER_PLUCK, Technique.LINE_BOW
PIECES = 15
"""All of them in the long runs."""


def piece(seed: int) -> list[Figure]:
    """Sixteen figures, plucks on three courses now muted, now bare, and line bows among them; gaps of 0 to 4 s."""
    chance, found, at_s = random.Random(seed), list[Figure](), 0.0
    free_s: dict[int, float] = {}
    for number in range(16):
        bowed = chance.random() < 0.3
        key = chance.choice([49, 52]) if bowed else chance.choice([36, 40, 44])
        start_s = max(at_s + chance.choice([0.0, 0.7, 1.5, 4.0]), free_s.get(key, 0.0))
        end_s = start_s + chance.choice([0.5, 1.0, 2.0])
        mute = Mute.MOULDED if not bowed and chance.random() < 0.5 else Mute.NONE
        times = 40 if chance.random() < 0.1 else 1
        found.append(figure(f"f{number:02d}", BOW if bowed else PLUCK, (key,), start_s, end_s, times=times, mute=mute))
        at_s, free_s[key] = start_s, end_s
    return found


def of_key(casting: Casting, key: int) -> list[CastChore]:
    """What is done to the mute of a course, in order of time."""
    kinds = ("lay mute", "lift mute")
    mine = [c for c in casting.chores if c.kind in kinds and any(contact.key == Key(key) for contact in c.contacts)]
    return sorted(mine, key=lambda chore: chore.start_s)


# Authority: casting/verify.py, written apart from the solver (`solved` asks it); the counts are made here by hand.
@pytest.mark.parametrize("seed", seeds(7, PIECES))
def test_mutes_come_and_go_with_what_is_played(seed: int) -> None:
    """Lays and lifts take turns from a lay to a lift, one pair for each muted stretch of what is really played."""
    whole = solved(world(*piece(seed), players=toy_players(3)), seconds=1.0, depth=3)
    played = {row.figure for row in whole.cast}
    for key in (36, 40, 44):
        deeds = of_key(whole, key)
        mutes = [f.mute for f in sorted(whole.figures, key=lambda f: f.start_s) if key in f.keys and f.id in played]
        stretches = sum(b is Mute.MOULDED and a is not b for a, b in pairwise([Mute.NONE, *mutes]))
        assert [chore.kind for chore in deeds] == ["lay mute", "lift mute"] * stretches
        assert all(chore.player is not None for chore in deeds)
