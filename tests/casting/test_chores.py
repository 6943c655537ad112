"""Chores that music asks for: mutes laid and lifted, cues given, and what happens when there is no time."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside import flow
from rimside.casting.allowances import LAY_S, LIFT_S
from rimside.casting.chore import Chore, ChoreKind, Muting, Need
from rimside.casting.chore_tasks import AFTER_S, SLOTS_AT_MOST, starts_s
from rimside.casting.chores import MUTE_KIND, cue_chores, mute_chores
from rimside.casting.options import build_problem
from rimside.casting.verify import verify
from rimside.errors import BadInput
from rimside.kit import Stock
from rimside.pitch import Key
from rimside.score.model import Cue, Figure, Mute, Technique
from tests.casting.judging import world
from tests.casting.solving import solved
from tests.casting.worlds import figure, held, toy_kit, toy_piano, toy_places, toy_players

PLUCK = Technique.FINGER_PLUCK


def muted(name: str, start_s: float, end_s: float, key: int = 40) -> Figure:
    """A pluck on a muted course."""
    return figure(name, PLUCK, (key,), start_s, end_s, mute=Mute.MOULDED)


def open_(name: str, start_s: float, end_s: float, key: int = 40) -> Figure:
    """A pluck on the bare course."""
    return figure(name, PLUCK, (key,), start_s, end_s)


def test_a_course_muted_throughout_needs_nothing_inside_the_piece() -> None:
    """It is laid in before and lifted after."""
    found = mute_chores([muted("A", 0, 1), muted("B", 5, 6)], toy_kit())
    assert found.chores == ()
    assert found.mutings == (Muting(key=Key(40), muted=True, runs=(("A", "B"),), chores=()),)


def test_every_change_has_its_chore_in_the_silence_between() -> None:
    """Bare, muted, bare: one lay and one lift, each inside its gap, each needed by what follows."""
    found = mute_chores([open_("A", 0, 1), muted("B", 5, 6), muted("C", 7, 8), open_("D", 12, 13)], toy_kit())
    lay, lift = found.chores
    assert (lay.kind, lay.earliest_s, lay.latest_s, lay.length_s) == (ChoreKind.LAY, 1, 5, LAY_S)
    assert (lift.kind, lift.earliest_s, lift.latest_s, lift.length_s) == (ChoreKind.LIFT, 8, 12, LIFT_S)
    runs = (("A",), ("B", "C"), ("D",))
    assert found.mutings == (Muting(key=Key(40), muted=False, runs=runs, chores=(lay.id, lift.id)),)
    assert found.conflicts == {}


@pytest.mark.parametrize(("gap_s", "fits"), [(LAY_S, True), (LAY_S - 0.001, False), (-0.5, False)])
def test_a_gap_that_is_too_short_leaves_the_figure_out(gap_s: float, fits: bool) -> None:
    """The figure that comes too soon is told so, and the next one has its time."""
    found = mute_chores([open_("A", 0, 1), muted("B", 1 + gap_s, 6), muted("C", 9, 10)], toy_kit())
    assert ("B" in found.conflicts) is not fits
    assert "C" not in found.conflicts
    assert len(found.chores) == 1


def test_no_more_mutes_lie_than_the_kit_holds() -> None:
    """Two courses muted at once and one mute: one figure is left out. The first mute stays until its course is bare."""
    kit = replace(toy_kit(), stock=(*toy_kit().stock, Stock(kind=MUTE_KIND, serves=frozenset(), count=1)))
    together = mute_chores([muted("A", 0, 4), muted("B", 1, 3, key=45)], kit)
    assert list(together.conflicts) == ["B"]
    assert "the kit holds 1" in together.conflicts["B"][1]
    first, bare, second = muted("A", 0, 1), open_("C", 8, 9), muted("B", 16, 17, key=45)
    early = open_("D", 10, 11, key=45)
    assert list(mute_chores([first, second], kit).conflicts) == ["B"]
    assert list(mute_chores([first, bare, second], kit).conflicts) == ["B"]
    assert mute_chores([first, bare, early, second], kit).conflicts == {}


def test_a_mute_is_laid_and_lifted_by_somebody_within_reach() -> None:
    """The whole way: both chores are cast inside their windows, the judge agrees, load-in and load-out stay empty."""
    whole = solved(world(open_("A", 0, 1), muted("B", 8, 9), open_("C", 16, 17)))
    assert not whole.uncast
    assert [(c.kind, c.player is not None) for c in whole.chores] == [("lay mute", True), ("lift mute", True)]
    lay, lift = whole.chores
    assert lay.start_s >= 1 and lay.end_s <= 8 and lift.start_s >= 9 and lift.end_s <= 16
    assert lay.needed_by == ("B",) and lift.needed_by == ("C",)


def test_a_chore_that_nobody_has_time_for_costs_its_figure() -> None:
    """Who bows with both hands through most of the only window cannot lay the mute too: one of two is left out."""
    busy = figure("H", Technique.LINE_BOW, (60,), 3.5, 8.0)
    alone = toy_players(1)
    whole = solved(world(open_("A", 0, 1), busy, muted("B", 9.5, 10.5), players=alone))
    assert len(whole.uncast) == 1
    assert whole.proof[0].proved
    assert len(solved(world(open_("A", 0, 1), muted("B", 9.5, 10.5), players=alone)).uncast) == 0


def test_a_chore_out_of_reach_bars_its_figure_in_words() -> None:
    """A pedal that no place reaches: the figure that needs it says why; with another way it is played."""
    hold = Chore(
        id="hold", kind=ChoreKind.HOLD_PEDAL, target="damper", earliest_s=0, latest_s=4, length_s=4, hands=0, feet=1
    )
    cue = Chore(id="nod", kind=ChoreKind.CUE, target="nod", earliest_s=0, latest_s=1, length_s=1, hands=0)
    away = tuple(place for place in toy_piano().places if not place.at_keyboard)
    piano, asked = toy_piano(places=away), (open_("A", 1, 3),)
    for ways, barred in (((("hold",),), True), ((("hold",), ("nod",)), False)):
        needs = (Need(figure="A", ways=ways, rule="H8"),)
        problem = build_problem(asked, piano, toy_players(2), toy_kit(), held(), chores=(hold, cue), needs=needs)
        task = next(task for task in problem.tasks if task.work.id == "A")
        assert (task.barred is not None) is barred
        if task.barred:
            assert task.barred[0] == "H8" and "nobody can hold pedal" in task.barred[1]


def test_one_foot_holds_one_pedal() -> None:
    """Two pedals at once ask for two people at the keyboard; one player alone can serve only one of two figures."""
    holds = [
        Chore(id=pedal, kind=ChoreKind.HOLD_PEDAL, target=pedal, earliest_s=0, latest_s=9, length_s=9, hands=0, feet=1)
        for pedal in ("damper", "sostenuto")
    ]
    needs = tuple(Need(figure=name, ways=((chore.id,),), rule="H8") for name, chore in zip("AB", holds, strict=True))
    asked = (
        figure("A", Technique.KEYS, (40,), 1.0, 2.0),
        figure("B", Technique.KEYS, (45,), 5.0, 6.0),
    )
    places, rim_length_mm = toy_places(300.0)
    near = toy_piano(places=places, rim_length_mm=rim_length_mm)
    uncast = {}
    for count in (1, 2):
        problem = build_problem(asked, near, toy_players(count), toy_kit(), held(), chores=tuple(holds), needs=needs)
        uncast[count] = len(flow.cast(problem, flow.UNASSIGNED, seconds=2.0).uncast)
    assert uncast == {1: 1, 2: 0}


def test_cues_are_given_at_their_moment() -> None:
    """Each cue is a chore of somebody; the judge finds nothing wrong."""
    chores = cue_chores([Cue(onset_s=2.0, bar="1", part="piano", text="all breathe")], toy_kit())
    where = world(open_("A", 0, 1), open_("B", 4, 5))
    problem = build_problem(where.figures, where.piano, where.players, where.kit, held(), chores=chores)
    whole = flow.cast(problem, flow.UNASSIGNED, seconds=2.0)
    (cue,) = whole.chores
    assert (cue.start_s, cue.target, cue.hands) == (2.0, "all breathe", ())
    assert verify(whole, where.piano, where.players, where.kit) == ()


def test_a_cue_that_nobody_can_give_is_told() -> None:
    """Alone, and a tenth of a second after a pluck: the cue counts as one uncast thing, with its reason."""
    where = world(replace(open_("A", 0, 1), essential=True), players=toy_players(1))
    chores = cue_chores([Cue(onset_s=1.1, bar="1", part="piano", text="go")], where.kit)
    problem = build_problem(where.figures, where.piano, where.players, where.kit, held(), chores=chores)
    whole = flow.cast(problem, flow.UNASSIGNED, seconds=2.0)
    (cue,) = whole.chores
    assert cue.player is None and cue.reason == "nobody stands still at its moment"
    assert (whole.proof[0].value, whole.proof[0].bound) == (1, 1)
    assert verify(whole, where.piano, where.players, where.kit) == ()


def test_measured_times_of_chores_replace_the_defaults() -> None:
    """A lay of 5 s: four seconds are too short for it, and the chore lasts as long as was measured."""
    slow = replace(toy_kit(), times=replace(toy_kit().times, chore_s={"lay mute": 5.0}))
    figures = [open_("A", 0, 1), muted("B", 5, 6), muted("C", 12, 13)]
    assert mute_chores(figures, toy_kit()).conflicts == {}
    found = mute_chores(figures, slow)
    assert list(found.conflicts) == ["B"] and found.chores[0].length_s == 5.0


def test_a_chore_has_few_moments_spread_over_its_window() -> None:
    """First, last, and a moment after ends of figures between; never more than the limit."""
    chore = Chore(id="c", kind=ChoreKind.LAY, target="C4", earliest_s=0, latest_s=20, length_s=2)
    many = [open_(f"F{n}", n, n + 0.5) for n in range(20)]
    starts = starts_s(chore, many)
    assert starts[0] == 0 and starts[-1] == 18 and len(starts) == SLOTS_AT_MOST
    assert set(starts[1:-1]) <= {f.end_s + AFTER_S for f in many}
    assert starts_s(replace(chore, latest_s=2), many) == [0]


def test_a_chore_must_fit_its_window() -> None:
    """Nonsense is refused at birth."""
    with pytest.raises(BadInput, match="does not fit its window"):
        Chore(id="c", kind=ChoreKind.LAY, target="C4", earliest_s=0, latest_s=1, length_s=2)
