"""A whole piano of a few readings: measured where measured, stretched between, sure where it says so."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rimside.errors import BadInput
from rimside.piano.model import Course, Permissions
from rimside.piano.readings import Counts, Reading, checked_counts, split, steps
from rimside.piano.shipped import SHIPPED
from rimside.piano.tape import Fact, Known, Surveyed, surveyed
from rimside.score.model import Pedal
from tests.piano.example import piano, survey
from tests.piano.tape_example import EVERY, counts_of, known, true_mm, with_reading

NEIGHBOURS = [("grand_275", "grand_210"), ("grand_210", "grand_275"), ("grand_210", "grand_170"),
              ("grand_170", "grand_210")]  # fmt: skip


def made(base: Known) -> Surveyed:
    return surveyed(base, EVERY)


@pytest.mark.parametrize(("name", "like"), NEIGHBOURS)
@pytest.mark.parametrize("all_of_it", [False, True])
def test_a_piano_comes_back_within_its_stated_error(name: str, like: str, all_of_it: bool) -> None:
    """Readings with errors, the rest from another piano: at least 90 of 100 ends lie inside two standard errors."""
    inside = count = 0
    for seed in range(4):
        found = made(known(name, like, seed, all_of_it)).fit
        for course in piano(name).courses:
            key = int(course.key)
            guess = found.course(key)
            for share, at, true in ((0.0, guess.near, course.near), (1.0, guess.far, course.far)):
                errors = found.axis_errors_mm(key, share)
                for off, error in zip((at.x_mm - true.x_mm, at.y_mm - true.y_mm), errors, strict=True):
                    inside += abs(off) <= 2.0 * error
                    count += 1
    assert inside >= 0.9 * count


@pytest.mark.parametrize(("name", "like"), NEIGHBOURS)
def test_what_is_stated_is_not_idle(name: str, like: str) -> None:
    """The stated errors are no larger than needed: the whole form leaves no section worse than 40 mm."""
    for error in made(known(name, like, 1, True)).errors:
        assert max(error.near_mm, error.middle_mm, error.far_mm) < 40.0, error
        assert error.along_mm < 20.0, error


@pytest.mark.parametrize("name", SHIPPED)
def test_a_measured_course_lies_where_it_was_measured(name: str) -> None:
    """Exact readings with tiny errors come back to a millimetre, whatever the piano is like."""
    exact = known(name, "grand_210", all_of_it=True)
    sharp = replace(exact, readings=tuple(
        Reading(name=r.name, mm=true_mm(name, r.name), plus_minus_mm=0.05) for r in exact.readings))  # fmt: skip
    courses = {int(course.key): course for course in made(sharp).piano.courses}
    for reading in sharp.readings:
        kind, key = split(reading.name)
        if kind == "length_K" and key is not None:
            assert courses[key].length_mm == pytest.approx(reading.mm, abs=0.5), reading.name
        if kind == "far_x_K" and key is not None:
            assert courses[key].far.x_mm == pytest.approx(reading.mm, abs=0.5), reading.name


@pytest.mark.parametrize("name", SHIPPED)
def test_sound_readings_are_not_doubted(name: str) -> None:
    """Twelve surveys with the tape's errors, leaning on the piano itself: at most one reading doubted in all."""
    assert sum(len(made(known(name, name, seed, True)).doubts) for seed in range(12)) <= 1


def test_a_length_against_its_two_ends() -> None:
    """A length 40 mm off contradicts its ends: named with them, with the size in its own standard errors."""
    wrong = with_reading(known("grand_210", all_of_it=True), "length_21", 1385.0, 2.0)
    (doubt,) = made(wrong).doubts
    assert doubt.reading.name in ("length_21", "far_y_21") and doubt.sigmas > 3.3
    assert "length_21" in (doubt.reading.name, *doubt.partners)


def test_a_width_against_its_parts() -> None:
    """A width that is not the keyboard and both cheeks is doubted, with the cheeks as partners."""
    base = known("grand_210", all_of_it=True)
    (doubt,) = made(with_reading(base, "width", 1540.0)).doubts
    assert {"width", "left_cheek", "right_cheek"} <= {doubt.reading.name, *doubt.partners}
    assert doubt.sigmas > 5.0


def test_exchanged_digits_are_guessed() -> None:
    """A height of 958 where all else says 985 is told with the guess."""
    (doubt,) = made(with_reading(known("grand_210", "grand_210"), "rim_height", 895.0)).doubts
    assert doubt.reading.name == "rim_height"
    assert "985" in doubt.note


def test_lengths_fall() -> None:
    """A treble string longer than one below it is doubted, whichever is wrong."""
    base = with_reading(known("grand_210"), "length_60", 221.0, 20.0)
    doubts = made(with_reading(base, "length_61", 224.0, 0.5)).doubts
    assert any({"length_60", "length_61"} <= {d.reading.name, *d.partners} for d in doubts)


@pytest.mark.parametrize(
    ("name", "mm", "words"),
    [
        ("length", 79.0, "inches"),
        ("length", 2.1, "metres"),
        ("length_20", 113.0, "digit missing, or was it given in cm"),
        ("length_1", 15000.0, "digit too many"),
        ("rim_height", 700.0, "digit wrong"),
        ("near_y_21", 33.0, "cm"),
    ],
)
def test_impossible_readings_are_refused_with_a_guess(name: str, mm: float, words: str) -> None:
    """One reading in other units, or with a digit too few or too many."""
    with pytest.raises(BadInput, match=words) as caught:
        made(with_reading(known("grand_210"), name, mm))
    assert caught.value.where == name


def test_a_whole_survey_in_inches() -> None:
    """When all readings are in inches the guess speaks of all."""
    base = known("grand_210", "grand_210")
    inches = replace(base, readings=tuple(replace(r, mm=round(r.mm / 25.4, 1)) for r in base.readings))
    with pytest.raises(BadInput, match="inches"):
        made(inches)


def test_swapped_keys_are_guessed() -> None:
    """Lengths of two keys exchanged, each impossible where it stands."""
    base = known("grand_210")
    swapped = with_reading(with_reading(base, "length_21", 640.0), "length_40", 1345.0)
    with pytest.raises(BadInput, match="length_21 and length_40 swapped"):
        made(swapped)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"last_keys": (20, 40, 53, 67)}, "88"),
        ({"last_keys": (20, 53, 40, 67, 88)}, "swapped"),
        ({"last_keys": (50, 67, 88), "struts_after": ()}, "bass"),
        ({"last_single": 21, "last_double": 20}, "swapped"),
        ({"first_plain": 20}, "without copper"),
        ({"last_damper": 88}, "dampers"),
        ({"struts_after": (21,)}, "inside a section"),
    ],
)
def test_impossible_counts_are_refused(changes: dict[str, object], words: str) -> None:
    """Keys that cannot be counted so."""
    with pytest.raises(BadInput, match=words):
        checked_counts(replace(counts_of("grand_210"), **changes))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["lenght", "length_0", "near_z_4", "strut_x", "damper_89"])
def test_unknown_readings_are_refused(name: str) -> None:
    """A misspelt name or a key that is not there."""
    with pytest.raises(BadInput, match="no such"):
        split(name)


@pytest.mark.parametrize(("name", "words"), [("damper_70", "no damper"), ("strut_30_width", "no strut")])
def test_readings_of_what_is_not_there(name: str, words: str) -> None:
    """A damper above the last, a strut where none stands."""
    with pytest.raises(BadInput, match=words):
        made(with_reading(known("grand_210"), name, 510.0 if "damper" in name else 20.0))


def test_a_reading_told_twice() -> None:
    """The same name twice is refused, not averaged in silence."""
    base = known("grand_210")
    with pytest.raises(BadInput, match="twice"):
        made(replace(base, readings=(*base.readings, base.readings[0])))


def test_strings_that_cross_name_their_readings() -> None:
    """Bass strings whose far ends were exchanged are refused with the readings to look at again."""
    base = known("grand_210", all_of_it=True)
    crossed = with_reading(with_reading(base, "far_x_1", 466.0, 0.5), "far_x_20", 230.0, 0.5)
    with pytest.raises(BadInput, match=r"cross|outside") as caught:
        made(crossed)
    assert "far_x" in caught.value.hint


@pytest.mark.parametrize("name", SHIPPED)
def test_every_assumption_is_told(name: str) -> None:
    """What is measured stands under `measured`; every part that nobody measured has its line."""
    done = made(known(name))
    assert done.missing == ()
    assert {reading.name for reading in done.known.readings} <= done.survey.measured
    assert not {"spots", "floor", "struts", "permissions", "key_height"} & done.survey.measured
    places = {assumption.place for assumption in done.assumptions}
    assert {"head", "outline", "permissions", "dampers", "struts", "spots", "floor", "strike"} <= places
    assert {f"section {section.name}" for section in done.survey.sections} <= places


def test_what_is_told_is_not_assumed() -> None:
    """Pedals, permissions and wire that a person gives stand in the survey and not among the assumptions."""
    facts = (Fact(key=40, wire_mm=1.05), Fact(key=10, wire_mm=1.25, wrap_mm=3.7, height_mm=915.0))
    asked = Permissions(allowed=frozenset({"rosin"}))
    done = made(replace(known("grand_210"), facts=facts, pedals=frozenset({Pedal.DAMPER}), permissions=asked))
    assert done.survey.pedals == {Pedal.DAMPER} and done.survey.permissions == asked
    courses = {int(course.key): course for course in done.piano.courses}
    assert (courses[40].wire_mm, courses[10].wrap_mm, courses[10].height_mm) == (1.05, 3.7, 915.0)
    assert {"pedals", "permissions", "wire_40", "wrap_10"} <= done.survey.measured
    assert not any(one.place == "permissions" or "pedals" in one.text for one in done.assumptions)


def test_a_strut_that_was_read() -> None:
    """Its ends and width stand where they were read; one that runs through strings is refused by name."""
    base = known("grand_210")
    read = with_reading(with_reading(base, "strut_40_width", 31.0), "strut_40_far_y", 1100.0)
    (strut,) = (one for one in made(read).survey.struts if one.name == "tenor strut")
    assert (strut.width_mm, strut.end.y_mm) == (31.0, 1100.0)
    with pytest.raises(BadInput, match="run through"):
        made(with_reading(base, "strut_40_far_x", 700.0))


@pytest.mark.parametrize("name", SHIPPED)
def test_the_form_asks_how_far_struts_reach(name: str) -> None:
    """Of each bar the end is asked, of the one over strings also sideways; read, it lies there to 12 mm."""
    done = made(known(name, "grand_210", all_of_it=True))
    names = [step.name for step in steps(done.known.counts) if step.name.startswith("strut_")]
    assert len(names) == 1 + len(survey(name).struts) and not set(names) & set(done.missing)
    pairs = zip(done.survey.struts, sorted(survey(name).struts, key=lambda strut: strut.start.x_mm), strict=True)
    for strut, true in pairs:
        assert strut.end.distance_mm(true.end) < 12.0, strut.name
    assert set(names) <= done.survey.measured


def test_a_strut_read_along_one_axis_stays_in_its_gap() -> None:
    """Only the y of an end read: x follows, between the neighbouring strings, or on along a bar over strings."""
    base = known("grand_210")
    done = made(with_reading(with_reading(base, "strut_40_far_y", 900.0), "strut_20_far_y", 1300.0))
    courses = {int(course.key): course for course in done.piano.courses}
    over, between = (next(s for s in done.survey.struts if s.name == name) for name in ("bass strut", "tenor strut"))
    beside = [courses[key].at((900.0 - courses[key].near.y_mm) / math.sin(angle(courses[key]))) for key in (40, 41)]
    assert between.end.x_mm == pytest.approx((beside[0].x_mm + beside[1].x_mm) / 2.0, abs=0.2)
    (free,) = (s for s in made(base).survey.struts if s.name == "bass strut")
    shares = [(point.x_mm - free.start.x_mm) / (point.y_mm - free.start.y_mm) for point in (over.end, free.end)]
    assert over.end.y_mm == 1300.0 and shares[0] == pytest.approx(shares[1], abs=1e-3)


def test_a_strut_read_beyond_the_assumed_case_is_drawn_back_and_told() -> None:
    """What was read is sound, the case is assumed: the bar ends inside it, and the report says so."""
    base = known("grand_210")
    done = made(with_reading(base, "strut_67_far_y", 1100.0))
    strut = next(strut for strut in done.survey.struts if strut.name == "short strut")
    assert 900.0 < strut.end.y_mm < 1100.0
    assert any("short strut drawn to y" in one.text and "1100" in one.text for one in done.assumptions)
    calm = made(with_reading(base, "strut_67_far_y", 700.0))
    assert not any("drawn to y" in one.text for one in calm.assumptions)


def angle(course: Course) -> float:
    return math.atan2(course.far.y_mm - course.near.y_mm, course.far.x_mm - course.near.x_mm)


@pytest.mark.parametrize("length_mm", [2300.0, 2500.0, 2700.0])
def test_wound_strings_high_in_the_tenor_bear_their_tension(length_mm: float) -> None:
    """A bass up to key 30 and copper up to 35 on a long piano: nobody measured wire, so no tension is out of range."""
    counts = Counts(last_keys=(30, 60, 88), last_single=8, last_double=31, first_plain=36, last_damper=66,
                    struts_after=(30, 60))  # fmt: skip
    read = (Reading(name="length", mm=length_mm, plus_minus_mm=4.0),)
    done = made(Known(name="hall", title="Hall", counts=counts, readings=read))
    assert all(course.tension_n < 1400.0 for course in done.piano.courses if 31 <= int(course.key) <= 35)


def test_what_nobody_measured_is_not_blamed_on_a_reading() -> None:
    """Plain strings from key 20 up in a case of 150 cm do not fit: the message names the key to read and the counts."""
    counts = Counts(last_keys=(18, 28, 51, 69, 88), last_single=6, last_double=23, first_plain=20, last_damper=66,
                    struts_after=())  # fmt: skip
    read = (Reading(name="length", mm=1496.0, plus_minus_mm=4.0),)
    with pytest.raises(BadInput, match="outside the outline") as caught:
        made(Known(name="hall", title="Hall", counts=counts, readings=read))
    assert "nobody measured key 2" in caught.value.hint and "[counted]" in caught.value.hint


def test_without_a_length_the_likeness_must_be_told() -> None:
    """Neither a length nor a piano to lean on is refused with the choice; a name that is not shipped too."""
    nothing = replace(known("grand_210"), readings=())
    with pytest.raises(BadInput, match="like"):
        made(nothing)
    with pytest.raises(BadInput, match="grand_999"):
        made(replace(nothing, like="grand_999"))
    done = made(replace(nothing, like="grand_210"))
    assert len(done.missing) == len([step for step in steps(done.known.counts) if step.core])


def test_leaning_on_itself_gives_itself() -> None:
    """With every reading exact and the piano to lean on the same, each course comes back to 5 mm."""
    done = made(known("grand_170", "grand_170", all_of_it=True))
    for course, true in zip(done.piano.courses, piano("grand_170").courses, strict=True):
        assert course.near.distance_mm(true.near) < 5.0 and course.far.distance_mm(true.far) < 5.0, course.key
        assert course.strings == true.strings and course.wound == true.wound
    assert done.survey.struts[0].name == survey("grand_170").struts[0].name


@pytest.mark.parametrize("lasts", [(20, 40, 53, 67, 88), (26, 45, 66, 88), (18, 50, 88), (30, 48, 60, 72, 80, 88)])
@pytest.mark.parametrize("like", SHIPPED)
def test_any_number_of_sections_makes_a_piano(lasts: tuple[int, ...], like: str) -> None:
    """Breaks where no shipped piano has them: a piano with 88 courses in those sections."""
    counts = Counts(last_keys=lasts, last_single=8, last_double=16, first_plain=max(28, lasts[0] + 1), last_damper=68,
                    struts_after=lasts[:-1])  # fmt: skip
    done = made(Known(name="hall", title="Hall", counts=counts, readings=(), like=like))
    assert len(done.piano.courses) == 88
    assert [section.last_key for section in done.survey.sections] == list(lasts)
