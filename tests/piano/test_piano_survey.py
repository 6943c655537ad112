"""From measured points to a whole piano, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.errors import BadInput
from rimside.piano.model import Permissions, Spot, Strut
from rimside.piano.shipped import SHIPPED
from rimside.piano.survey import Dampers, Survey, WireRange, build, remarks
from rimside.pitch import Key
from tests.piano.example import piano, point, survey, with_point, with_section


def dampers() -> Dampers:
    found = survey().dampers
    assert found is not None
    return found


def refused(bad: Survey) -> BadInput:
    with pytest.raises(BadInput) as caught:
        build(bad)
    return caught.value


@pytest.mark.parametrize("name", SHIPPED)
def test_eighty_eight_courses_in_order(name: str) -> None:
    """Every key once, ascending, each course as long as its ends are apart."""
    courses = piano(name).courses
    assert [course.key for course in courses] == list(range(1, 89))
    for course in courses:
        assert course.length_mm == pytest.approx(course.near.distance_mm(course.far))
        assert course.at(course.length_mm).x_mm == pytest.approx(course.far.x_mm)


def test_measured_keys_keep_their_values() -> None:
    """A course that was measured stands exactly as measured."""
    for section in survey().sections:
        for measured in section.points:
            course = piano().course(Key(measured.key))
            assert course.near == measured.near
            assert course.far.distance_mm(measured.far) < 1e-6
            assert (course.wire_mm, course.wrap_mm) == (measured.wire_mm, measured.wrap_mm)
            assert (course.strings, course.height_mm) == (measured.strings, measured.height_mm)


def test_strings_change_only_at_measured_keys() -> None:
    """Singles go on to the key before the first measured pair; a single string has no spacing."""
    assert [piano().course(Key(key)).strings for key in (7, 8, 9, 13, 14)] == [1, 1, 2, 2, 3]
    assert piano().course(Key(8)).spacing_mm == 0.0


def test_wire_between_measured_keys_is_a_half_gauge() -> None:
    """Between 1.15 mm at key 21 and 1.10 mm at key 24 the plate uses sizes that are made."""
    assert [piano().course(Key(key)).wire_mm for key in (21, 22, 23, 24)] == [1.15, 1.125, 1.125, 1.1]


def test_wire_as_painted_on_the_plate() -> None:
    """A wire range wins over the size between two measured keys."""
    painted = with_section(survey(), "tenor", wires=(WireRange(first_key=22, last_key=23, wire_mm=1.175),))
    built = build(painted)
    assert [built.course(Key(key)).wire_mm for key in (22, 23, 25)] == [1.175, 1.175, 1.1]


def test_bass_passes_over_the_tenor() -> None:
    """The lowest string crosses the lowest tenor string in plan, and lies higher."""
    from rimside.piano.geometry import crossing_shares

    low, tenor = piano().course(Key(1)), piano().course(Key(21))
    assert crossing_shares(low.near, low.far, tenor.near, tenor.far) is not None
    assert low.height_mm > tenor.height_mm + 10


def test_damper_felt_covers_what_was_measured() -> None:
    """Key 1: 48 mm of felt round the place where the string passes the damper line."""
    course = piano().course(Key(1))
    assert course.damper is not None
    assert course.damper.to_mm - course.damper.from_mm == pytest.approx(48.0)
    middle = course.at((course.damper.from_mm + course.damper.to_mm) / 2)
    assert middle.y_mm == pytest.approx(dampers().points[0].y_mm)


def test_no_damper_above_the_last() -> None:
    """Key 70 is the last damped course of the longest piano."""
    assert piano().course(Key(70)).damper is not None
    assert piano().course(Key(71)).damper is None


def test_pitch_follows_the_tuning_of_the_piano() -> None:
    """A piano tuned to 443 Hz has 443 Hz at key 49, and more tension."""
    sharp = build(replace(survey(), a4_hz=443.0))
    assert sharp.course(Key(49)).frequency_hz == pytest.approx(443.0)
    assert sharp.course(Key(49)).tension_n > piano().course(Key(49)).tension_n


def test_length_in_metres_is_guessed() -> None:
    """A course 0.64 long is refused with the guess that metres were meant."""
    near = piano().course(Key(40)).near
    error = refused(with_point(survey(), 40, far=point(near.x_mm, near.y_mm + 0.64)))
    assert error.where == "course 40"
    assert error.value == pytest.approx(0.64)
    assert error.allowed == "30 to 2500"
    assert "metres" in error.hint


def test_length_in_centimetres_is_guessed() -> None:
    """A course 5.2 long is refused with the guess that cm were meant."""
    near = piano().course(Key(88)).near
    error = refused(with_point(survey(), 88, far=point(near.x_mm, near.y_mm + 5.2)))
    assert "cm" in error.hint


@pytest.mark.parametrize(
    ("wire_mm", "hint"),
    [(0.0394, "inches"), (17.0, "gauge number"), (0.5, "in mm?")],
)
def test_tension_no_string_bears(wire_mm: float, hint: str) -> None:
    """Wire in inches, as a gauge number, or simply wrong: the message says which key and guesses the slip."""
    error = refused(with_point(survey(), 40, wire_mm=wire_mm))
    assert error.where == "course 40"
    assert error.allowed == "350 to 2000 for each string"
    assert hint in error.hint


def test_tension_at_the_very_edge() -> None:
    """349 N is refused, 351 N is not."""
    wire_mm = piano().course(Key(88)).wire_mm
    tension = piano().course(Key(88)).tension_n
    assert refused(with_point(survey(), 88, wire_mm=wire_mm * (349 / tension) ** 0.5)).where == "course 88"
    assert build(with_point(survey(), 88, wire_mm=wire_mm * (351 / tension) ** 0.5)).course(Key(88)).tension_n < 352


def test_forgotten_wrap_is_guessed() -> None:
    """A bass string entered as plain has far too little tension."""
    bare = survey()
    for key in (1, 5, 8, 9, 13, 14, 20):
        bare = with_point(bare, key, wrap_mm=None)
    error = refused(bare)
    assert "wrap_mm is missing" in error.hint


def test_wrap_thinner_than_its_core() -> None:
    """Core and wrap swapped."""
    assert "swapped" in refused(with_point(survey(), 1, wire_mm=4.4, wrap_mm=1.6)).hint


def test_wound_strings_must_end_at_neighbours() -> None:
    """When the last wound and the first plain key are not both measured, nothing is guessed."""
    error = refused(with_point(survey(), 20, wrap_mm=None, wire_mm=1.2))
    assert error.value == "14 to 20"


def test_missing_keys() -> None:
    """A section left out: the keys are named as ranges."""
    error = refused(replace(survey(), sections=survey().sections[:1] + survey().sections[2:]))
    assert error.value == "21 to 37"


def test_key_in_two_sections() -> None:
    """A section that begins one key early overlaps its neighbour."""
    error = refused(with_section(survey(), "tenor", first_key=20))
    assert "key 20" in error.what
    assert error.value == "bass and tenor"


def test_ends_of_a_section_must_be_measured() -> None:
    """Nothing is continued beyond the last measured key."""
    points = survey().sections[1].points
    error = refused(with_section(survey(), "tenor", points=points[:-1]))
    assert error.where == "section tenor"
    assert "key 37" in error.what


def test_key_measured_twice() -> None:
    """Two points for one key."""
    points = survey().sections[1].points
    assert refused(with_section(survey(), "tenor", points=(*points, points[0]))).value == 21


def test_strings_that_cross_inside_a_section() -> None:
    """A tenor string slanted across its neighbour is refused; the bass crossing the tenor is not."""
    near = piano().course(Key(29)).near
    error = refused(with_point(survey(), 29, far=point(near.x_mm + 300, near.y_mm + 1100)))
    assert error.where == "section tenor"
    assert "cross" in error.what


def test_string_through_a_strut() -> None:
    """A bar between strings cannot be crossed by one."""
    bar = Strut(name="bar", start=point(500, 300), end=point(800, 700), width_mm=20)
    error = refused(replace(survey(), struts=(bar,)))
    assert error.where == "strut bar"
    assert build(replace(survey(), struts=(replace(bar, over_strings=True),))).struts[0].over_strings


def test_swapped_ends() -> None:
    """Near and far swapped."""
    course = piano().course(Key(40))
    assert "swapped" in refused(with_point(survey(), 40, near=course.far, far=course.near)).hint


def test_open_outline() -> None:
    """An outline whose last point is not its first again."""
    assert "not closed" in refused(replace(survey(), outline=survey().outline[:-1])).what


def test_outline_that_crosses_itself() -> None:
    """Two points swapped make a knot."""
    outline = list(survey().outline)
    outline[1], outline[20] = outline[20], outline[1]
    assert "crosses itself" in refused(replace(survey(), outline=tuple(outline))).what


def test_length_that_disagrees_with_the_outline() -> None:
    """A piano said to be 2.1 m long whose outline is 2.75 m deep."""
    assert refused(replace(survey(), length_mm=2100.0)).value == 2100.0


def test_spot_outside_the_case() -> None:
    """A spot that lies in the room."""
    spot = Spot(name="shelf", kind="case", at=point(-400, 100), height_mm=900)
    assert refused(replace(survey(), spots=(spot,))).where == "spot shelf"


def test_string_outside_the_case() -> None:
    """The top of the treble drawn 250 mm too far to the right stands outside the cheek."""
    course = piano().course(Key(88))
    near, far = (point(end.x_mm + 250, end.y_mm) for end in (course.near, course.far))
    error = refused(with_point(survey(), 88, near=near, far=far))
    assert error.where.startswith("course 8")
    assert "outside the outline" in error.what


def test_forbidden_spot_that_does_not_exist() -> None:
    """A misspelt spot in the permissions would silently allow what the owner forbade."""
    permissions = Permissions(allowed=frozenset(), forbidden_spots=frozenset({"tail fram"}))
    assert refused(replace(survey(), permissions=permissions)).value == "tail fram"


def test_damper_line_that_misses_a_string() -> None:
    """A damper line drawn in front of the near ends."""
    points = tuple(replace(p, y_mm=200.0) for p in dampers().points)
    error = refused(replace(survey(), dampers=replace(dampers(), points=points)))
    assert "damper line" in error.what


def test_remarks_name_the_unusual_course() -> None:
    """A string that is possible but unlike any published one is remarked, not refused."""
    thin = build(with_point(survey(), 88, wire_mm=0.6))
    assert [text.split(":")[0] for text in remarks(thin)] == ["course 88", "course 88"]
