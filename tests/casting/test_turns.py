"""Cards turned in gaps: when a card is full, where the player stands, and in plain words when there is no time."""

from __future__ import annotations

from rimside.casting.allowances import TURN_S
from rimside.casting.result import CastChore, Casting
from rimside.casting.turns import LEAST, MOST
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import solved
from tests.casting.worlds import figure, toy_piano, toy_players

PLUCK = Technique.FINGER_PLUCK


def plucked(count: int, every_s: float, wide_after: int = -1) -> Casting:
    """So many plucks of 1 s for one player at one place; the gap after one of them is 5 s wider. The judge agrees."""
    starts = [every_s * n + (5.0 if 0 <= wide_after < n else 0.0) for n in range(count)]
    figures = (figure(f"F{n:02d}", PLUCK, (40,), at, at + 1.0) for n, at in enumerate(starts))
    return solved(world(*figures, players=toy_players(1), piano=toy_piano(places=toy_piano().places[18:19])), depth=1)


def turns(casting: Casting) -> list[CastChore]:
    """The turns, in order of time."""
    return [chore for chore in casting.chores if chore.kind == "turn card"]


def test_one_card_needs_no_turn() -> None:
    """As many things as a card holds."""
    assert turns(plucked(MOST, 6.0)) == []


def test_the_widest_gap_near_the_end_of_the_card_is_taken() -> None:
    """Eleven lines at most, seven at least; the wide gap is after the ninth."""
    (turn,) = turns(plucked(MOST + 4, 4.0, wide_after=LEAST + 1))
    before = 4.0 * (LEAST + 1) + 1.0
    assert before < turn.start_s and turn.end_s < before + 8.0
    assert turn.player == "ada" and len(turn.hands) == 1 and not turn.reason


def test_a_gap_takes_a_turn_when_it_leaves_the_change_its_time() -> None:
    """Settle, turn, settle: 0.2 + 1.0 + 0.2 s fit a gap of 1.4 s, and nothing fits one of 1.39 s, told in words."""
    need_s = 0.2 + TURN_S + 0.2
    (fits,) = turns(plucked(MOST + 1, 1.0 + need_s))
    assert fits.player == "ada"
    (fails,) = turns(plucked(MOST + 1, 1.0 + need_s - 0.01))
    assert fails.player is None and "no gap" in fails.reason


def test_players_side_by_side_do_not_turn_into_each_other() -> None:
    """Two players with a long part each; the judge, who measures their shoulders, finds nothing (`solved`)."""
    figures = [
        figure(f"{k}{n:02d}", Technique.LINE_BOW, (k,), 5.0 * n, 5.0 * n + 2) for n in range(14) for k in (40, 46)
    ]
    whole = solved(world(*figures, players=toy_players(2)), depth=1)
    assert len(turns(whole)) >= 2
