"""Interlocking against published rates and published ways of dividing a line between players.

- One hand repeats 5 to 7 times a second (intervals of 150 to 200 ms): Fujii, Kudo, Ohtsuki & Oda, Neurosci. Lett. 459
  (2009) 69-73.
- Taps keep in step with sounds up to 8 to 10 a second (100 to 125 ms): Repp, Adv. Cogn. Psychol. 2 (2006) 163-181.
- Nyog cag: the two parts of a Balinese kotekan, polos and sangsih, each play every other note of a scale or another
  figure, polos on the beat; four notes a beat: W. Vitale, "Kotekan: the technique of interlocking parts in Balinese
  music", Balungan 4.2 (1990). Speeds of 140 to 150 beats a minute: grokipedia.com/page/kotekan (secondary). Each player
  strikes with one mallet, the other hand damps: from memory. From 149 on the line of Fitts 1954 asks for more time to
  the bar after next than there is, so that our function wants a third player there: slower than the players are.
- Amadinda: two players sit opposite each other, each strikes a series of notes in parallel octaves with two mallets,
  and the series fit together like a zip: memim.com/amadinda.html; G. Kubik, "The structure of Kiganda xylophone
  music", African Music 2/3 (1960), from memory; each player at more than 200 strokes a minute:
  apercussionistsnotebook.blogspot.com, 2021.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import pairwise

import pytest

from rimside.pitch import Key
from rimside.score.figures import LIMITS
from rimside.score.model import Technique
from rimside.score.weaving import Pace, deal

HAND_HZ = LIMITS[Technique.FELT_HAMMER].fastest_hz / 2


def line(bars: Sequence[Sequence[int]], hz: float) -> list[tuple[float, frozenset[Key | None]]]:
    """Neighbouring bars of an instrument stand for neighbouring courses: leap over target breadth is the same."""
    return [(number / hz, frozenset(Key(40 + bar) for bar in struck)) for number, struck in enumerate(bars)]


@pytest.mark.parametrize(("hz", "players"), [(4.9, 1), (7.1, 2)])
def test_one_hand_stops_between_five_and_seven_a_second(hz: float, players: int) -> None:
    """Fujii et al. 2009: below 5 a second anybody's one hand will do, above 7 nobody's."""
    dealt = deal(line([[0]] * 12, hz), Pace(hand_hz=HAND_HZ, hands=1))
    assert max(dealt) + 1 == players


@pytest.mark.parametrize(("hz", "players"), [(9.9, 1), (14.1, 2)])
def test_two_hands_in_turn_stop_at_twice_that(hz: float, players: int) -> None:
    """Fujii et al. 2009, doubled."""
    dealt = deal(line([[0]] * 12, hz), Pace(hand_hz=HAND_HZ))
    assert max(dealt) + 1 == players


@pytest.mark.parametrize("hz", [13.0, 16.0, 18.0, 20.0])
def test_two_who_interlock_can_still_keep_in_step(hz: float) -> None:
    """Repp 2006: each of two players' strokes come at most 10 a second, so that they can be placed by ear."""
    strokes = line([[0]] * 16, hz)
    dealt = deal(strokes, Pace(hand_hz=HAND_HZ))
    assert max(dealt) == 1
    for part in (0, 1):
        own = [at_s for (at_s, _), taken in zip(strokes, dealt, strict=True) if taken == part]
        assert min(b - a for a, b in pairwise(own)) >= 0.100 - 1e-9


@pytest.mark.parametrize("beats_a_minute", [140.0, 147.0])
def test_nyog_cag(beats_a_minute: float) -> None:
    """Vitale 1990: up and down a scale, four notes a beat: polos takes 1 3 5 3, on the beat, sangsih 2 4 4 2."""
    figure = [1, 2, 3, 4, 5, 4, 3, 2]
    strokes = line([[bar] for bar in figure * 4], beats_a_minute / 60 * 4)
    dealt = deal(strokes, Pace(hand_hz=HAND_HZ, hands=1))
    assert dealt == (0, 1) * 16
    polos = [bar for bar, part in zip(figure * 4, dealt, strict=True) if part == 0]
    sangsih = [bar for bar, part in zip(figure * 4, dealt, strict=True) if part == 1]
    assert (polos[:4], sangsih[:4]) == ([1, 3, 5, 3], [2, 4, 4, 2])
    assert 4.5 < beats_a_minute / 60 * 2 < 7.0  # each player is within what Fujii et al. measured


def test_amadinda() -> None:
    """Kubik 1960: a cycle of twelve in parallel octaves (five bars apart), two players, one stroke each in turn.

    The tunes are drawn at random; the way of dividing them is what is published.
    """
    chance = random.Random(1960)
    for _ in range(20):
        tune = [chance.randint(0, 3) for _ in range(12)]
        strokes = line([[bar, bar + 5] for bar in tune * 3], 2 * 200.0 / 60)
        assert deal(strokes, Pace(hand_hz=HAND_HZ)) == (0, 1) * 18
