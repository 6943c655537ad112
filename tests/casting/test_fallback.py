"""Technique fallback: only where the user's table allows it, and only to what suits this piano."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.fallback import with_fallback
from rimside.casting.verify import verify
from rimside.flow import plan
from rimside.piano.model import Permissions, Piano
from rimside.score.instead import Because, Instead
from rimside.score.model import Figure, Score, Technique
from rimside.score.reading import Reading
from tests.casting.worlds import figure, toy_kit, toy_piano, toy_players

PIANO, KIT = toy_piano(), toy_kit()
WOUND = min(course.key for course in PIANO.courses if course.wound)
PLAIN = max(course.key for course in PIANO.courses if not course.wound)
BOWED = figure("f1", Technique.LINE_BOW, [WOUND], 1.0, 4.0)
ROW = Instead(technique=Technique.LINE_BOW, because=Because.WOUND, use=Technique.FRICTION_STRIP)


def after(one: Figure, *rows: Instead, piano: Piano = PIANO) -> Figure:
    (found,) = with_fallback([one], piano, KIT, rows)
    return found


def test_a_wound_course_gets_the_technique_of_the_row() -> None:
    """Line bow on a wound course: friction strip; what was written, and the motif, are kept."""
    found = after(BOWED, ROW)
    assert (found.technique, found.written, found.motif) == (Technique.FRICTION_STRIP, Technique.LINE_BOW, BOWED.motif)
    assert replace(found, technique=BOWED.technique, written=None) == BOWED


def test_without_a_row_nothing_changes() -> None:
    """No table, another technique's row, or a course that is not wound."""
    other = replace(ROW, technique=Technique.STICK_BOW)
    assert after(BOWED) is BOWED
    assert after(BOWED, other) is BOWED
    plain = replace(BOWED, keys=(PLAIN,), strokes=(replace(BOWED.strokes[0], key=PLAIN),))
    assert after(plain, ROW) is plain


def test_the_first_row_that_suits_counts() -> None:
    """A stick bow does not suit a wound course either, so the next row is taken; the order of the table decides."""
    rows = [replace(ROW, use=use) for use in (Technique.STICK_BOW, Technique.FINGER_PLUCK, Technique.FRICTION_STRIP)]
    assert after(BOWED, *rows).technique is Technique.FINGER_PLUCK
    assert after(BOWED, *rows[:1]) is BOWED


def test_a_plain_course_and_a_forbidden_technique() -> None:
    """The other two reasons."""
    rubbed = figure("f1", Technique.FRICTION_STRIP, [PLAIN], 1.0, 4.0)
    row = Instead(technique=Technique.FRICTION_STRIP, because=Because.PLAIN, use=Technique.LINE_BOW)
    assert after(rubbed, row).technique is Technique.LINE_BOW
    no_rosin = Permissions(
        allowed=PIANO.permissions.allowed - {"rosin"}, forbidden_spots=PIANO.permissions.forbidden_spots
    )
    bowed = figure("f1", Technique.LINE_BOW, [PLAIN], 1.0, 4.0)
    forbidden = Instead(technique=Technique.LINE_BOW, because=Because.FORBIDDEN, use=Technique.FINGER_PLUCK)
    assert after(bowed, forbidden) is bowed
    assert after(bowed, forbidden, piano=replace(PIANO, permissions=no_rosin)).technique is Technique.FINGER_PLUCK


def test_what_stands_in_must_be_allowed_and_hold_the_courses() -> None:
    """No rubber allowed: no friction strip. Two wound courses of a stick bow are more than one strip holds."""
    no_rubber = replace(PIANO.permissions, allowed=PIANO.permissions.allowed - {"rubber"})
    assert after(BOWED, ROW, piano=replace(PIANO, permissions=no_rubber)) is BOWED
    two = figure("f1", Technique.STICK_BOW, [WOUND, WOUND + 1], 1.0, 4.0)
    assert after(two, replace(ROW, technique=Technique.STICK_BOW)) is two


def test_spots_and_courses_that_are_not_there_stay_as_they_are() -> None:
    """Their own rule says why they are uncast."""
    beat = figure("f1", Technique.BEATER, "frame, bass", 1.0, 4.0)
    absent = figure("f1", Technique.LINE_BOW, [88], 1.0, 4.0)
    few = replace(PIANO, courses=tuple(course for course in PIANO.courses if course.key != 88))
    assert after(beat, replace(ROW, technique=Technique.BEATER)) is beat
    assert after(absent, ROW, piano=few) is absent


@pytest.mark.parametrize(("table", "uncast"), [((), ["H6"]), ((ROW,), [])])
def test_a_whole_plan_with_and_without_the_row(table: tuple[Instead, ...], uncast: list[str]) -> None:
    """Without the row uncast under H6 as ever; with it cast by friction strip, and the judge finds nothing wrong."""
    score = Score(title="", parts=("piano",), notes=(), bars=(), end_s=6.0)
    reading = Reading(score=score, figures=(BOWED,), instead=table)
    casting = plan(reading, PIANO, toy_players(2), KIT, seconds=2.0)
    assert [one.rule for one in casting.uncast] == uncast
    assert verify(casting, PIANO, toy_players(2), KIT) == ()
    if not uncast:
        (cast,) = casting.cast
        assert cast.implements and all("strip" in name for name in cast.implements)
        assert casting.figures[0].written is Technique.LINE_BOW


def test_rates_are_those_of_what_is_played() -> None:
    """Strokes that a hammer can repeat and a pluck cannot: with the row the figure breaks H10, as it must."""
    fast = figure("f1", Technique.FELT_HAMMER, [WOUND], 1.0, 3.0, times=22)
    row = Instead(technique=Technique.FELT_HAMMER, because=Because.WOUND, use=Technique.FINGER_PLUCK)
    score = Score(title="", parts=("piano",), notes=(), bars=(), end_s=6.0)
    rules = []
    for table in ((), (row,)):
        casting = plan(Reading(score=score, figures=(fast,), instead=table), PIANO, toy_players(2), KIT, seconds=2.0)
        rules.append([one.rule for one in casting.uncast])
    assert rules == [[], ["H10"]]
