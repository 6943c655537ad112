"""A partial that the score leaves open is touched at the best node of each piano; a written node is kept to."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.refit import compare
from rimside.casting.touches import free_nodes, with_best_nodes
from rimside.casting.verify import verify
from rimside.flow import plan
from rimside.paper.aside import node_words
from rimside.piano.model import Piano, Point, Strut
from rimside.score.model import Figure, Score, Technique, Touch
from rimside.score.reading import Reading
from tests.casting.worlds import World, casting, figure, toy_kit, toy_piano, toy_players
from tests.piano.example import piano as shipped

PIANO, KIT = toy_piano(), toy_kit()
KEY = 40
LOOSE = Touch(k=1, n=3, loose=True)
PLUCKED = figure("f1", Technique.FINGER_PLUCK, [KEY], 1.0, 4.0, touch=LOOSE)


def covered_at(share: float, key: int = KEY, piano: Piano = PIANO) -> Piano:
    """The piano with a strut across one course at a share of its length."""
    course = next(course for course in piano.courses if course.key == key)
    at = course.at(share * course.length_mm)
    bar = Strut(
        name="cross bar",
        start=Point(x_mm=at.x_mm - 5.0, y_mm=at.y_mm),
        end=Point(x_mm=at.x_mm + 5.0, y_mm=at.y_mm),
        width_mm=40.0,
        over_strings=True,
    )
    return replace(piano, struts=(*piano.struts, bar))


def settled(one: Figure, piano: Piano) -> Touch | None:
    (found,) = with_best_nodes([one], piano, KIT)
    assert replace(found, touch=one.touch) == one
    return found.touch


@pytest.mark.parametrize(("share", "k"), [(1 / 3, 2), (2 / 3, 1)])
def test_the_free_node_is_taken(share: float, k: int) -> None:
    """With a strut over one third, partial 3 is touched at the other; that it was left open is kept."""
    assert settled(PLUCKED, covered_at(share)) == Touch(k=k, n=3, loose=True)


@pytest.mark.parametrize("touch", [None, Touch(k=1, n=3), Touch(k=2, n=3)])
def test_what_is_written_stays(touch: Touch | None) -> None:
    """No touch, and a node that is written, are left as they are, covered or not."""
    one = replace(PLUCKED, touch=touch)
    for piano in (PIANO, covered_at(1 / 3), covered_at(2 / 3)):
        assert with_best_nodes([one], piano, KIT) == (one,)


def test_all_courses_of_a_figure_are_touched_alike() -> None:
    """A chord takes the node that is best for its worst course."""
    pair = replace(PLUCKED, keys=(PLUCKED.keys[0], figure("f", Technique.FINGER_PLUCK, [KEY + 1], 1.0, 4.0).keys[0]))
    assert settled(pair, covered_at(2 / 3, KEY + 1)) == Touch(k=1, n=3, loose=True)
    assert settled(pair, covered_at(1 / 3, KEY)) == Touch(k=2, n=3, loose=True)


def test_a_key_that_is_not_there_is_left_for_the_rules() -> None:
    """A figure on a course that the piano lacks is not touched up."""
    small = replace(PIANO, courses=tuple(course for course in PIANO.courses if course.key != KEY))
    assert with_best_nodes([PLUCKED], small, KIT) == (PLUCKED,)


def test_the_other_free_nodes_are_named() -> None:
    """With one third covered the other is free; with both, none is."""
    row, written = KIT.rows[Technique.FINGER_PLUCK], replace(PLUCKED, touch=Touch(k=1, n=3))
    assert free_nodes(written, covered_at(1 / 3), row) == (Touch(k=2, n=3),)
    assert free_nodes(written, covered_at(2 / 3, piano=covered_at(1 / 3)), row) == ()
    assert free_nodes(replace(PLUCKED, touch=None), PIANO, row) == ()


def answered(touch: Touch, piano: Piano) -> tuple[list[str], list[Touch | None], list[str]]:
    one = replace(PLUCKED, touch=touch)
    score = Score(title="", parts=(one.part,), notes=(), bars=(), end_s=5.0)
    players = toy_players(2)
    found = plan(Reading(score=score, figures=(one,)), piano, players, KIT, seconds=2.0)
    assert not verify(found, piano, players, KIT)
    return (
        [row.reason for row in found.uncast],
        [row.touch for row in found.figures],
        [node_words(one) for one in found.figures],
    )


def test_a_covered_node_is_uncast_and_says_what_is_free() -> None:
    """Written 1/3 under a strut: no casting, and the reason names 2/3 and how to write it; left open, it is played."""
    piano = covered_at(1 / 3)
    ((reason,), kept, (words,)) = answered(Touch(k=1, n=3), piano)
    assert kept == [Touch(k=1, n=3)]
    assert "node 1/3 of" in reason and "free here: 2/3 (write partial 3 for any node of it)" in reason
    assert words == ""
    uncast, taken, (words,) = answered(LOOSE, piano)
    assert (uncast, taken) == ([], [Touch(k=2, n=3, loose=True)])
    assert words == "written: partial 3; node 2/3 is the best one here"


def test_a_refit_knows_the_music_again() -> None:
    """A partial left open is the same music at another node; a written node is not the same as an open partial."""
    moved = replace(PLUCKED, touch=Touch(k=2, n=3, loose=True))
    earlier = casting(World(piano=PIANO, players=toy_players(1), kit=KIT, figures=(moved,)), ())
    assert compare(earlier, [PLUCKED]).same == ("f1",)
    assert compare(earlier, [replace(PLUCKED, touch=Touch(k=2, n=3))]).other == ("f1",)


def test_it_comes_out_right_on_a_shipped_piano() -> None:
    """C3 of the concert grand: its second third lies under the bass strings, so the first is taken."""
    one = figure("f1", Technique.FINGER_PLUCK, [28], 1.0, 4.0, touch=Touch(k=1, n=3, loose=True))
    (found,) = with_best_nodes([one], shipped(), KIT)
    assert found.touch == Touch(k=1, n=3, loose=True)
