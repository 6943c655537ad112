"""Pins narrow a figure to what a person decided; what clashes is named, and no more than that."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rimside.casting import objective
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.draft import Draft
from rimside.casting.hands import share_hands
from rimside.casting.loadin import with_load
from rimside.casting.part import decide
from rimside.casting.pin import Pin
from rimside.casting.pin_clash import with_pin_reasons
from rimside.casting.pins import apply
from rimside.casting.problem import Problem, overlap
from rimside.casting.question import Question
from rimside.casting.result import CastFigure, Casting, PedalAction
from rimside.casting.rules import h01_whole, h02_hands
from rimside.casting.search import Search
from rimside.casting.solve import solve
from rimside.casting.verify import verify
from rimside.errors import BadInput
from rimside.kit import Stock
from rimside.piano.dampers import usable_pedals
from rimside.score.model import Figure, Technique
from tests.amounts import few_or_many, random_cases
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.strategies import small_worlds
from tests.casting.worlds import TOY_STOCK, World, figure, toy_kit, toy_players

RANDOM = settings(
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def hammer(name: str, key: int, start_s: float, end_s: float, **changes: Any) -> Figure:
    """One stroke of a felt hammer: one hand, one implement."""
    return figure(name, Technique.FELT_HAMMER, [key], start_s, end_s, **changes)


def pluck(name: str, key: int, start_s: float, end_s: float) -> Figure:
    """A pluck: one hand, no implement."""
    return figure(name, Technique.FINGER_PLUCK, [key], start_s, end_s)


def pinned(where: World, *pins: Pin) -> Problem:
    """The problem of a world with pins."""
    return apply(question(where), pins)


def cast(where: World, *pins: Pin) -> Casting:
    """A casting for coverage with pins, judged; the uncast say which pins are to blame."""
    plain = question(where)
    problem = apply(plain, pins)
    search = Search(problem=problem, seconds=1.0, depth=1)
    search.run()
    casting = loaded(where, assemble(problem, search.best, search.proofs(), held_pedals(where), 0.0))
    breaches = verify(casting, where.piano, where.players, where.kit)
    assert not breaches, [breach.message for breach in breaches]
    return with_pin_reasons(casting, plain, problem, search.best)


def loaded(where: World, casting: Casting) -> Casting:
    """A casting with its load-in and load-out."""
    return with_load(casting, question(where))


def held_pedals(where: World) -> tuple[PedalAction, ...]:
    """The world's pedals as actions, held by nobody in particular."""
    return pedal_actions(usable_pedals(where.piano, where.pedals), "unassigned")


def honours(casting: Casting, row: CastFigure, pin: Pin) -> bool:
    """Whether a row is as one pin of one thing says, read from the casting's own words alone."""
    kinds = {implement.id: implement.kind for implement in casting.implements}
    marks = [contact.from_near_end_mm for contact in row.contacts[:1]]
    holds = {
        "player": lambda: row.player == pin.player,
        "place": lambda: row.place == pin.place,
        "hand": lambda: row.hands == (pin.hand,),
        "implement": lambda: pin.implement in {*row.implements, *(kinds[name] for name in row.implements)},
        "contact_mm": lambda: marks[0] is not None and abs(marks[0] - (pin.contact_mm or 0.0)) <= 60.0,
    }
    (name,) = pin.named
    return holds[name]() != pin.forbid


def all_honoured(casting: Casting, pins: tuple[Pin, ...]) -> bool:
    """Whether every cast figure is as its pins say."""
    rows = {row.figure: row for row in casting.cast}
    parts = [part for pin in pins for part in pin.apart()]
    return all(honours(casting, rows[part.figure], part) for part in parts if part.figure in rows)


# One figure.


def test_holds_each_thing_is_as_it_was_pinned() -> None:
    """Player, place, hand, implement and contact of one figure, pinned one by one to what it would not be else."""
    where = world(hammer("A", 40, 0.0, 2.0))
    plain, free = question(where).tasks[0], cast(where).cast[0]
    others = [
        Pin(figure="A", player=next(p.id for p in where.players if p.id != free.player)),
        Pin(figure="A", place=next(where.piano.places[q].id for q in plain.places if q != int(free.place[1:]))),
        Pin(figure="A", hand="left" if free.hands == ("right",) else "right"),
        Pin(figure="A", implement="hammer 2" if free.implements != ("hammer 2",) else "hammer 1"),
        Pin(figure="A", contact_mm=next(x.mark_mm for x in plain.lanes if x.contacts != free.contacts)),
    ]
    for pin in others:
        casting = cast(where, pin)
        assert all_honoured(casting, (pin,)), pin.words
        assert len(casting.cast) == 1
        assert casting.pins == (pin,)


def test_holds_what_is_forbidden_is_not_taken() -> None:
    """Each thing that a casting chose, forbidden one by one: the figure is cast otherwise."""
    where = world(hammer("A", 40, 0.0, 2.0))
    free = cast(where).cast[0]
    at_mm = free.contacts[0].from_near_end_mm
    chosen = {
        "player": free.player,
        "place": free.place,
        "hand": free.hands[0],
        "implement": free.implements[0],
    }
    for name, value in chosen.items():
        casting = cast(where, Pin(figure="A", forbid=True, **{name: value}))  # type: ignore[arg-type]
        (row,) = casting.cast
        now = {"player": row.player, "place": row.place, "hand": row.hands[0], "implement": row.implements[0]}
        assert now[name] != value
    (row,) = cast(where, Pin(figure="A", contact_mm=at_mm, forbid=True)).cast
    assert row.contacts != free.contacts


def test_broken_a_figure_without_a_way_names_its_pins() -> None:
    """Out of reach from the pinned place: uncast under the rule "pin"; a pin that does no harm is not named."""
    where = world(hammer("A", 84, 0.0, 2.0), hammer("B", 20, 5.0, 7.0))
    bass = next(place.id for place in where.piano.places if place.at.x_mm < -200.0 and place.at.y_mm > 2000.0)
    casting = cast(where, Pin(figure="A", place=bass, hand="left"))
    (entry,) = casting.uncast
    assert (entry.figure, entry.rule, entry.proved) == ("A", "pin", True)
    assert f"A place {bass}" in entry.reason
    assert "hand" not in entry.reason
    assert [row.figure for row in casting.cast] == ["B"]


def test_edge_two_pins_that_only_clash_together() -> None:
    """Two players for one figure: both pins are named, and each alone leaves a way."""
    where = world(hammer("A", 40, 0.0, 2.0))
    pins = (Pin(figure="A", player="ada"), Pin(figure="A", player="ben"))
    (entry,) = cast(where, *pins).uncast
    assert entry.reason == "these pins clash: A player ada; A player ben"
    assert not cast(where, pins[0]).uncast
    assert not cast(where, pins[1]).uncast


def test_an_absent_player_leaves_no_way() -> None:
    """A pin on somebody who is not here makes the figure uncast; one that forbids them changes nothing."""
    where = world(hammer("A", 40, 0.0, 2.0))
    assert cast(where, Pin(figure="A", player="edda")).uncast[0].rule == "pin"
    assert not cast(where, Pin(figure="A", player="edda", forbid=True)).uncast


def test_a_second_kind_that_serves_can_be_pinned_and_the_first_forbidden() -> None:
    """Without a pin the first kind of the kit file plays; a pin on the other, or against the first, is honoured."""
    kit = toy_kit((*TOY_STOCK, Stock(kind="mallet", serves=frozenset({Technique.FELT_HAMMER}), count=2)))
    where = replace(world(hammer("A", 30, 1.0, 2.0)), kit=kit)
    for pins, kind in (
        ((), "hammer"),
        ((Pin(figure="A", implement="mallet"),), "mallet"),
        ((Pin(figure="A", implement="hammer", forbid=True),), "mallet"),
    ):
        asked = Question(
            figures=where.figures, piano=where.piano, players=where.players, kit=kit, pedals=where.pedals, pins=pins
        )
        problem = asked.problem()
        search = Search(problem=problem, seconds=1.0, depth=1)
        search.run()
        casting = assemble(problem, search.best, search.proofs(), held_pedals(where), 0.0)
        assert {implement.kind for implement in casting.implements} == {kind}
        assert not verify(loaded(where, casting), where.piano, where.players, kit)


def test_one_of_two_implements_can_be_pinned() -> None:
    """A figure so fast that it takes two hammers takes the pinned one and another."""
    fast = hammer("A", 40, 0.0, 4.0, times=1)
    both = replace(fast, strokes=figure("A", Technique.FELT_HAMMER, [40], 0.0, 4.0, times=36).strokes)
    where = world(both)
    assert question(where).tasks[0].need == 2
    for number in (1, 2, 3, 4):
        (row,) = cast(where, Pin(figure="A", implement=f"hammer {number}")).cast
        assert f"hammer {number}" in row.implements
        assert len(row.implements) == 2


@pytest.mark.parametrize(
    ("pin", "says"),
    [
        (Pin(figure="X", player="ada"), "a pin on a figure that is not there"),
        (Pin(figure="B", hand="left"), "the figure takes both hands"),
        (Pin(figure="A", contact_mm=2000.0), "mm from the near end"),
        (Pin(figure="C", contact_mm=100.0), "not played along a string"),
    ],
)
def test_what_cannot_be_meant_is_refused(pin: Pin, says: str) -> None:
    """A figure that is not there, a hand of two, a contact near no lane (all lanes are listed), a contact on a spot."""
    figures = (
        hammer("A", 40, 0.0, 2.0),
        figure("B", Technique.LINE_BOW, [45], 3.0, 5.0),
        figure("C", Technique.BEATER, "rim, treble", 6.0, 7.0),
    )
    with pytest.raises(BadInput) as caught:
        pinned(world(*figures), pin)
    assert says in str(caught.value)
    assert f"pin on {pin.figure}" in caught.value.where or pin.figure == "X"


@pytest.mark.parametrize(
    "fields", [{}, {"player": "ada", "place": "p01", "forbid": True}, {"hand": "third"}], ids=("empty", "two", "hand")
)
def test_a_pin_that_says_nothing_clear_is_refused(fields: dict[str, Any]) -> None:
    """Nothing named; two things forbidden at once; a hand that nobody has."""
    with pytest.raises(BadInput):
        Pin(figure="A", **fields)


# Several figures.


def test_pins_of_two_figures_that_clash_are_both_named() -> None:
    """One player for two bows at once: one figure is uncast, both pins are named, the third is not."""
    bows = [figure(name, Technique.LINE_BOW, [key], 0.0, 5.0) for name, key in (("A", 30), ("B", 55))]
    where = world(*bows, hammer("C", 40, 20.0, 22.0))
    pins = tuple(Pin(figure=name, player="ada") for name in "ABC")
    (entry,) = cast(where, *pins).uncast
    assert (entry.rule, entry.proved) == ("pin", True)
    assert entry.reason == "these pins clash: A player ada; B player ada"


def test_a_pin_that_is_not_to_blame_is_not_named() -> None:
    """Three long bows and one player: two are uncast with or without a pin on a hand elsewhere."""
    bows = [figure(name, Technique.LINE_BOW, [key], 0.0, 5.0) for name, key in (("A", 30), ("B", 45), ("C", 60))]
    where = world(*bows, pluck("D", 40, 8.0, 9.0), players=toy_players(1))
    assert {entry.rule for entry in cast(where, Pin(figure="D", hand="left")).uncast} == {"H2"}


def chain(*pins: Pin) -> Casting:
    """Three plucks of one player, the second overlapping both others, which do not overlap."""
    rows = (pluck("A", 40, 0.0, 2.0), pluck("B", 44, 1.0, 5.0), pluck("C", 48, 4.0, 6.0))
    return cast(world(*rows, players=toy_players(1)), *pins)


@pytest.mark.parametrize(("first", "last"), list(product(("left", "right"), repeat=2)))
def test_hands_at_both_ends_of_a_chain(first: str, last: str) -> None:
    """The middle figure is in the other hand than both, so the ends are in one hand: else one figure is uncast."""
    pins = (Pin(figure="A", hand=first), Pin(figure="C", hand=last))
    casting = chain(*pins)
    assert all_honoured(casting, pins)
    assert len(casting.uncast) == (first != last)
    for entry in casting.uncast:
        assert entry.reason == f"these pins clash: A hand {first}; C hand {last}"


def short_chains(seed: int) -> tuple[Problem, int]:
    """Up to six plucks of two players with pinned hands and players, and how many can be cast, by trying everything."""
    chance = Random(seed)
    starts = sorted(chance.randint(0, 8) for _ in range(6))
    rows = [pluck(f"f{n}", 30 + 5 * n, float(s), float(s + chance.randint(1, 5))) for n, s in enumerate(starts)]
    pins = [Pin(figure=row.id, hand=chance.choice(("left", "right"))) for row in rows if chance.random() < 0.6]
    pins += [Pin(figure=row.id, player="ada") for row in rows if chance.random() < 0.5]
    problem = pinned(world(*rows), *pins)
    return problem, most_cast(problem)


def most_cast(problem: Problem) -> int:
    """The most figures that two-handed people can hold, trying every player and hand: nothing but H1 and H2."""
    tasks = problem.tasks
    ways = [
        [None, *product(task.players, (task.side,) if task.side else ("left", "right"))] if not task.barred else [None]
        for task in tasks
    ]
    best = 0
    for given_ in product(*ways):
        done = [(task, way) for task, way in zip(tasks, given_, strict=True) if way is not None]
        clash = any(a[1] == b[1] and overlap(a[0], b[0]) for n, b in enumerate(done) for a in done[:n])
        best = max(best, 0 if clash else len(done))
    return best


# Authority: every way to give players and hands, tried one after the other.
@pytest.mark.parametrize("seed", range(25))
def test_pinned_hands_are_exact(seed: int) -> None:
    """H1 and H2 alone cast as many of six plucks as trying everything does, and the hands come out as pinned."""
    problem, most = short_chains(seed)
    draft = Draft(problem, range(len(problem.tasks)))
    for rule in (h01_whole, h02_hands):
        rule.add(draft)
    draft.model.objective = [(1, literal) for literal in draft.u.values()]
    outcome = solve(draft.model, effort=5.0, seconds=10.0)
    answer = draft.read(list(outcome.values))
    assert len(answer) == most
    hands = share_hands(problem, answer)
    for number, b in enumerate(answer):
        assert problem.tasks[b].side in ("", hands[b][0])
        for a in list(answer)[:number]:
            if overlap(problem.tasks[a], problem.tasks[b]) and answer[a].player == answer[b].player:
                assert set(hands[a]).isdisjoint(hands[b])


@pytest.mark.parametrize("seed", range(25, 40))
def test_pinned_hands_stay_exact_when_only_some_are_decided(seed: int) -> None:
    """One figure decided anew beside all that stands: the hands of whatever overlaps it, near or far, still fit."""
    problem, _ = short_chains(seed)
    everybody = range(len(problem.tasks))
    standing = dict(decide(problem, everybody, (objective.UNCAST,), {}, effort=5.0, seconds=10.0).answer)
    for index in everybody:
        rest = {other: choice for other, choice in standing.items() if other != index}
        answer = decide(problem, [index], (objective.UNCAST,), rest, effort=1.0, seconds=10.0).answer
        hands = share_hands(problem, answer)
        assert all(problem.tasks[i].side in ("", hands[i][0]) for i in answer)


# Random questions.


@st.composite
def some_pins(draw: st.DrawFn, where: World, most: int = 4) -> tuple[Pin, ...]:
    """Pins that may be meant: players, places, lanes and implements that the figures could have, one thing each."""
    problem = question(where)
    tasks = [task for task in problem.tasks if task.figure is not None and task.barred is None]
    found: list[Pin] = []
    for _ in range(draw(st.integers(1, most)) if tasks else 0):
        task = draw(st.sampled_from(tasks))
        marks = [lane.mark_mm for lane in task.lanes if lane.contacts[0].from_near_end_mm is not None]
        offers: dict[str, list[Any]] = {
            "player": [problem.players[player].id for player in task.players],
            "place": [problem.piano.places[place].id for place in task.places],
            "hand": ["left", "right"] if task.hands == 1 else [],
            "implement": [problem.implements[tool].id for tool in task.implements] + ([task.kind] if task.kind else []),
            "contact_mm": marks,
        }
        name = draw(st.sampled_from([name for name, values in offers.items() if values]))
        value = draw(st.sampled_from(offers[name]))
        found.append(Pin(figure=task.work.id, forbid=draw(st.booleans()), **{name: value}))
    return tuple(found)


@st.composite
def pinned_worlds(draw: st.DrawFn) -> tuple[World, tuple[Pin, ...]]:
    """A small world and some pins on it."""
    where = draw(small_worlds(3, 10))
    return where, draw(some_pins(where))


# Authority: casting/verify.py for the rules, the casting's own rows for the pins.
@pytest.mark.filterwarnings("ignore:Generating overly large repr")
@random_cases
@given(pinned_worlds())
@settings(RANDOM, max_examples=few_or_many(30, 300))
def test_random_pins_are_honoured(case: tuple[World, tuple[Pin, ...]]) -> None:
    """Random questions with pins: the judge finds nothing, every cast figure is as pinned, every reason is given."""
    where, pins = case
    casting = cast(where, *pins)
    assert all_honoured(casting, pins)
    assert all(entry.reason for entry in casting.uncast)
