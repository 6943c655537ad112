"""What mends an uncast figure: one small world for each kind, with the mend that anybody would think of."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from rimside import flow
from rimside.casting import mends as mending
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.mends import all_uncast, mends
from rimside.casting.problem import Assignment, Problem
from rimside.casting.question import Question, _called, shortened
from rimside.casting.result import MEND_KINDS, Casting, Mend, Uncast
from rimside.casting.result_json import from_json, to_json
from rimside.casting.retry import retry
from rimside.casting.search import Search
from rimside.casting.verify import verify
from rimside.errors import BadInput, Interrupted
from rimside.kit import PERMISSIONS, Stock
from rimside.piano.model import Permissions
from rimside.score.model import Figure, Technique
from tests.casting.judging import world
from tests.casting.worlds import TOY_STOCK, World, figure, strokes, toy_kit, toy_piano, toy_player, toy_players

PLUCK, BOW, STICK, HAMMER, MAGNET = (
    Technique.FINGER_PLUCK,
    Technique.LINE_BOW,
    Technique.STICK_BOW,
    Technique.FELT_HAMMER,
    Technique.MAGNET_DRIVE,
)
ALONE = toy_players(1)
WITHOUT_HAMMERS = toy_kit(tuple(item for item in TOY_STOCK if item.kind != "hammer"))


def asked(where: World) -> Question:
    """The question that a world puts."""
    return Question(figures=where.figures, piano=where.piano, players=where.players, kit=where.kit, pedals=where.pedals)


def cast(where: World) -> tuple[Question, Problem, Assignment]:
    """The question, its problem, and a casting for coverage alone."""
    question = asked(where)
    problem = question.problem()
    search = Search(problem=problem, seconds=2.0, depth=1)
    search.run()
    return question, problem, search.best


def told(where: World) -> Uncast:
    """The one uncast figure with its mends."""
    question, problem, best = cast(where)
    (entry,) = all_uncast(problem, best, question)
    return entry


def of_kind(entry: Uncast, kind: str) -> Mend | None:
    """The mend of one kind, if there is one."""
    return next((mend for mend in entry.mends if mend.kind == kind), None)


def tight(gap_s: float = 1.4) -> World:
    """One player plucks a string and then strikes it: the change is counted as 0.2 + 1.0 s, and more to walk."""
    return world(figure("A", PLUCK, (40,), 0.0, 4.0), figure("B", HAMMER, (40,), 4.0 + gap_s, 8.0), players=ALONE)


def test_a_change_that_is_a_little_too_long_can_be_practised() -> None:
    """Settling 0.2 s and picking up 1.0 s are counted; with 0.9 s the change wants 0.3 s less."""
    entry = told(tight(0.9))
    mend = of_kind(entry, "practise")
    assert mend is not None
    assert mend.text == "Practise the change from A to B down to 0.9 s (it is counted as 1.2 s)"
    assert mend.of_music == 0.0
    assert entry.mends[0] == mend, "it leaves the music as it is"


def test_practice_is_not_trusted_to_take_off_more_than_half() -> None:
    """From 1.2 s to 0.5 s is asking too much, to 0.6 s not."""
    assert of_kind(told(tight(0.6)), "practise") is not None
    assert of_kind(told(tight(0.5)), "practise") is None


def test_the_least_shortening_is_told() -> None:
    """With 0.9 s where 1.2 s are needed, 0.3 s must go."""
    mend = of_kind(told(tight(0.9)), "shorten")
    assert mend is not None
    assert mend.of_music == 0.3
    assert mend.text in {f"Shorten {name} by 0.3 s ({how})" for name, how in (("A", HOW[0]), ("B", HOW[1]))}


HOW = ("end it earlier", "start it later")


def test_the_owner_can_be_asked() -> None:
    """A technique and a spot that are not allowed: the mend names what to ask for."""
    strict = toy_piano(permissions=Permissions(allowed=frozenset(PERMISSIONS) - {"hammers"}))
    entry = told(world(figure("A", HAMMER, (40,), 0.0, 2.0), piano=strict))
    assert entry.mends[0].text == f"Ask the owner to allow {PERMISSIONS['hammers']}"
    barred = toy_piano(
        permissions=Permissions(allowed=frozenset(PERMISSIONS), forbidden_spots=frozenset({"frame, bass"}))
    )
    entry = told(world(figure("A", Technique.BEATER, "frame, bass", 0.0, 2.0), piano=barred))
    assert entry.mends == (Mend(kind="permission", text=entry.mends[0].text, change=("allow", "spot frame, bass")),)
    assert entry.mends[0].text == "Ask the owner to allow the spot frame, bass"


ONE_STRIP = toy_kit(tuple(replace(item, count=1) if item.kind == "strip" else item for item in TOY_STOCK))
ONE_SIDED = toy_kit(tuple(replace(item, sides=1) if item.kind == "stick" else item for item in TOY_STOCK))
LOW_LINES = toy_kit(
    tuple(replace(item, pitches=frozenset({30})) if item.kind == "line" else item for item in TOY_STOCK)  # type: ignore[arg-type]
)
STRIP = Technique.FRICTION_STRIP
MORE = {
    "one more": (
        world(figure("A", STRIP, (10,), 0.0, 4.0), figure("B", STRIP, (16,), 0.0, 4.0), kit=ONE_STRIP),
        "One more strip (the kit holds 1)",
    ),
    "none so far": (world(figure("A", HAMMER, (40,), 0.0, 2.0), kit=WITHOUT_HAMMERS), "A felt hammer"),
    "another pitch": (world(figure("A", BOW, (45,), 0.0, 2.0), kit=LOW_LINES), "A line for F4"),
    "two sides": (world(figure("A", STICK, (40, 41), 0.0, 2.0), kit=ONE_SIDED), "A stick with two sides"),
}


@pytest.mark.parametrize("case", MORE)
def test_the_kit_can_grow(case: str) -> None:
    """What the kit lacks is named."""
    where, text = MORE[case]
    mend = of_kind(told(where), "implement")
    assert mend is not None
    assert mend.text == text


def test_a_second_bow_of_a_pitch_is_called_so() -> None:
    """One more for a pitch that has one is a second, where it had none a first."""
    line = Stock(kind="line", serves=frozenset({BOW}), count=1, per_pitch=True)
    assert _called(line, 1, " for F4") == "A second line for F4"
    assert _called(replace(line, count=0), 1, " for F4") == "A line for F4"
    assert _called(replace(line, count=2), 1, " for F4") == "One more line for F4"


def test_somebody_can_learn_or_join() -> None:
    """A skill that nobody has is learned by the first; too few hands ask for one more player."""
    plucker = (toy_player(0, skills=frozenset({PLUCK})),)
    learned = of_kind(told(world(figure("A", BOW, (40,), 0.0, 2.0), players=plucker)), "player")
    assert learned is not None
    assert learned.text == "Ada learns line bow"
    busy = world(figure("A", BOW, (30,), 0.0, 2.0), figure("B", BOW, (60,), 0.0, 2.0), players=ALONE)
    joined = of_kind(told(busy), "player")
    assert joined is not None
    assert joined.text == "One more player, of average build"


def test_a_technique_that_fits_is_found_and_counted_as_music() -> None:
    """A line bow slips on a wound string; a friction strip, of the same family, does not."""
    mend = of_kind(told(world(figure("A", BOW, (10,), 0.0, 2.5))), "technique")
    text = "Play A with friction strip in place of line bow"
    assert mend == Mend(kind="technique", text=text, of_music=2.5, change=("play", "A", "friction strip"))


def test_mends_come_in_the_order_in_which_they_touch_the_music() -> None:
    """What leaves the music as it is comes first; there are no more than five."""
    kinds = [mend.kind for mend in told(tight(0.9)).mends]
    assert kinds == sorted(kinds, key=MEND_KINDS.index)
    assert {"practise", "player", "technique", "shorten"} <= set(kinds)
    assert len(kinds) <= mending.AT_MOST


def test_the_same_question_brings_the_same_mends() -> None:
    """Two runs, one answer."""
    assert told(tight(0.9)) == told(tight(0.9))


def test_without_work_there_is_no_mend_and_it_says_so() -> None:
    """An empty purse finds nothing; a reason without a mend tells that none was found."""
    question, problem, best = cast(tight(0.9))
    (task,) = (task for task in problem.tasks if task.index not in best)
    assert mends(question, problem, best, task, effort=0.0) == ()
    two = world(figure("A", PLUCK, (40,), 0.0, 4.0), figure("B", PLUCK, (40,), 0.0, 4.0))
    entry = told(two)
    assert entry.mends == ()
    assert entry.reason.endswith(mending.NO_MEND)


def test_a_figure_that_a_longer_search_would_cast_says_so() -> None:
    """Nothing is in its way: it only was not tried."""
    question = asked(world(figure("A", PLUCK, (40,), 0.0, 4.0)))
    (entry,) = all_uncast(question.problem(), {}, question)
    assert entry.mends == ()
    assert mending.ONLY_LONGER in entry.reason


def test_only_so_many_figures_are_mended(monkeypatch: pytest.MonkeyPatch) -> None:
    """The weightiest are; the others say that they were not."""
    monkeypatch.setattr(mending, "MENDED_AT_MOST", 1)
    same = [figure(name, PLUCK, (40,), 0.0, 4.0, essential=name != "B") for name in "ABC"]
    question, problem, best = cast(world(*same))
    entries = {entry.figure: entry for entry in all_uncast(problem, best, question)}
    assert entries["B"].reason.endswith(mending.NOT_SOUGHT)
    assert sum(entry.reason.endswith(mending.NOT_SOUGHT) for entry in entries.values()) == 1


def test_a_plan_comes_with_its_mends() -> None:
    """The whole job hands the question on."""
    where = tight(0.9)
    question = asked(where)
    casting = flow.cast(question.problem(), flow.UNASSIGNED, seconds=2.0, depth=1, question=question)
    (entry,) = casting.uncast
    assert of_kind(entry, "practise") is not None


def test_ctrl_c_while_mends_are_sought_keeps_the_casting(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search is done by then: the casting comes back, its uncast figures without reasons."""

    def interrupted(*_: object) -> tuple[Uncast, ...]:
        raise KeyboardInterrupt

    monkeypatch.setattr("rimside.casting.assemble.all_uncast", interrupted)
    question = asked(tight(0.9))
    with pytest.raises(Interrupted) as stopped:
        flow.cast(question.problem(), flow.UNASSIGNED, seconds=2.0, depth=1, question=question)
    best = stopped.value.best
    assert isinstance(best, Casting)
    assert (len(best.cast), len(best.uncast)) == (1, 1)


def long_note(count: int) -> Figure:
    """Four seconds with so many attacks."""
    return replace(figure("A", PLUCK, (40,), 0.0, 4.0), strokes=strokes((40,), 0.0, 4.0, count))


def test_a_shorter_note_keeps_its_strokes() -> None:
    """It ends after its last attack, or starts before its second; what would lose a stroke is refused."""
    ends = shortened(long_note(2), 1.5, at_end=True)
    assert ends is not None
    assert (ends.end_s, ends.onsets_s, ends.strokes[-1].until_s) == (2.5, (0.0, 2.0), 2.5)
    starts = shortened(long_note(2), 1.5, at_end=False)
    assert starts is not None
    assert (starts.start_s, starts.onsets_s) == (1.5, (1.5, 2.0))
    assert shortened(long_note(2), 2.0, at_end=True) is None
    assert shortened(long_note(2), 2.0, at_end=False) is None


def test_the_least_number_is_found_by_halving() -> None:
    """The smallest that works, None when even the largest does not."""
    assert mending._least(20, lambda n: str(n) if n >= 7 else None) == (7, "7")
    assert mending._least(1, lambda n: n) == (1, 1)
    assert mending._least(20, lambda n: None) is None
    assert mending._least(0, lambda n: n) is None


MADE_AGAIN = {**{case: where for case, (where, _) in MORE.items()}, "a tight change": tight(0.9)}


@pytest.mark.parametrize("case", MADE_AGAIN)
def test_a_mend_can_be_made_again_from_its_words_for_the_machine(case: str) -> None:
    """What a casting says of a mend is enough to find the casting with it: the figure, and all that was cast."""
    question, problem, best = cast(MADE_AGAIN[case])
    casting = assemble(problem, best, (), pedal_actions(problem.pedals, "wedge"), 0.0, question=question)
    (entry,) = casting.uncast
    assert entry.mends
    for mend in entry.mends:
        found, castings = retry(question, casting, entry.figure, mend.change)
        for whole in castings:
            assert {row.figure for row in whole.cast} == {row.figure for row in casting.cast} | {entry.figure}
            assert not whole.uncast
        if mend.kind != "practise":
            asks = found.question
            assert verify(castings[-1], asks.piano, asks.players, asks.kit) == ()


def test_a_change_of_something_that_is_gone_is_refused() -> None:
    """A kind of implement or a figure that is no longer there cannot be changed, nor a figure mended that is cast."""
    question, problem, best = cast(tight(0.9))
    casting = assemble(problem, best, (), pedal_actions(problem.pedals, "wedge"), 0.0, question=question)
    name = casting.uncast[0].figure
    for change in (("own", "nothing", "2"), ("practise", "A", "Z", "0.2"), ("play", "Z", "keys"), ("fly",), ()):
        with pytest.raises(BadInput, match="cannot be made any more"):
            retry(question, casting, name, change)
    with pytest.raises(BadInput, match="not left out"):
        retry(question, casting, casting.cast[0].figure, ("player",))


def test_a_mend_keeps_its_change_in_the_file() -> None:
    """Written and read back it is the same; a file of an earlier day, without it, is read too."""
    question, problem, best = cast(tight(0.9))
    casting = assemble(problem, best, (), pedal_actions(problem.pedals, "wedge"), 0.0, question=question)
    table = to_json(casting)
    assert from_json(table, "casting").uncast == casting.uncast
    plain = json.loads(json.dumps(table))
    for row in plain["uncast"][0]["mends"]:
        del row["change"]
    assert [mend.change for mend in from_json(plain, "casting").uncast[0].mends] == [()] * len(casting.uncast[0].mends)
