"""What is done around the figures follows them: a changed note has other mutes and pedals."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting import surroundings
from rimside.casting.allowances import LAY_S
from rimside.casting.assemble import assemble
from rimside.casting.loadin import with_load
from rimside.casting.mends import mends
from rimside.casting.question import Question
from rimside.casting.search import Search
from rimside.casting.surroundings import Surroundings
from rimside.casting.verify import verify
from rimside.score.model import Figure, Mute, Technique
from tests.casting.worlds import figure, toy_kit, toy_piano, toy_players

PLUCK = Technique.FINGER_PLUCK
OPEN = figure("A", PLUCK, (40,), 0.0, 4.0)
MUTED = figure("B", PLUCK, (40,), 4.0 + LAY_S - 0.5, 9.0, mute=Mute.MOULDED)


def asked(*figures: Figure) -> Question:
    """Two players at the toy piano."""
    return Question(
        figures=figures, piano=toy_piano(), players=toy_players(2), kit=toy_kit(), surroundings=Surroundings(end_s=20.0)
    )


def test_a_shorter_note_makes_room_for_a_mute() -> None:
    """Half a second is lacking to lay the mute; the note before ends earlier, and the judge finds nothing wrong."""
    question = asked(OPEN, MUTED)
    problem = question.problem()
    search = Search(problem=problem, seconds=2.0, depth=1)
    search.run()
    task = next(task for task in problem.tasks if task.work.id == "B")
    assert task.index not in search.best
    found = {row.mend.kind: row for row in mends(question, problem, search.best, task, competing=("A",))}
    mended = found["shorten"]
    assert mended.mend.of_music == pytest.approx(0.5)
    casting = assemble(mended.problem, mended.assignment, (), (), 0.0, explain=False)
    plan = Surroundings(end_s=20.0).pedals(mended.question.figures, question.piano, question.kit)
    casting = with_load(replace(casting, pedals=plan.actions_by(casting.chores)), mended.problem)
    assert {row.figure for row in casting.cast} == {"A", "B"}
    assert {breach.rule for breach in verify(casting, question.piano, question.players, question.kit)} <= {"proof"}


def test_the_same_demands_are_planned_once() -> None:
    """Another figure that asks the same of the dampers has the same plan, to the very object."""
    around = Surroundings(end_s=20.0)
    first = around.pedals((OPEN,), toy_piano(), toy_kit())
    assert around.pedals((replace(OPEN, words=("gently",)),), toy_piano(), toy_kit()) is first
    assert around.pedals((replace(OPEN, end_s=3.0),), toy_piano(), toy_kit()) is not first


def test_a_long_piece_keeps_its_pedals(monkeypatch: pytest.MonkeyPatch) -> None:
    """A change that they do not serve is told so; one that they do serve is fine."""
    monkeypatch.setattr(surroundings, "PLANNED_ANEW", 1)
    dry = figure("D", PLUCK, (50,), 6.0, 8.0, dry=True)
    around = Surroundings(end_s=20.0)
    first = around.pedals((OPEN, dry), toy_piano(), toy_kit())
    assert not first.conflicts
    later = around.pedals((OPEN, replace(dry, end_s=7.0)), toy_piano(), toy_kit())
    assert set(later.conflicts) == {"D"}
    assert later.spans == first.spans
    assert not around.pedals((replace(OPEN, end_s=3.0), dry), toy_piano(), toy_kit()).conflicts
