"""What is laid in before the piece and taken out after it, judged by the rules of everything else."""

from __future__ import annotations

from dataclasses import replace

from rimside.casting.result import CastChore, Casting
from rimside.casting.verify import verify
from rimside.score.model import Mute, Technique
from tests.casting.judging import world
from tests.casting.solving import solved
from tests.casting.worlds import figure, toy_players

BOW, PLUCK = Technique.LINE_BOW, Technique.FINGER_PLUCK


def kinds(casting: Casting, *, before: bool) -> list[str]:
    """The kinds of chores on one side of the piece."""
    return sorted(chore.kind for chore in casting.chores if (chore.start_s < 0) is before)


def test_each_line_is_threaded_and_rosined_before_and_drawn_out_after() -> None:
    """Two lines in use, one played twice: two of each, and the judge finds nothing (`solved` asserts it)."""
    whole = solved(
        world(figure("A", BOW, (40,), 0.0, 3.0), figure("B", BOW, (52,), 6.0, 9.0), figure("C", BOW, (40,), 12.0, 15.0))
    )
    assert not whole.uncast
    assert kinds(whole, before=True) == ["rosin", "rosin", "thread", "thread"]
    assert kinds(whole, before=False) == ["draw out", "draw out"]
    assert all(chore.end_s < 0.0 for chore in whole.chores if chore.start_s < 0)
    assert all(chore.start_s > 15.0 for chore in whole.chores if chore.start_s >= 0)


def test_mutes_that_lie_throughout_are_laid_in_and_lifted_out() -> None:
    """One muted course: one lay before, one lift after."""
    whole = solved(world(figure("A", PLUCK, (40,), 0.0, 1.0, mute=Mute.MOULDED)))
    assert (kinds(whole, before=True), kinds(whole, before=False)) == (["lay mute"], ["lift mute"])


def test_the_work_is_shared() -> None:
    """Four lines and two players in reach: nobody threads more than three of them."""
    bows = [figure(f"F{n}", BOW, (36 + 6 * n,), 6.0 * n, 6.0 * n + 3) for n in range(4)]
    whole = solved(world(*bows, players=toy_players(2)))
    threads = [chore.player for chore in whole.chores if chore.kind == "thread"]
    assert len(threads) == 4 and len(set(threads)) == 2
    assert max(threads.count(player) for player in set(threads)) <= 3


def test_the_judge_sees_a_load_in_that_comes_too_late() -> None:
    """Shift the last threading to the very start of the piece: the judge says that there is no time to change."""
    where = world(figure("A", BOW, (40,), 0.0, 3.0), players=toy_players(1))
    whole = solved(where)
    late = tuple(_moved(chore, by_s=-whole_end(whole)) if chore.kind == "rosin" else chore for chore in whole.chores)
    assert "H4" in {b.rule for b in verify(replace(whole, chores=late), where.piano, where.players, where.kit)}


def whole_end(casting: Casting) -> float:
    """When the rosining ends, s (negative)."""
    return next(chore.end_s for chore in casting.chores if chore.kind == "rosin")


def _moved(chore: CastChore, by_s: float) -> CastChore:
    return replace(chore, start_s=chore.start_s + by_s, end_s=chore.end_s + by_s)
