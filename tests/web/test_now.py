"""What a player's phone shows at a moment."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest

from rimside.casting.problem import RESERVE_S
from rimside.errors import BadInput
from rimside.paper.changes import parts_of, way
from rimside.paper.material import BookInput
from rimside.score.model import Stroke
from rimside.web.rehearsing.now import (
    Bar,
    Step,
    at,
    bar_at,
    bar_beside,
    bar_called,
    bars_of,
    count,
    counts_of,
    follow_of,
    loop_called,
    steps_of,
)
from tests.paper import fixture


def steps(player: str, book: BookInput | None = None) -> tuple[Step, ...]:
    chosen = book or fixture.book()
    return steps_of(chosen, next(one for one in chosen.players if one.id == player))


def test_every_figure_chore_and_cue_of_a_player_is_a_step_in_order() -> None:
    """As many figures as are cast on the player, both ends of a pedal, the player's cues; starts never go back."""
    for player in fixture.players():
        found = steps(player.id)
        starts = [step.start_s for step in found]
        assert starts == sorted(starts)
        cast = {row.figure for row in fixture.casting().cast if row.player == player.id}
        assert {step.figure for step in found if step.kind == "figure"} == cast
    assert [step.words for step in steps("gus") if step.kind == "chore"] == ["damper pedal ↓ down", "damper pedal ↑ up"]
    assert [step.words for step in steps("di") if step.kind == "cue"] == ["all breathe", "nod to Gus"]


def test_a_figure_says_bar_string_hands_and_where_its_implement_is() -> None:
    """Ada's strip of bar 17: G1, both hands, taken from S3a by the ledge, put back there unless the next keeps it."""
    step = next(step for step in steps("ada") if step.kind == "figure" and step.bar == "17")
    assert [tag["label"] for tag in step.tags] == ["G1"]
    assert (step.hand, step.words, step.place) == ("LR", "friction strip", "S3")
    assert step.tool is not None
    assert (step.tool.how, step.tool.rest) == ("take", "S3a")
    assert step.tool.where
    assert step.tool.names[0].startswith("friction strip")


def test_what_is_kept_for_the_next_figure_is_not_put_back() -> None:
    """Before every figure with "keep" stands one that names no rest to go back to; the last one names its own."""
    for player in fixture.players():
        figures = [step for step in steps(player.id) if step.tool is not None]
        for before, after in pairwise(figures):
            assert before.tool is not None
            assert after.tool is not None
            if after.tool.how == "keep":
                assert before.tool.back_to == ""
            elif before.tool.rest:
                assert before.tool.back_to == before.tool.rest


def test_sixteen_times_are_counted_one_after_the_other() -> None:
    """Before the first 0, at the first 1, at the end 16: never back, never over."""
    step = next(step for step in steps("ada") if step.counted == "times" and len(step.counts_s) == 16)
    assert count(step, step.start_s - 0.01) == 0
    seen = [count(step, step.start_s + n * (step.end_s - step.start_s) / 400) for n in range(401)]
    assert seen[0] == 1
    assert seen[-1] == 16
    assert all(after - before in (0, 1) for before, after in pairwise(seen))


def test_a_pattern_of_several_strokes_is_counted_by_its_rounds() -> None:
    """Eight strokes that come round twice are two to count; eight that do not are eight strokes; one is none."""
    part = next(p for p in parts_of("gus", fixture.casting(), fixture.piano(), fixture.kit()))
    strokes = tuple(Stroke(onset_s=float(n), until_s=n + 0.5, key=None) for n in range(8))
    told = []
    for cycles, some in ((2, strokes), (1, strokes), (1, strokes[:1])):
        told.append(counts_of(replace(part, figure=replace(part.figure, cycles=cycles, strokes=some))))
    assert told == [("times", (0.0, 4.0)), ("strokes", tuple(map(float, range(8)))), ("", ())]


def test_a_walk_says_where_which_side_how_far_and_when_to_leave() -> None:
    """Ada goes from S3 to S5, 0.6 m, in time to be there with the reserve, never before the hands are free."""
    found = steps("ada")
    step = next(step for step in found if step.move is not None)
    before = [one for one in found if one.start_s < step.start_s and one.kind != "cue"][-1]
    move = step.move
    assert move is not None
    assert (move.place, move.metres) == ("S5", 0.6)
    assert before.end_s <= move.leave_s <= step.start_s
    assert move.leave_s <= step.start_s - 0.6 / 0.82 - RESERVE_S
    ends = [place.at for place in fixture.casting().places if place.id in ("S3", "S5")]
    assert {move.way_mm[0], move.way_mm[-1]} == {(round(at.x_mm), round(at.y_mm)) for at in ends}


def test_a_walk_that_leaves_too_little_time_starts_as_soon_as_the_hands_are_free() -> None:
    """With very slow walkers the moment to leave is when the figure before has ended and its implement is laid down."""
    whole = fixture.casting()
    slow = replace(fixture.book(), casting=replace(whole, times=replace(whole.times, walk_mm_per_s=20.0)))
    found = steps("ada", slow)
    step = next(step for step in found if step.move is not None)
    before = [one for one in found if one.start_s < step.start_s and one.kind != "cue"][-1]
    assert step.move is not None
    assert 0.0 <= step.move.leave_s - before.end_s < 3.0 or step.move.leave_s == step.start_s


@pytest.mark.parametrize(("start", "goal"), [("S3", "S9"), ("S9", "S3"), ("K2", "B3"), ("K2", "S3"), ("T1", "B2")])
def test_the_way_passes_every_place_on_the_shorter_side(start: str, goal: str) -> None:
    """Its steps add up to the walk, both ends are in it, none twice."""
    piano = fixture.piano()
    passed = way(piano.place(start), piano.place(goal), piano.places, piano.rim_length_mm)
    assert (passed[0].id, passed[-1].id) == (start, goal)
    assert len({place.id for place in passed}) == len(passed) > 2
    gone_mm = sum(piano.walk_mm(a, b) for a, b in pairwise(passed))
    assert gone_mm == pytest.approx(piano.walk_mm(piano.place(start), piano.place(goal)))


def test_now_is_what_sounds_next_is_what_starts_next_and_one_stands_where_one_was_last() -> None:
    """In the middle of each figure it is now; at its end no longer; what comes next starts later."""
    for player in fixture.players():
        found = steps(player.id)
        for step in found:
            middle = at(found, (step.start_s + step.end_s) / 2)
            assert step in middle.now
            assert step not in at(found, step.end_s).now
            if middle.next is not None:
                assert middle.next.start_s > (step.start_s + step.end_s) / 2
            assert at(found, step.start_s).place == step.place or step.kind == "cue"


def test_before_the_first_and_after_the_last_there_is_a_place_and_nothing_to_do() -> None:
    """Long before: nothing now, the first step next, at the first place; long after: nothing at all."""
    found = steps("ed")
    before, after = at(found, -1000.0), at(found, 1e6)
    assert (before.now, before.next, before.place) == ((), found[0], found[0].place)
    assert (after.now, after.next, after.after, after.place) == ((), None, None, found[-1].place)
    assert at((), 0.0).place == ""


def test_where_to_go_is_told_past_the_cues_between() -> None:
    """A second before Ada's walk begins it is told; when the figure there has started it is not."""
    found = steps("ada")
    step = next(step for step in found if step.move is not None)
    cue = replace(next(one for one in steps("di") if one.kind == "cue"), start_s=step.start_s - 0.5)
    told = at((*[one for one in found if one.start_s < step.start_s], cue, step), step.start_s - 1.0)
    assert (told.next, told.go) == (cue, step)
    assert at(found, step.start_s).go != step


def test_bars_are_found_by_their_time() -> None:
    """Bar 17 sounds at 64 s and begins section B; before the first downbeat there is none."""
    bars = bars_of(fixture.book())
    assert bars[bar_at(bars, 64.0)] == (64.0, "17", "", "B")
    assert bars[bar_at(bars, 63.99)][1] == "16"
    assert bar_at(bars, -0.1) == -1


def test_what_is_sent_is_plain_and_small() -> None:
    """JSON holds it, with the player's colour and sign; one player's part is under 60 kB."""
    for player in fixture.players():
        sent = json.dumps(follow_of(fixture.book(), player, "grand_275"))
        assert len(sent) < 60_000
        assert json.loads(sent)["player"]["sign"] == player.sign


BARS: list[Bar] = [
    (0.0, "1", "1st", "A"), (4.0, "2", "1st", ""), (8.0, "1", "2nd", "A"), (12.0, "2", "2nd", ""), (16.0, "3", "", "B"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "at_s", "expected"),
    [("2", 0.0, 1), ("2", 5.0, 3), ("2", 20.0, 1), ("2 2nd", 0.0, 3), (" b ", 0.0, 4), ("3", 16.0, 4), ("A", 1.0, 2)],
)
def test_a_bar_that_is_called_is_the_next_to_come(words: str, at_s: float, expected: int) -> None:
    """By name, by name and pass, or by mark; of two passes the next one, else the first."""
    assert bar_called(BARS, words, at_s) == expected


@pytest.mark.parametrize("words", ["", "9", "2 3rd", "C", "-1"])
def test_a_bar_that_is_not_there_is_told_with_what_there_is(words: str) -> None:
    """One sentence names the first and last bar."""
    with pytest.raises(BadInput, match="no such bar") as told:
        bar_called(BARS, words, 0.0)
    assert told.value.allowed == "1 to 3, or a rehearsal mark"


@pytest.mark.parametrize(
    ("at_s", "by", "expected"),
    [(0.0, 1, 4.0), (5.5, 1, 8.0), (5.5, -1, 4.0), (4.2, -1, 0.0), (0.0, -1, 0.0), (99.0, 1, 16.0), (-9.0, 1, 0.0)],
)
def test_stepping_goes_by_bars_and_never_out_of_the_piece(at_s: float, by: int, expected: float) -> None:
    """Forward to the next bar, back to the start of this one, or of the one before when it has just begun."""
    assert bar_beside(BARS, at_s, by) == expected


def test_a_loop_goes_from_the_start_of_a_bar_to_the_end_of_another() -> None:
    """Both ends in the same pass; the last bar ends with the piece; backwards is told."""
    assert loop_called(BARS, 20.0, "1", "2", 5.0) == (8.0, 16.0)
    assert loop_called(BARS, 20.0, "2", "2", 0.0) == (4.0, 8.0)
    assert loop_called(BARS, 20.0, "3", "3", 0.0) == (16.0, 20.0)
    with pytest.raises(BadInput, match="before the first"):
        loop_called(BARS, 20.0, "3", "1", 0.0)
