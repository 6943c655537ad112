"""The pedal plan: fewest actions, against a search that tries every state; chores, needs and reasons."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rimside.casting.chore import ChoreKind
from rimside.casting.model import Model
from rimside.casting.pedals import states as pedal_states
from rimside.casting.pedals.plan import WEDGE, PedalPlan, plan_pedals
from rimside.casting.pedals.wants import Want, Wants, broken_wants, wants_of
from rimside.casting.result import CastChore
from rimside.casting.solve import Outcome, Status, solve
from rimside.kit import PERMISSIONS, Kit, Stock, Times
from rimside.piano.model import Permissions, Piano
from rimside.pitch import Key
from rimside.score.model import Figure, Pedal, PedalSpan, Technique
from tests.amounts import few_or_many, random_cases
from tests.casting.worlds import LAST_DAMPED, TOY_STOCK, figure, toy_kit, toy_piano

TWO_PEDALS = frozenset({Pedal.DAMPER, Pedal.UNA_CORDA})


def pluck(name: str, key: int, start_s: float, end_s: float, *, dry: bool = False, essential: bool = False) -> Figure:
    """One plucked course."""
    return figure(name, Technique.FINGER_PLUCK, (key,), start_s, end_s, dry=dry, essential=essential)


def planned(*figures: Figure, piano: Piano | None = None, kit: Kit | None = None, **more: float) -> PedalPlan:
    """The plan when nothing is written."""
    return plan_pedals(figures, piano or toy_piano(), (), kit or toy_kit(), **more)


def broken(plan: PedalPlan, *figures: Figure, piano: Piano | None = None) -> tuple[Want, ...]:
    """What the plan does not give of what it promises."""
    wants = wants_of(figures, piano or toy_piano(), toy_kit())
    promised = tuple(want for want in wants.wants if want.figure not in plan.conflicts)
    return broken_wants(replace(wants, wants=promised), piano or toy_piano(), plan.spans, plan.held_keys)


# A search that tries every state, apart from the model.

State = tuple[bool, bool, frozenset[int], frozenset[int]]
"""Damper pedal, sostenuto pedal, keys held, courses caught."""
REST: State = (False, False, frozenset(), frozenset())
STEPS = 6
LONG_S = 1.0


def moments(wants: Wants) -> list[tuple[float, float]]:
    """Times in which the demands are the same, with room before and after."""
    edges = sorted({0.0, *(moment for want in wants.wants for moment in (want.start_s, want.end_s))})
    return [(-100.0, edges[0]), *pairwise(edges), (edges[-1], edges[-1] + 100.0)]


def fewest(wants: Wants, piano: Piano) -> int | None:
    """The least number of actions that serves all, by trying all states; None when nothing does."""
    keys = sorted({int(want.key) for want in wants.wants})
    ring_keys = {int(want.key) for want in wants.wants if want.ring}
    steps: list[tuple[set[int], set[int], frozenset[tuple[str, int]]]] = []
    for start_s, end_s in moments(wants):
        here = [want for want in wants.wants if want.meets(start_s, end_s)]
        rings = {int(want.key) for want in here if want.ring}
        dry = {int(want.key) for want in here if not want.ring}
        names = frozenset((want.figure, int(want.key)) for want in here if want.ring)
        steps += [(rings, dry, names)] * (STEPS if end_s - start_s >= LONG_S else 1)
    best: dict[State, int] = {REST: 0}
    before: frozenset[tuple[str, int]] = frozenset()
    for rings, dry, names in steps:
        through = {key for _, key in before & names}
        found: dict[State, int] = {}
        for state, cost in best.items():
            for after, more in changes(state, keys, ring_keys, piano):
                if allowed(state, after, rings, dry, through) and cost + more < found.get(after, 10**9):
                    found[after] = cost + more
        best, before = found, names
    ends = [cost for (damper, sostenuto, held, _), cost in best.items() if not (damper or sostenuto or held)]
    return min(ends, default=None)


def changes(state: State, keys: list[int], ring_keys: set[int], piano: Piano) -> Iterator[tuple[State, int]]:
    """Every state that may follow, and how many actions that takes."""
    damper, sostenuto, held, caught = state
    for now_damper in (False, True):
        for now_sostenuto in (False, True) if Pedal.SOSTENUTO in piano.pedals else (False,):
            for count in range(len(ring_keys) + 1):
                for some in combinations(sorted(ring_keys), count):
                    now = frozenset(some)
                    moved = (damper != now_damper) + len(held ^ now)
                    pressed = now_sostenuto and not sostenuto
                    if pressed and moved:
                        continue
                    raised = frozenset(keys) if damper else held
                    kept = raised if pressed else caught if now_sostenuto else frozenset()
                    yield (now_damper, now_sostenuto, now, kept), moved + (sostenuto != now_sostenuto)


def allowed(a: State, b: State, rings: set[int], dry: set[int], through: set[int]) -> bool:
    """Whether a state serves, and keeps up what was ringing already."""
    free = b[2] | b[3]
    if any(not b[0] and key not in free for key in rings) or (dry and b[0]) or dry & free:
        return False
    if dry and not two_hands(b[2]):
        return False
    return all((a[0] and b[0]) or key in a[2] & b[2] or key in a[3] & b[3] for key in through)


def two_hands(keys: frozenset[int]) -> bool:
    """No three keys lie a hand's span of 14 keys or more from each other, and no more than ten in all."""
    return len(keys) <= 10 and not any(b - a >= 14 and c - b >= 14 for a, b, c in combinations(sorted(keys), 3))


@st.composite
def small_figures(draw: st.DrawFn) -> tuple[Figure, ...]:
    """Two to five plucks on up to four courses, in whole seconds, some of them dry; courses never play two at once."""
    figures: list[Figure] = []
    for number in range(draw(st.integers(2, 5))):
        key, start_s = draw(st.sampled_from([10, 22, 36, 52])), draw(st.integers(0, 8))
        end_s = start_s + draw(st.integers(1, 6))
        if all(one.keys != (key,) or one.end_s <= start_s or end_s <= one.start_s for one in figures):
            dry, essential = draw(st.booleans()), draw(st.integers(0, 2)) == 2
            figures.append(pluck(f"F{number}", key, start_s, end_s, dry=dry, essential=essential))
    return tuple(figures)


def best_by_trying(figures: tuple[Figure, ...], piano: Piano) -> tuple[int, int]:
    """The least weight left out, and the fewest actions with that."""
    wants = wants_of(figures, piano, toy_kit())
    names = wants.figures
    answers: list[tuple[int, int]] = []
    queue = [
        (sum(1000 if name in wants.essential else 1 for name in gone), gone)
        for count in range(len(names) + 1)
        for gone in combinations(names, count)
    ]
    heapq.heapify(queue)
    while queue:
        weight, gone = heapq.heappop(queue)
        if answers and weight > answers[0][0]:
            break
        left = replace(wants, wants=tuple(want for want in wants.wants if want.figure not in gone))
        actions = fewest(left, piano)
        if actions is not None:
            answers.append((weight, actions))
    return min(answers)


@random_cases
@settings(max_examples=few_or_many(20, 400), deadline=None, suppress_health_check=list(HealthCheck))
@given(small_figures(), st.sampled_from([frozenset(Pedal), TWO_PEDALS]))
def test_no_plan_takes_fewer_actions(figures: tuple[Figure, ...], pedals: frozenset[Pedal]) -> None:
    """The model's weight left out and number of actions are those of trying every state at every moment."""
    piano = toy_piano(pedals=pedals)
    plan = planned(*figures, piano=piano)
    weight = sum(1000 if one.essential else 1 for one in figures if one.id in plan.conflicts)
    assert not broken(plan, *figures, piano=piano)
    if any(one.dry for one in figures):
        assert (weight, plan.actions) == best_by_trying(figures, piano)
        assert plan.bound == plan.actions
    spans = [span for span in plan.spans if span.pedal is not Pedal.UNA_CORDA]
    assert plan.actions == 2 * (len(spans) + len(plan.held_keys))


# Plans.


def damper(down_s: float, up_s: float) -> PedalSpan:
    return PedalSpan(pedal=Pedal.DAMPER, down_s=down_s, up_s=up_s)


def test_with_nothing_dry_the_damper_pedal_is_down_throughout() -> None:
    """From 0 to the end by a wedge, which takes nobody's time inside the piece."""
    plan = planned(pluck("A", 40, 1.0, 3.0), pluck("B", 44, 2.0, 9.0), end_s=12.0)
    assert plan.spans == (damper(0.0, 12.0),)
    assert (plan.actions, plan.bound, plan.needs, dict(plan.conflicts)) == (2, 2, (), {})
    wedge, free = plan.chores
    assert wedge.latest_s <= 0.0
    assert free.earliest_s >= 12.0


CHORD = tuple(pluck(f"chord {key}", key, 0.0, 20.0) for key in (5, 25, 45))
CUT = pluck("cut", 60, 2.0, 6.0, dry=True)


def test_a_dry_figure_brings_the_damper_pedal_up() -> None:
    """One figure after the other: the pedal comes up as the first ends, and is down for the second."""
    plan = planned(pluck("A", 40, 0.0, 4.0, dry=True), pluck("B", 44, 6.0, 9.0))
    assert plan.spans == (damper(0.0, 4.0), damper(6.0, 9.0))
    assert (plan.actions, plan.bound) == (4, 4)


def test_a_key_held_lets_its_course_ring_over_a_dry_one() -> None:
    """One long note across a dry one: the key of the long one is held, two hands are there for it."""
    plan = planned(pluck("long", 30, 0.0, 20.0), CUT)
    assert not plan.conflicts
    assert Key(30) in {one.key for one in plan.held_keys}
    assert plan.actions == 4


def test_a_wide_chord_over_a_dry_note_is_caught_by_the_sostenuto() -> None:
    """Three keys lie further apart than two hands: the sostenuto pedal holds what the hands cannot."""
    plan = planned(*CHORD, CUT)
    assert not plan.conflicts
    assert not broken(plan, *CHORD, CUT)
    ((sostenuto, caught),) = [pair for pair in zip(plan.spans, plan.catches, strict=True) if pair[1]]
    assert sostenuto.pedal is Pedal.SOSTENUTO
    assert sostenuto.down_s < 6.0 < sostenuto.up_s
    assert set(caught) == {5, 25, 45}
    assert plan.actions == plan.bound == 2 * (1 + 1 + 3)


def test_without_a_sostenuto_pedal_the_least_is_left_out_with_its_reason() -> None:
    """The same chord on a piano with two pedals: the dry note goes, and the reason names what stands against it."""
    plan = planned(*CHORD, CUT, piano=toy_piano(pedals=TWO_PEDALS))
    assert list(plan.conflicts) == ["cut"]
    rule, reason = plan.conflicts["cut"]
    assert rule == "H8"
    assert "no sostenuto pedal" in reason
    assert "chord 5" in reason
    assert plan.spans == (damper(0.0, 20.0),)


def test_an_essential_figure_is_kept() -> None:
    """When the dry note is essential, one of the chord goes instead, and hands hold the others."""
    plan = planned(*CHORD, replace(CUT, essential=True), piano=toy_piano(pedals=TWO_PEDALS))
    assert len(plan.conflicts) == 1
    assert "cut" not in plan.conflicts
    assert all("cut" in reason for _, reason in plan.conflicts.values())


@pytest.mark.parametrize("answered", range(7))
@pytest.mark.parametrize("pedals", [frozenset(Pedal), TWO_PEDALS, frozenset()])
def test_a_plan_comes_out_however_early_the_search_ends(
    answered: int, pedals: frozenset[Pedal], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It keeps what it promises and its bound stays below it; what is left out for want of time is told as that."""
    asked = itertools.count()

    def tired(model: Model, **options: Any) -> Outcome:
        answer = solve(model, **options)
        return answer if next(asked) < answered else Outcome(status=Status.OUT_OF_TIME, bound=0)

    monkeypatch.setattr(pedal_states, "solve", tired)
    piano = toy_piano(pedals=pedals)
    plan = planned(*CHORD, CUT, piano=piano)
    assert not broken(plan, *CHORD, CUT, piano=piano)
    assert plan.bound <= plan.actions == 2 * (len(plan.spans) + len(plan.held_keys))
    if not answered:
        assert plan.conflicts
        assert all("may be one" in reason for _, reason in plan.conflicts.values())


def test_a_dry_note_without_a_damper_is_told() -> None:
    """The top courses have no damper, so nothing can damp them."""
    plan = planned(pluck("top", LAST_DAMPED + 1, 0.0, 2.0, dry=True))
    assert "no damper" in plan.conflicts["top"][1]


def test_struck_again_at_once_nothing_need_be_damped() -> None:
    """A dry figure whose course starts anew at its very end asks for no silence."""
    plan = planned(pluck("A", 40, 0.0, 2.0, dry=True), pluck("B", 40, 2.0, 4.0))
    assert plan.spans == (damper(0.0, 4.0),)


def test_keys_damp_themselves() -> None:
    """A dry figure on the keys asks that the damper pedal be up when it ends, and for nothing else."""
    keyed = figure("keys", Technique.KEYS, (40,), 0.0, 2.0, dry=True)
    plan = planned(keyed)
    assert (plan.spans, plan.held_keys, plan.actions, plan.bound) == ((), (), 0, 0)
    both = planned(keyed, pluck("A", 50, 0.0, 2.0))
    assert both.spans == (damper(0.0, 2.0),)


def test_a_piano_without_pedals_has_its_keys_held() -> None:
    """Nothing but a silent key lifts a damper there."""
    plan = planned(pluck("A", 40, 0.0, 2.0), piano=toy_piano(pedals=frozenset()))
    assert [(one.key, one.down_s, one.up_s) for one in plan.held_keys] == [(40, 0.0, 2.0)]
    (chore,) = plan.chores
    assert (chore.target, chore.hands, chore.feet) == ("C4", 1, 0)
    assert [need.ways for need in plan.needs] == [((chore.id,),)]


# Marks.


def marked(*figures: Figure, marks: tuple[PedalSpan, ...], piano: Piano | None = None) -> PedalPlan:
    """The plan with marks in the score."""
    return plan_pedals(figures, piano or toy_piano(), marks, toy_kit())


def test_written_marks_stand_and_conflicts_name_them() -> None:
    """Nothing is added to what is written; a figure that cannot live with it hears of the mark."""
    marks = (damper(0.0, 4.0),)
    plan = marked(pluck("A", 40, 0.0, 4.0), pluck("B", 41, 3.0, 6.0), pluck("C", 42, 7.0, 8.0), marks=marks)
    assert plan.spans == marks
    assert list(plan.conflicts) == ["B", "C"]
    assert "the damper pedal is written from 0 s to 4 s" in plan.conflicts["B"][1]
    assert "no written pedal lifts its damper" in plan.conflicts["C"][1]
    assert (plan.actions, plan.bound) == (2, 2)


def test_a_written_pedal_may_forbid_a_dry_end() -> None:
    """The pedal is still down where the figure is to be cut off."""
    plan = marked(pluck("A", 40, 0.0, 3.0, dry=True), marks=(damper(0.0, 4.0),))
    assert "must be damped at 3 s, but the damper pedal is written from 0 s to 4 s" in plan.conflicts["A"][1]


def test_a_written_sostenuto_that_is_not_there_is_named() -> None:
    """On a piano with two pedals the mark cannot be obeyed."""
    marks = (damper(0.0, 2.0), PedalSpan(pedal=Pedal.SOSTENUTO, down_s=1.0, up_s=9.0))
    plan = marked(pluck("A", 40, 0.0, 8.0), marks=marks, piano=toy_piano(pedals=TWO_PEDALS))
    assert "no sostenuto pedal" in plan.conflicts["A"][1]
    whole = marked(pluck("A", 40, 0.0, 8.0), marks=marks)
    assert not whole.conflicts
    assert whole.catches == ((), (Key(40),))


def test_una_corda_is_held_for_the_keys_alone() -> None:
    """As written, by a foot, and only figures on the keys need it."""
    soft = PedalSpan(pedal=Pedal.UNA_CORDA, down_s=1.0, up_s=3.0)
    plan = marked(figure("keys", Technique.KEYS, (40,), 0.0, 2.0), pluck("A", 50, 0.0, 4.0), marks=(soft,))
    assert plan.spans == (soft, damper(0.0, 4.0))
    assert [(need.figure, need.ways) for need in plan.needs] == [("keys", (("hold una-corda 1",),))]


# Chores.


def no_wedge() -> Piano:
    """A piano whose owner allows all but a wedge."""
    return toy_piano(permissions=Permissions(allowed=frozenset(PERMISSIONS) - {"wedge"}))


def ways(plan: PedalPlan, name: str) -> list[tuple[tuple[str, ...], ...]]:
    """The ways of each need of a figure."""
    return [need.ways for need in plan.needs if need.figure == name]


def stop(name: str, key: int, end_s: float) -> Figure:
    """A chord on the keys for a second, cut off at its end."""
    return figure(name, Technique.KEYS, (key,), end_s - 1.0, end_s, dry=True)


def test_a_span_is_held_by_foot_or_wedged_and_freed() -> None:
    """Where it does not matter for a while how the pedal is, it can be wedged; from the start on before the piece."""
    figures = (pluck("A", 40, 0.0, 4.0), pluck("B", 44, 14.0, 17.0), pluck("C", 52, 26.0, 29.0))
    plan = planned(*figures, stop("first", 60, 10.0), stop("second", 60, 22.0))
    assert plan.spans == (damper(0.0, 4.0), damper(14.0, 17.0), damper(26.0, 29.0))
    assert ways(plan, "A") == [(("hold damper 1",), ("free damper 1",))]
    assert ways(plan, "B") == [(("hold damper 2",), ("wedge damper 2", "free damper 2"))]
    assert ways(plan, "C") == [(("hold damper 3",), ("wedge damper 3",))]
    named = {chore.id: chore for chore in plan.chores}
    wedge, free, hold = named["wedge damper 2"], named["free damper 2"], named["hold damper 2"]
    assert (wedge.earliest_s, wedge.latest_s) == (10.3, 14.0)
    assert (free.earliest_s, free.latest_s) == (17.0, 22.0)
    assert (hold.earliest_s, hold.latest_s, hold.hands, hold.feet) == (14.0, 17.0, 0, 1)


@pytest.mark.parametrize(("wedge_s", "in_time"), [(1.0, True), (4.0, False)])
def test_a_measured_time_of_wedging_counts_inside_the_piece(wedge_s: float, in_time: bool) -> None:
    """3.7 s are left to set the wedge of the second span: enough for one second, not for four."""
    kit = replace(toy_kit(), times=Times(chore_s={"wedge pedal": wedge_s}))
    figures = (pluck("A", 40, 0.0, 4.0), pluck("B", 44, 14.0, 17.0), pluck("C", 52, 26.0, 29.0))
    plan = planned(*figures, stop("first", 60, 10.0), stop("second", 60, 22.0), kit=kit)
    lengths = [chore.length_s for chore in plan.chores if chore.id == "wedge damper 2"]
    assert lengths == ([wedge_s] if in_time else [])


def test_a_pedal_that_must_come_up_at_once_is_held_by_foot() -> None:
    """Its own figure is cut off as it ends: a wedge is not drawn out in no time."""
    plan = planned(pluck("A", 40, 0.0, 4.0, dry=True), pluck("B", 44, 10.0, 14.0))
    assert ways(plan, "A") == [(("hold damper 1",),)]


def test_a_short_silence_leaves_no_time_for_a_wedge() -> None:
    """One second between two spans: a foot it is."""
    plan = planned(pluck("A", 40, 0.0, 4.0, dry=True), pluck("B", 44, 5.0, 9.0, dry=True))
    assert ways(plan, "B") == [(("hold damper 2",),)]


def test_without_leave_to_wedge_a_foot_holds_the_pedal() -> None:
    """One chore of one foot for the whole span, and every figure needs it."""
    plan = planned(pluck("A", 40, 1.0, 3.0), piano=no_wedge())
    assert [(chore.kind.value, chore.feet, chore.hands) for chore in plan.chores] == [("hold pedal", 1, 0)]
    assert ways(plan, "A") == [(("hold damper 1",),)]


@pytest.mark.parametrize(("count", "wedged"), [(1, True), (0, False)])
def test_a_kit_that_lists_wedges_must_have_one(count: int, wedged: bool) -> None:
    """No wedge, no wedging; a kit that says nothing of wedges is no hindrance (see above)."""
    kit = toy_kit((*TOY_STOCK, Stock(kind="wedge", serves=frozenset(), count=count)))
    plan = planned(pluck("A", 40, 1.0, 3.0), kit=kit)
    assert bool(plan.holders[0].wedge) is wedged


@pytest.mark.parametrize(("count", "wedged"), [(2, [True, True]), (1, [True, False])])
def test_no_more_wedges_than_the_kit_has(count: int, wedged: list[bool]) -> None:
    """Two pedals down at once, both free to lie from the start: with one wedge the later one is held by foot."""
    kit = toy_kit((*TOY_STOCK, Stock(kind="wedge", serves=frozenset(), count=count)))
    both = (damper(0.0, 9.0), PedalSpan(pedal=Pedal.SOSTENUTO, down_s=4.0, up_s=20.0))
    plan = plan_pedals([pluck("A", 40, 1.0, 20.0)], toy_piano(), both, kit, end_s=30.0)
    assert [bool(holders.wedge) for holders in plan.holders] == wedged


def test_a_wedge_holds_from_when_it_is_set_until_it_is_taken_away() -> None:
    """The casting tells when the pedal is down, not only when it must be."""
    figures = (pluck("A", 40, 0.0, 4.0), pluck("B", 44, 14.0, 17.0), pluck("C", 52, 26.0, 29.0))
    plan = planned(*figures, stop("first", 60, 10.0), stop("second", 60, 22.0))
    done = [
        CastChore(
            id=f"{deed} damper 2",
            kind=f"{deed} pedal",
            start_s=start_s,
            end_s=start_s + 2.0,
            player="ada",
            place="p01",
            hands=("right",),
            target="damper",
        )
        for deed, start_s in (("wedge", 11.0), ("free", 19.0))
    ]
    held = {(action.down_s, action.up_s, action.by) for action in plan.actions_by(done)}
    assert (13.0, 19.0, WEDGE) in held


def test_a_key_that_is_played_cannot_be_held_in_silence() -> None:
    """What stands against the ringing course is that its own key is played, not that hands are too few."""
    played = figure("K", Technique.KEYS, (40,), 0.0, 4.0)
    plan = planned(played, pluck("C", 40, 1.0, 9.0), pluck("D", 60, 2.0, 3.0, dry=True))
    (reason,) = (reason for _, reason in plan.conflicts.values())
    assert "its key is played then" in reason


def test_one_hand_holds_keys_that_lie_together() -> None:
    """Three keys within a hand's span are one chore; every figure needs the hand that holds its own key."""
    close = tuple(pluck(f"chord {key}", key, 0.0, 20.0) for key in (30, 34, 37))
    cuts = tuple(pluck(f"cut {n}", 60, 4.0 * n, 4.0 * n + 2.0, dry=True) for n in (1, 2, 3))
    plan = planned(*close, *cuts)
    (hand,) = [chore for chore in plan.chores if chore.kind is ChoreKind.HOLD_KEY]
    assert (plan.grips[hand.id], hand.hands) == ((30, 34, 37), 1)
    assert hand.target == "D3, F♯3, A3"
    assert all(((hand.id,),) in ways(plan, one.id) for one in close)
