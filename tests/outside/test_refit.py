"""Refits against exhaustion: on small questions the weight of changes is the least that any correct casting has.

Every choice of every figure is written out, and castings are tried from the fewest changes up; whether one is correct
is the judge's word alone, who never met the solver. Weights and corresponding places are worked out here anew, from
decision 3.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations, product
from random import Random

import pytest

from rimside import flow
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.problem import Choice, Problem
from rimside.casting.refit import Earlier
from rimside.casting.result import Casting
from rimside.casting.verify import verify
from rimside.piano.model import Piano
from rimside.score.model import Figure, Technique
from tests.amounts import seeds
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.worlds import TOY_STOCK, World, figure, toy_kit, toy_piano, toy_places, toy_players

TECHNIQUES = (Technique.FINGER_PLUCK, Technique.FELT_HAMMER, Technique.LINE_BOW)
OTHER_HAMMERS = toy_kit(
    tuple(replace(stock, kind="mallet") if stock.kind == "hammer" else stock for stock in TOY_STOCK)
)
Choices = Mapping[int, Choice]


def hall(step_mm: float, every: int) -> Piano:
    """A toy piano with few places to stand."""
    places, rim_length_mm = toy_places(step_mm)
    return toy_piano(places=places[::every], rim_length_mm=rim_length_mm)


def some_figures(rng: Random) -> tuple[Figure, ...]:
    """Three figures close together, so that they hinder each other."""
    return tuple(
        figure(f"F{number}", rng.choice(TECHNIQUES), (rng.randint(22, 60),), start_s, start_s + rng.choice((1.0, 3.0)))
        for number, start_s in enumerate(round(rng.uniform(0.0, 5.0), 1) for _ in range(3))
    )


@dataclass(slots=True, kw_only=True)
class Exhaustion:
    """Every casting of a small problem, judged."""

    where: World
    problem: Problem
    together: dict[tuple[int, Choice, int, Choice], bool] = field(default_factory=dict)

    def least(self, old: Casting) -> tuple[int, int]:
        """Uncast weight and weight of changes of the best correct casting, by trying all from the best up."""
        menu = [list(self.options(task)) for task in range(len(self.problem.tasks))]
        price = [{choice: self.price(task, choice, old) for choice in menu[task]} for task in range(len(menu))]
        meals = sorted(
            product(*menu),
            key=lambda meal: tuple(map(sum, zip(*(price[n][choice] for n, choice in enumerate(meal)), strict=True))),
        )
        for meal in meals:
            chosen = {number: choice for number, choice in enumerate(meal) if choice is not None}
            pairs = combinations(chosen.items(), 2)
            if all(self.go_together(*a, *b) for a, b in pairs) and self.correct(chosen):
                costs = [price[number][choice] for number, choice in enumerate(meal)]
                return sum(cost[0] for cost in costs), sum(cost[1] for cost in costs)
        raise AssertionError("leaving everything out is always correct")

    def options(self, number: int) -> Iterator[Choice | None]:
        task = self.problem.tasks[number]
        tools = list(combinations(task.implements, task.need)) if task.from_rest else [()]
        for player, place, lane, taken in product(task.players, task.places, range(len(task.lanes)), tools):
            yield Choice(player=player, place=place, lane=lane, implements=taken)
        yield None

    def price(self, number: int, choice: Choice | None, old: Casting) -> tuple[int, int]:
        """1 or 1000 for what is left out; 4, 2 and 1 for player, place and kind (decision 3)."""
        task = self.problem.tasks[number]
        if choice is None:
            return task.weight, 0
        before = next((row for row in old.cast if row.figure == task.work.id), None)
        if before is None:
            return 0, 0
        if self.problem.players[choice.player].id != before.player:
            return 0, 4
        kind = {tool.id: tool.kind for tool in old.implements}
        other_kind = task.kind != (kind[before.implements[0]] if before.implements else "")
        return 0, 2 * (choice.place not in self.same_places(before.place, old)) + other_kind

    def same_places(self, name: str, old: Casting) -> set[int]:
        """The nearest by share of the rim, and all within half the old places' mean distance (decision 3)."""
        was = next(place for place in old.places if place.id == name)
        rim_mm = self.problem.piano.rim_length_mm
        away: dict[int, float] = {}
        for number, place in enumerate(self.problem.piano.places):
            if place.at_keyboard == was.at_keyboard:
                straight = abs(place.along_rim_mm / rim_mm - was.along_rim_mm / old.rim_length_mm)
                away[number] = min(straight, 1.0 - straight)
        limit = max(1.0 / len(old.places) / 2.0, min(away.values(), default=0.0))
        return {number for number, share in away.items() if share <= limit + 1e-9}

    def go_together(self, a: int, one: Choice, b: int, other: Choice) -> bool:
        """Whether the judge accepts two figures alone; asked once for each pair of choices."""
        key = (a, one, b, other)
        if key not in self.together:
            self.together[key] = self.correct({a: one, b: other})
        return self.together[key]

    def correct(self, chosen: Choices) -> bool:
        """Whether the judge finds nothing, the proof aside, which stands for nothing here."""
        actions = pedal_actions(self.problem.pedals, flow.UNASSIGNED)
        casting = assemble(self.problem, chosen, (), actions, 0.0, explain=False)
        breaches = verify(casting, self.where.piano, self.where.players, self.where.kit)
        return all(breach.rule == "proof" for breach in breaches)


def refitted(where: World, old: Casting, seconds: float = 3.0) -> Casting:
    """A refit at the level of changes; the judge finds nothing wrong with it."""
    like = Earlier(name="old", casting=old)
    casting = flow.cast(question(where), flow.UNASSIGNED, seconds=seconds, depth=2, like=like)
    assert verify(casting, where.piano, where.players, where.kit) == ()
    return casting


# Authority: exhaustion, judged by casting/verify.py; weights and places from docs/decisions/0003.
@pytest.mark.parametrize("seed", seeds(12, 24))
def test_changes_are_the_least_of_all_correct_castings(seed: int) -> None:
    """Three figures on another piano, every second time with a new player, every third with other hammers."""
    rng = Random(seed)
    figures = some_figures(rng)
    before = world(*figures, piano=hall(450.0, 2), players=toy_players(2))
    old = flow.cast(question(before), flow.UNASSIGNED, seconds=2.0, depth=3)
    players = toy_players(3)[1:] if seed % 2 else toy_players(2)
    after = world(*figures, piano=hall(600.0, 3), players=players, kit=OTHER_HAMMERS if seed % 3 == 0 else toy_kit())
    found = refitted(after, old)
    uncast, changed = found.proof[0], found.proof[1]
    assert (uncast.value, changed.value) == Exhaustion(where=after, problem=question(after)).least(old)
    assert uncast.proved and changed.proved


# Authority: as above.
@pytest.mark.parametrize("seed", seeds(2, 4))
def test_an_absence_on_the_same_piano_costs_the_least(seed: int) -> None:
    """Three figures without one of three players, same piano."""
    rng = Random(100 + seed)
    figures = some_figures(rng)
    before = world(*figures, piano=hall(600.0, 3), players=toy_players(3))
    old = flow.cast(question(before), flow.UNASSIGNED, seconds=2.0, depth=3)
    after = replace(before, players=toy_players(2))
    found = refitted(after, old)
    values = found.proof[0].value, found.proof[1].value
    assert values == Exhaustion(where=after, problem=question(after)).least(old)
    gone = {row.figure for row in old.cast if row.player == "cleo"}
    cast = {row.figure for row in found.cast}
    assert {change.figure for change in found.changes if change.forced and change.what == "player"} >= gone & cast
