"""Interlocking: every split keeps its limits, and short lines are split as well as trying everything can."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import pairwise, product

import pytest

from rimside.casting.rules.h10_rate import KEY_PITCH_MM
from rimside.kit import TARGET_WIDTH_MM, TECHNIQUES
from rimside.people import fitts_s
from rimside.pitch import Key
from rimside.score.figures import LIMITS
from rimside.score.model import Technique
from rimside.score.weaving import Deal, Pace, deal, keeps, worth
from tests.amounts import few_or_many, random_cases

Line = list[tuple[float, frozenset[Key | None]]]
HAMMERS = Pace(hand_hz=6.0)


def line(keys: Sequence[int], hz: float) -> Line:
    """Strokes at an even rate."""
    return [(number / hz, frozenset({Key(key)})) for number, key in enumerate(keys)]


def kept_slowly(strokes: Line, hand_hz: float, hands: int) -> bool:
    """The obvious twin for single strokes: each hand makes every second one (every one, with one hand)."""
    return all(
        b[0] - a[0] >= max(1 / hand_hz, fitts_s(abs(next(iter(b[1])) - next(iter(a[1]))), 1.0)) - 1e-6  # type: ignore[operator]
        for first in range(hands)
        for a, b in pairwise(strokes[first::hands])
    )


def deals(count: int, parts: int) -> Iterator[Deal]:
    """Every way to deal strokes to exactly so many parts, named in order of their first stroke."""
    for dealt in product(range(parts), repeat=count):
        if list(dict.fromkeys(dealt)) == list(range(parts)):
            yield dealt


def part_of(strokes: Line, dealt: Deal, part: int) -> Line:
    return [one for one, taken in zip(strokes, dealt, strict=True) if taken == part]


def best_by_trying(strokes: Line, pace: Pace) -> tuple[int, ...]:
    """Parts, different cycles, cycles until it comes round, courses, unevenness: over every way there is."""
    for parts in range(1, len(strokes) + 1):
        found = [
            worth(strokes, dealt)
            for dealt in deals(len(strokes), parts)
            if all(kept_slowly(part_of(strokes, dealt, part), pace.hand_hz, pace.hands) for part in range(parts))
        ]
        if found:
            return min(found)
    raise AssertionError("each stroke by itself can always be played")


@pytest.mark.parametrize(("hz", "hands"), [(16.0, 2), (30.0, 2), (9.0, 1)])
@pytest.mark.parametrize("count", [4, 6])
def test_short_lines_are_split_as_well_as_trying_everything(count: int, hz: float, hands: int) -> None:
    """All lines of 4 and 6 strokes on up to three courses: the same worth, level by level, as every way there is."""
    pace = Pace(hand_hz=6.0, hands=hands)
    for keys in product((40, 41, 45), repeat=count):
        if keys[0] != 40:
            continue
        strokes = line(keys, hz)
        assert worth(strokes, deal(strokes, pace)) == best_by_trying(strokes, pace), keys


def test_lines_of_eight_strokes_are_split_as_well_as_trying_everything() -> None:
    """All lines of 8 strokes on two courses, and 40 uneven ones on three, drawn with a seed."""
    for keys in product((40, 43), repeat=7):
        strokes = line((40, *keys), 16.0)
        assert worth(strokes, deal(strokes, HAMMERS)) == best_by_trying(strokes, HAMMERS), keys
    chance = random.Random(7)
    for _ in range(40):
        moments = sorted(chance.sample(range(24), 8))
        strokes = [(moment / 20, frozenset({Key(chance.choice((40, 42, 47)))})) for moment in moments]
        assert worth(strokes, deal(strokes, HAMMERS)) == best_by_trying(strokes, HAMMERS), strokes


@pytest.mark.parametrize(
    ("keys", "hz", "dealt"),
    [
        ([40] * 8, 12.0, "00000000"),
        ([40] * 8, 16.0, "01010101"),
        ([40] * 9, 30.0, "012012012"),
        ([40, 42] * 4, 16.0, "01010101"),
        ([40, 42, 44] * 3, 16.0, "001001001"),
        ([40, 52] * 4, 10.0, "00000000"),
        ([40, 52, 40] * 2, 3.0, "000000"),
    ],
)
def test_splits_that_an_ensemble_would_choose(keys: list[int], hz: float, dealt: str) -> None:
    """One course in turn; two courses one each; the same every cycle; one player where one can."""
    assert "".join(map(str, deal(line(keys, hz), HAMMERS))) == dealt


def test_a_cycle_that_is_cut_off_at_its_end_is_still_one() -> None:
    """A pattern of eight, three times and its first stroke again: every player does the same each time."""
    pattern = [40, 42, 44, 45, 47, 45, 44, 42]
    strokes = line([*pattern * 3, 40], 10.0)
    parts, different, comes_round, _, _ = worth(strokes, deal(strokes, HAMMERS))
    assert (parts, different, comes_round) == (2, 1, 1)


def test_chords_of_both_hands_count_for_both() -> None:
    """Chords that take two hands leave none in between: six a second is one pianist's, seven is two's."""
    pace = Pace(hand_hz=6.0, hand_keys=14, hand_notes=5)
    chord = frozenset({Key(30), Key(50)})
    assert deal([(number / 6, chord) for number in range(6)], pace) == (0,) * 6
    assert deal([(number / 7, chord) for number in range(6)], pace) == (0, 1, 0, 1, 0, 1)


@random_cases
def test_long_random_lines_keep_their_limits() -> None:
    """Lines of 60 to 240 strokes: each stroke is dealt and each part can be played."""
    chance = random.Random(11)
    for _ in range(few_or_many(4, 40)):
        count = chance.randint(60, 240)
        moments = sorted(chance.sample(range(4 * count), count))
        strokes: Line = [(at / 40, frozenset({Key(chance.randint(40, 58))})) for at in moments]
        dealt = deal(strokes, HAMMERS)
        assert len(dealt) == count
        for part in range(max(dealt) + 1):
            own = part_of(strokes, dealt, part)
            assert kept_slowly(own, 6.0, 2)
            assert keeps(own, HAMMERS)


def test_the_table_of_limits_is_that_of_the_kit() -> None:
    """Twice the one-hand rate, the same span and notes of a hand, and leaps no quicker than rule H10 allows."""
    for technique, row in TECHNIQUES.items():
        limits = LIMITS[technique]
        if limits.fastest_hz:
            assert limits.fastest_hz == 2 * row.repeat_limit_hz
        if technique is Technique.KEYS:
            assert (limits.hand_keys, limits.hand_notes) == (row.span_keys, row.neighbours)
    for keys in range(1, 20):
        assert fitts_s(keys, 1.0) >= fitts_s(keys * KEY_PITCH_MM, TARGET_WIDTH_MM)
