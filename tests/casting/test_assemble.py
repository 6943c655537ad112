"""From indices back to names."""

from __future__ import annotations

from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.problem import Choice
from rimside.score.model import Figure, Technique
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import figure, held, toy_kit, toy_players

BOW, HAMMER, PLUCK = Technique.LINE_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK


def bow(name: str, start_s: float) -> Figure:
    """A bowed figure on key 40."""
    return figure(name, BOW, (40,), start_s, start_s + 1.0)


def test_bows_of_one_pitch_are_lettered() -> None:
    """Two bows of one pitch at two points of its course are told apart, each resting where it plays."""
    problem = question(world(bow("A", 0.0), bow("B", 9.0)))
    chosen = {n: Choice(player=0, place=problem.tasks[n].places[0], lane=n) for n in range(2)}
    whole = assemble(problem, chosen, (), (), 0.0)
    assert [tool.id for tool in whole.implements] == ["line C4", "line C4 b"]
    for row, tool in zip(whole.cast, whole.implements, strict=True):
        assert row.implements == (tool.id,)
        assert (row.contacts[0].x_mm, row.contacts[0].y_mm) == (tool.rest_x_mm, tool.rest_y_mm)


def test_a_kept_hammer_stays_in_its_hand() -> None:
    """One hammer through three figures is always in the same hand."""
    figures = [figure(f"F{n}", HAMMER, (key,), 4.0 * n, 4.0 * n + 1) for n, key in enumerate((5, 12, 5))]
    problem = question(world(*figures, players=toy_players(1)))
    place = next(q for q in problem.tasks[0].places if q in problem.tasks[1].places)
    chosen = {n: Choice(player=0, place=place, lane=0, implements=(0,)) for n in range(3)}
    assert len({row.hands for row in assemble(problem, chosen, (), (), 0.0).cast}) == 1


def test_two_figures_at_once_are_in_two_hands() -> None:
    """Overlapping figures of one player never share a hand."""
    figures = [figure(name, PLUCK, (key,), 0.0, 2.0) for name, key in (("A", 40), ("B", 44))]
    rows = solved(world(*figures, players=toy_players(1)), depth=1).cast
    assert sorted(hand for row in rows for hand in row.hands) == ["left", "right"]


def test_the_nearer_hand_plays() -> None:
    """From the bass side, facing right, what lies towards the tail is on the left."""
    problem = question(world(figure("A", PLUCK, (5,), 0.0, 2.0)))
    task = problem.tasks[0]
    place = next(q for q, p in enumerate(problem.piano.places) if p.id == "p17" and q in task.places)
    ys = [lane.contacts[0].y_mm for lane in task.lanes]
    at_y_mm = problem.piano.places[place].at.y_mm
    for lane, y_mm in enumerate(ys):
        heading_up = y_mm > at_y_mm + 120.0
        heading_down = y_mm < at_y_mm - 120.0
        (row,) = assemble(problem, {0: Choice(player=0, place=place, lane=lane)}, (), (), 0.0).cast
        if heading_up or heading_down:
            assert row.hands == (("left",) if heading_up else ("right",))


def test_only_used_implements_are_listed_and_times_are_written_out() -> None:
    """A casting with one hammer lists that one, and pick and put of its kind."""
    kit = toy_kit()
    whole = solved(world(figure("A", HAMMER, (40,), 0.0, 2.0), kit=kit), depth=1)
    assert [tool.kind for tool in whole.implements] == ["hammer"]
    assert whole.times.pick_s == {"hammer": 1.0}
    assert whole.times.put_s == {"hammer": 0.5}


def test_uncast_figures_are_explained_unless_time_is_short() -> None:
    """With `explain` an uncast figure names its rival; without, it says that it was not decided."""
    problem = question(world(figure("A", PLUCK, (40,), 0.0, 2.0), figure("B", PLUCK, (40,), 1.0, 3.0)))
    chosen = {0: Choice(player=0, place=problem.tasks[0].places[0], lane=0)}
    told, short = (assemble(problem, chosen, (), (), 0.0, explain=explain).uncast[0] for explain in (True, False))
    assert (told.rule, told.competing) == ("H7", ("A",))
    assert (short.rule, short.competing) == ("H1", ())


def test_pedals_are_listed_with_who_holds_them() -> None:
    """Each span of the question is a row, held by whom it was said."""
    (action,) = pedal_actions(held(1.0, 9.0), "wedge")
    assert (action.pedal, action.down_s, action.up_s, action.by) == ("damper", 1.0, 9.0, "wedge")
