"""Everybody's part: nothing is lost on the long card, and what is counted is what the casting counts."""

from __future__ import annotations

from pathlib import Path

import pytest

from rimside.casting.problem import RESERVE_S
from rimside.casting.verify import levels
from rimside.errors import BadInput
from rimside.files import job, project
from rimside.paper.material import BookInput
from rimside.web import parts
from tests.paper import fixture


@pytest.fixture(scope="module")
def book() -> BookInput:
    """The invented production of the papers' tests."""
    return fixture.book()


def test_every_figure_stands_once_on_its_players_card(book: BookInput) -> None:
    """Each cast figure is a step of the player who plays it, in order of time, and of nobody else."""
    strips = [parts.strip(book, player.id) for player in book.players]
    told = {step.id: one.who.id for one in strips for step in one.steps}
    assert told == {row.figure: row.player for row in book.casting.cast}
    assert sum(len(one.steps) for one in strips) == len(book.casting.cast)
    assert all(list(one.steps) == sorted(one.steps, key=lambda step: (step.start_s, step.id)) for one in strips)


def test_chores_pedals_and_cues_stand_where_they_happen(book: BookInput) -> None:
    """Everything silent that a player does is on the card, between the figure before and the figure after it."""
    for player in book.players:
        strip = parts.strip(book, player.id)
        chores = [row for row in book.casting.chores if row.player == player.id and not row.kind.startswith("hold")]
        ends = [at for row in book.casting.pedals if row.by == player.id for at in (row.down_s, row.up_s)]
        told = [deed for step in strip.steps for deed in (*step.early, *step.deeds)] + list(strip.after)
        assert sorted(deed.at_s for deed in told if deed.kind == "chore") == sorted([r.start_s for r in chores] + ends)
        for before, step in zip(strip.steps, strip.steps[1:], strict=False):
            assert all(before.start_s <= deed.at_s <= step.start_s for deed in (*step.early, *step.deeds))


def test_the_heaviest_memory_is_the_one_that_the_judge_counts(book: BookInput) -> None:
    """The longest line has as many tags as the judge's level of memory says."""
    heaviest = max(len(load.things) for load in parts.loads(book))
    assert heaviest == levels(book.casting, book.kit)[4]


def test_busy_time_is_the_judges_load(book: BookInput) -> None:
    """The busiest less the least busy is the judge's level of load."""
    busy_s = [load.busy_s for load in parts.loads(book)]
    assert round(1000.0 * (max(busy_s) - min(busy_s))) == pytest.approx(
        levels(book.casting, book.kit)[5], abs=len(busy_s)
    )


def test_tight_changes_are_marked_and_come_first(book: BookInput) -> None:
    """The list at the head begins with the least slack, and a mark stands exactly where the reserve is not left."""
    marked = 0
    for player in book.players:
        strip = parts.strip(book, player.id)
        slacks = [step.change.slack_s for step in strip.steps if step.change and step.change.slack_s is not None]
        assert [step.change and step.change.slack_s for step in strip.tightest] == sorted(slacks)[: parts.TIGHTEST]
        for step in strip.steps:
            if step.change and step.change.slack_s is not None:
                assert bool(step.change.tight) == (step.change.slack_s < RESERVE_S - 1e-6)
                marked += bool(step.change.tight)
    assert marked


def test_an_arrow_points_to_the_side_of_the_walk() -> None:
    """A walk to the left ends left of the middle, one to the right as far on the other side; longer is longer."""

    def tip(walk_m: float, to_left: bool) -> float:
        made = parts.Change(
            gap_s=5.0, need_s=4.0, slack_s=1.0, walk_m=walk_m, to_left=to_left, come_from="S1", kept=True,
            put_down="", take="",
        )  # fmt: skip
        return float(made.arrow.split("L")[1].split()[0])

    assert tip(1.0, True) + tip(1.0, False) == pytest.approx(100.0)
    assert tip(3.0, True) < tip(1.0, True) < 50.0


def test_a_stranger_has_no_part(book: BookInput) -> None:
    """An id that nobody has is refused with those that there are."""
    with pytest.raises(BadInput, match="ada"):
        parts.strip(book, "nobody")


def test_a_part_of_a_real_casting_begins_with_the_load_in(production: Path) -> None:
    """What is done before the first downbeat stands before the first section."""
    read = project.load(production)
    casting = project.read_casting(read, project.casting_names(production)[0])
    shown = job.material(read, project.casting_names(production)[0], casting, read.reading())
    strips = [parts.strip(shown, player.id) for player in shown.players]
    early = [deed for one in strips for step in one.steps[:1] for deed in step.early]
    assert len(early) == sum(row.start_s < 0.0 and row.player is not None for row in casting.chores)
