"""After a changed pin the casting holds, honours it, and is otherwise as it was."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rimside.casting import objective
from rimside.casting.assemble import assemble
from rimside.casting.part import decide
from rimside.casting.pin import Pin
from rimside.casting.pins import apply
from rimside.casting.repin import held_hands, recast, repin, touched
from rimside.casting.result import Casting
from rimside.casting.search import Search
from rimside.casting.standing import hands_from, standing_from
from rimside.casting.verify import verify
from tests.amounts import few_or_many, random_cases
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.strategies import small_worlds
from tests.casting.test_pins import RANDOM, all_honoured, hammer, held_pedals, loaded, pluck, some_pins
from tests.casting.worlds import World, toy_players


def first(where: World, *pins: Pin) -> Casting:
    """A casting for coverage to go on from."""
    problem = apply(question(where), pins)
    search = Search(problem=problem, seconds=1.0, depth=1)
    search.run()
    return loaded(where, assemble(problem, search.best, search.proofs(), held_pedals(where), 0.0, explain=False))


def again(where: World, casting: Casting, *pins: Pin) -> Casting:
    """The casting with other pins; the judge finds nothing wrong with it."""
    new = loaded(where, recast(question(where), pins, casting))
    breaches = verify(new, where.piano, where.players, where.kit)
    assert not breaches, [breach.message for breach in breaches]
    assert all_honoured(new, pins)
    return new


def kept(before: Casting, now: Casting) -> set[str]:
    """The figures whose row is the very same, and the chores that the same people do at the same time and place."""
    rows = {row.figure: row for row in now.cast}
    chores = {(row.id, row.start_s, row.player, row.place, row.hands) for row in now.chores}
    still = {row.id for row in before.chores if (row.id, row.start_s, row.player, row.place, row.hands) in chores}
    return {row.figure for row in before.cast if rows.get(row.figure) == row} | still


def least_uncast(where: World, *pins: Pin) -> int:
    """What the whole question leaves out at least, decided at once."""
    problem = apply(question(where), pins)
    everything = [task.index for task in problem.tasks]
    part = decide(problem, everything, (objective.UNCAST,), {}, effort=20.0, seconds=30.0)
    assert part.closed
    return objective.uncast_weight(problem, part.answer)


def test_holds_the_same_pins_change_nothing() -> None:
    """Cast again without any change: the same casting, to the hand, and what was proved stays."""
    where = world(*(hammer(f"f{n}", 30 + 4 * n, 2.0 * n, 2.0 * n + 1.5) for n in range(8)))
    before = first(where)
    now = again(where, before)
    assert (now.cast, now.proof, now.pins) == (before.cast, before.proof, ())


def test_holds_one_pin_changes_one_figure() -> None:
    """Another player for one figure among ten with time enough: the nine others stay as they are."""
    where = world(*(hammer(f"f{n}", 40, 6.0 * n, 6.0 * n + 1.0) for n in range(10)))
    before = first(where)
    row = before.cast[4]
    other = next(player.id for player in where.players if player.id != row.player)
    now = again(where, before, Pin(figure=row.figure, player=other))
    assert kept(before, now) == {each.figure for each in before.cast} - {row.figure}
    (moved,) = (each for each in now.cast if each.figure == row.figure)
    assert moved.place == row.place  # nothing asks for another place, and staying there changes less


def test_a_pin_that_holds_already_changes_nothing() -> None:
    """What a casting does anyway is pinned to it: nothing is opened."""
    where = world(hammer("A", 40, 0.0, 2.0), hammer("B", 44, 1.0, 3.0))
    before = first(where)
    row = before.cast[0]
    now = again(where, before, Pin(figure=row.figure, player=row.player, place=row.place, hand=row.hands[0]))
    assert now.cast == before.cast
    assert now.proof == before.proof


def test_broken_a_pin_that_hinders_others_is_told_and_taken_back() -> None:
    """Pinned to a player who is busy with a pinned figure it is uncast; without the pin it is cast again."""
    bows = (pluck("A", 30, 0.0, 4.0), pluck("B", 60, 0.0, 4.0), pluck("C", 76, 1.0, 3.0))
    where = world(*bows)
    before = first(where)
    assert not before.uncast
    pins = tuple(Pin(figure=name, player="ada") for name in "ABC")
    clashing = again(where, before, *pins)
    (entry,) = clashing.uncast
    assert entry.rule == "pin"
    assert all(f"{name} player ada" in entry.reason for name in "ABC")
    assert clashing.proof[0].proved
    assert not again(where, clashing).uncast


def test_edge_a_pinned_hand_swaps_the_hands_of_its_chain_and_no_other() -> None:
    """Of two overlapping plucks of one player the pinned one changes hands, so the other does; a later one does not."""
    where = world(pluck("A", 40, 0.0, 2.0), pluck("B", 44, 1.0, 3.0), pluck("C", 40, 9.0, 10.0), players=toy_players(1))
    before = {row.figure: row for row in first(where).cast}
    swapped = "left" if before["A"].hands == ("right",) else "right"
    now = {row.figure: row for row in again(where, first(where), Pin(figure="A", hand=swapped)).cast}
    assert now["A"].hands == before["B"].hands
    assert now["B"].hands == before["A"].hands
    assert now["C"] == before["C"]


def test_bounds_hold_only_while_they_are_true() -> None:
    """Proved coverage outlives more pins; below it nothing does when coverage is lost, nor when a pin is taken away."""
    where = world(hammer("A", 40, 0.0, 2.0), hammer("B", 44, 10.0, 12.0))
    problem = question(where)
    search = Search(problem=problem, seconds=2.0)
    search.run()
    proof = tuple(replace(row, bound=row.value) for row in search.proofs())
    before = assemble(problem, search.best, proof, held_pedals(where), 0.0)
    impossible = Pin(figure="B", player="nobody")
    lost = again(where, before, impossible)
    assert [row.proved for row in lost.proof[:1]] == [True]
    assert [row.bound for row in lost.proof[1:]] == [0] * 5
    back = again(where, replace(before, pins=(Pin(figure="A", hand="left", forbid=True),)))
    assert [row.bound for row in back.proof] == [0] * 6


def test_what_is_not_opened_is_the_very_same() -> None:
    """The task opened for one pin is told; all other choices are those that stood."""
    where = world(*(hammer(f"f{n}", 40, 6.0 * n, 6.0 * n + 1.0) for n in range(10)))
    casting = first(where)
    other = next(player.id for player in where.players if player.id != casting.cast[4].player)
    pins = (Pin(figure=casting.cast[4].figure, player=other),)
    problem = apply(question(where), pins)
    standing, hands = standing_from(casting, problem), hands_from(casting, problem)
    changed = touched(problem, casting, standing, hands, pins)
    assert len(changed) == 1
    found = repin(problem, standing, changed, hands=hands)
    assert found.opened == changed
    assert {i: c for i, c in found.assignment.items() if i not in changed} == standing


def test_hands_of_what_stands_outside_are_pinned() -> None:
    """Each one-handed task that stands outside has its hand as a pin; the opened one has none."""
    where = world(pluck("A", 40, 0.0, 2.0), pluck("B", 44, 1.0, 3.0))
    casting, problem = first(where), question(where)
    hands = hands_from(casting, problem)
    held = held_hands(problem, hands, standing_from(casting, problem), frozenset({0}))
    assert [task.side for task in held.tasks] == ["", hands[1][0]]


@st.composite
def changes(draw: st.DrawFn) -> tuple[World, tuple[Pin, ...], tuple[Pin, ...]]:
    """A small world, the pins it was cast with, and the pins now: some added, some taken away."""
    where = draw(small_worlds(3, 10))
    old, new = draw(some_pins(where, 2)), draw(some_pins(where, 2))
    return where, old, (*new, *(old if draw(st.booleans()) else ()))


# Authority: casting/verify.py for the rules, the casting's own rows for pins and for what was kept, and the whole
# question decided at once for the bound.
@pytest.mark.filterwarnings("ignore:Generating overly large repr")
@random_cases
@given(changes())
@settings(RANDOM, max_examples=few_or_many(30, 300))
def test_random_changes_of_pins(case: tuple[World, tuple[Pin, ...], tuple[Pin, ...]]) -> None:
    """Random questions: no rule broken, pins honoured, the rest kept to the hand, coverage within its true bound."""
    where, old, new = case
    before = first(where, *old)
    now = again(where, before, *new)
    problem = apply(question(where), new)
    standing, hands = standing_from(before, problem), hands_from(before, problem)
    found = repin(problem, standing, touched(problem, before, standing, hands, new), hands=hands)
    outside = {problem.tasks[index].work.id for index in standing if index not in found.opened}
    assert outside <= kept(before, now) or _bows_renamed(before, now)
    assert now.proof[0].bound <= least_uncast(where, *new) <= now.proof[0].value


def _bows_renamed(before: Casting, now: Casting) -> bool:
    """A second bow of a pitch is called b by where it lies, so that its name may change when another comes or goes."""
    return {tool.id for tool in before.implements} != {tool.id for tool in now.implements}
