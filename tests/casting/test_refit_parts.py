"""A refit: which places correspond, which figures are the same, what had to change and what was chosen."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from rimside import flow
from rimside.casting import objective, refit, search
from rimside.casting.part import decide
from rimside.casting.refit import Earlier
from rimside.casting.result import Casting, Change
from rimside.errors import Interrupted
from rimside.piano.model import Place, Point
from rimside.score.model import Technique
from tests.casting.judging import cast, world
from tests.casting.solving import question
from tests.casting.worlds import TOY_STOCK, World, figure, play, toy_kit, toy_piano, toy_places, toy_players

PLUCK = Technique.FINGER_PLUCK
ROUND = toy_piano(places=toy_places(450.0)[0])


def place(name: str, along_mm: float, *, keyboard: bool = False) -> Place:
    return Place(
        id=name, at=Point(x_mm=0.0, y_mm=0.0), heading_deg=0.0, along_rim_mm=along_mm, at_keyboard=keyboard
    )  # fmt: skip


def old_with(*places: Place, rim_mm: float = 1000.0) -> Casting:
    return cast(world(), (), places=places, rim_length_mm=rim_mm)


def solved(where: World, old: Casting | None = None, depth: int = 3) -> Casting:
    like = None if old is None else Earlier(name="old", casting=old)
    return flow.cast(question(where), flow.UNASSIGNED, seconds=3.0, depth=depth, like=like)


# Which places correspond (decision 3).


def test_the_nearest_share_of_the_rim_corresponds() -> None:
    """A quarter of the way round is a quarter of the way round, however long the way."""
    old = old_with(place("a", 0.0), place("b", 250.0), place("c", 500.0), place("d", 750.0))
    new = (place("A", 20.0), place("B", 510.0), place("C", 1040.0))
    match = refit.corresponding(old, new, 2000.0)
    assert match == {"a": ("A",), "b": ("B",), "c": ("C",), "d": ("C",)}


def test_near_ones_count_as_the_same_and_the_rim_is_closed() -> None:
    """Within half the mean distance (an eighth of the way here) all are the same; the end meets the beginning."""
    old = old_with(place("a", 0.0), place("b", 250.0), place("c", 500.0), place("d", 750.0))
    new = (place("A", 1900.0), place("B", 240.0), place("C", 260.0))
    assert refit.corresponding(old, new, 2000.0)["a"] == ("A", "B")


def test_keyboard_places_correspond_to_keyboard_places_alone() -> None:
    """However near another place lies; without any at the keyboard nothing corresponds."""
    old = old_with(place("k", 0.0, keyboard=True), place("b", 500.0))
    new = (place("B", 0.0), place("K", 400.0, keyboard=True))
    assert refit.corresponding(old, new, 1000.0) == {"k": ("K",), "b": ("B",)}
    assert refit.corresponding(old, new[:1], 1000.0)["k"] == ()


def test_on_one_piano_each_place_is_its_own() -> None:
    """Places at even distances correspond to themselves alone."""
    old = cast(world(), ())
    match = refit.corresponding(old, ROUND.places, ROUND.rim_length_mm)
    assert match == {name.id: (name.id,) for name in ROUND.places}


# Which figures are the same.


def test_figures_are_compared_by_id_and_music() -> None:
    """The same, another under one id, gone, new; a moved moment is no difference."""
    a, b, c, d = (figure(name, PLUCK, (40,), 0.0, 1.0) for name in "ABCD")
    old = cast(world(a, b, c), ())
    found = refit.compare(old, (replace(a, start_s=9.0, end_s=10.0), replace(b, keys=c.keys[:0], spot="rim"), d))
    assert (found.same, found.other, found.gone, found.new) == (("A",), ("B",), ("C",), ("D",))
    assert found.another_score


def test_half_of_the_figures_is_still_the_same_score() -> None:
    """One of two is enough, none of one is not; a casting of nothing fits every score."""
    a, b = (figure(name, PLUCK, (40,), 0.0, 1.0) for name in "AB")
    assert not refit.compare(cast(world(a, b), ()), (a,)).another_score
    assert refit.compare(cast(world(b), ()), (a,)).another_score
    assert not refit.compare(cast(world(), ()), (a,)).another_score


def test_a_technique_that_gave_way_is_compared_as_written() -> None:
    """A figure that falls back to another technique is the same music."""
    a = figure("A", Technique.STICK_BOW, (40,), 0.0, 1.0)
    fallen = replace(a, technique=Technique.FELT_HAMMER, written=Technique.STICK_BOW)
    assert refit.compare(cast(world(a), ()), (fallen,)).same == ("A",)


# What changes.


def test_nothing_changes_when_nothing_has_to() -> None:
    """The same question with the same people: no change, proved, and the casting says what it is like."""
    where = world(*(figure(f"F{n}", PLUCK, (30 + n,), 3.0 * n, 3.0 * n + 1.0) for n in range(5)))
    found = solved(where, solved(where))
    assert (found.changes, found.like) == ((), "old")
    assert found.proof[1].level == "2 changed"
    assert (found.proof[1].value, found.proof[1].bound) == (0, 0)


def test_what_an_absent_player_did_is_forced_the_rest_stays() -> None:
    """Ada is away: her figure goes to Ben, his own stays his; the change is forced."""
    figures = [figure("A", PLUCK, (30,), 0.0, 1.0), figure("B", PLUCK, (50,), 20.0, 21.0)]
    here = world(*figures)
    rows = [
        play(here.piano, figures[0], "ada", "p18"),
        play(here.piano, figures[1], "ben", solved(here).cast[1].place),
    ]
    found = solved(replace(here, players=toy_players(2)[1:]), cast(here, rows))
    assert found.changes == (Change(figure="A", what="player", before="ada", after="ben", forced=True),)


def test_another_kind_of_implement_is_forced_and_weighs_one() -> None:
    """The hammers are another kind now; player and place stay."""
    where = world(figure("A", Technique.FELT_HAMMER, (30,), 0.0, 1.0))
    mallets = toy_kit(tuple(replace(s, kind="mallet") if s.kind == "hammer" else s for s in TOY_STOCK))
    found = solved(replace(where, kit=mallets), solved(where))
    assert found.changes == (Change(figure="A", what="implement", before="hammer", after="mallet", forced=True),)
    assert found.proof[1].value == 1


def test_the_list_of_changes_weighs_what_the_level_says() -> None:
    """Whatever happens, the file's list and the proof tell the same."""
    figures = [figure(f"F{n}", PLUCK, (30 + 3 * n,), 0.5 * n, 0.5 * n + 1.0) for n in range(6)]
    old = solved(world(*figures, players=toy_players(3)))
    found = solved(world(*figures, piano=toy_piano(places=toy_places(700.0)[0])), old)
    assert found.changes
    assert refit.weight(found.changes) == found.proof[1].value


def test_figures_that_nobody_played_before_are_no_changes() -> None:
    """A figure that was uncast has nothing to stay close to."""
    a, b = figure("A", PLUCK, (30,), 0.0, 1.0), figure("B", PLUCK, (50,), 9.0, 10.0)
    here = world(a, b)
    old = cast(here, [row for row in solved(here).cast if row.figure == "A"])
    assert question(here).tasks[1].work.id == "B"
    assert set(refit.liked(question(here), old)) == {0}


def test_a_figure_that_is_played_no_more_or_only_now_is_told_and_weighs_nothing() -> None:
    """One with a player before and nobody now, one with nobody before and a player now."""
    here = world(figure("A", PLUCK, (30,), 0.0, 1.0), figure("B", PLUCK, (50,), 9.0, 10.0))
    whole = solved(here)
    only_a = cast(here, [row for row in whole.cast if row.figure == "A"])
    only_b = cast(here, [row for row in whole.cast if row.figure == "B"])
    problem = refit.liking(question(here), only_a)
    (a, b) = refit.changes(only_b, problem, only_a)
    assert (a.figure, a.what, a.after) == ("A", "uncast", "")
    assert (b.figure, b.what, b.before) == ("B", "cast", "")
    assert refit.weight((a, b)) == 0


def test_the_start_is_as_close_as_each_figure_alone_can_be() -> None:
    """The first guess costs what is unavoidable for each figure, and no more."""
    figures = [figure(f"F{n}", PLUCK, (25 + 7 * n,), 2.0 * n, 2.0 * n + 1.0) for n in range(5)]
    old = solved(world(*figures, players=toy_players(3)))
    problem = refit.liking(question(world(*figures, piano=toy_piano(places=toy_places(700.0)[0]))), old)
    weights = {index: sum(refit.WEIGHTS[w] for w in refit.unavoidable(problem, index)) for index in problem.liked}
    start = refit.start(problem)
    assert {index: objective.change_cost(problem, index, choice) for index, choice in start.items()} == weights


def test_a_stopped_refit_says_what_it_is_like(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C after the first part: the best so far is still a refit, with its changes."""
    where = world(*(figure(f"F{n}", PLUCK, (30 + n,), 3.0 * n, 3.0 * n + 1.0) for n in range(5)))
    old, calls = solved(where), list[int]()

    def stopping(*asked: Any, **how: Any) -> Any:
        calls.append(1)
        if len(calls) > 1:
            raise KeyboardInterrupt
        return decide(*asked, **how)

    monkeypatch.setattr(search, "decide", stopping)
    with pytest.raises(Interrupted) as stopped:
        solved(where, old)
    best = stopped.value.best
    assert isinstance(best, Casting)
    assert best.like == "old"
    assert refit.weight(best.changes) == best.proof[1].value


def test_a_piece_too_long_for_the_whole_is_refitted_in_stretches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the model of the whole the same least change is found on an easy piece, level by level."""
    monkeypatch.setattr(search, "WHOLE_AT_MOST", 0)
    monkeypatch.setattr(search, "REFIT_AT_MOST", 0)
    where = world(*(figure(f"F{n}", PLUCK, (30 + n,), 3.0 * n, 3.0 * n + 1.0) for n in range(25)))
    found = solved(where, solved(where), depth=2)
    assert (found.proof[0].value, found.proof[1].value, found.changes) == (0, 0, ())
