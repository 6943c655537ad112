"""The kit to build: sizes from the strings, mutes joined where they may be, spares that are enough."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy import stats

from rimside.casting.build import (
    Piece,
    Size,
    breadth_mm,
    handle_over_rim_mm,
    idle,
    line_mm,
    mute_across_mm,
    mute_groups,
    orders,
    pieces,
    spares,
)
from rimside.casting.result import CastFigure, Contact
from rimside.kit import Implement, Kit, Stock
from rimside.making import MEASURES, Making
from rimside.piano.resting import beside
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Technique
from tests.casting.worlds import figure
from tests.paper import fixture
from tests.piano.example import piano

MAKING = Making()


def test_a_line_goes_down_under_and_up_again() -> None:
    """Triangles on both sides of the course, the stroke and two handles, rounded up to the cut."""
    course = piano("grand_275").course(Key(40))
    under = 2 * course.spacing_mm + course.wire_mm
    rise = math.sqrt(((220.0 - under) / 2) ** 2 + 160.0**2)
    exact = under + 2 * rise + 250.0 + 2 * 90.0
    found = line_mm(course, MAKING)
    assert exact <= found < exact + 50.0
    assert found % 50.0 == 0.0


def test_a_line_that_fits_the_cut_is_not_lengthened() -> None:
    """At the edge: exactly a multiple of the cut stays."""
    course = piano("grand_275").course(Key(40))
    bare = replace(MAKING, hands_apart_mm=breadth_mm(course), working_height_mm=100.0, stroke_mm=0.0, handle_mm=0.0)
    exact = breadth_mm(course) + 200.0
    assert line_mm(course, replace(bare, cut_mm=exact)) == pytest.approx(exact)


def test_longer_strokes_make_longer_lines() -> None:
    """What the ensemble measures is what counts."""
    course = piano("grand_275").course(Key(40))
    assert line_mm(course, replace(MAKING, stroke_mm=450.0)) == line_mm(course, MAKING) + 200.0


def test_a_handle_clears_the_rim() -> None:
    """Rim 1010 over strings 888 and 80 mm more, in whole cm; never less than what keeps the hand clear."""
    hall = piano("grand_275")
    course = hall.course(Key(40))
    found = handle_over_rim_mm(course, hall, MAKING)
    assert 0.0 <= found - (hall.rim_height_mm - course.height_mm + 80.0) < 10.0
    assert handle_over_rim_mm(course, replace(hall, rim_height_mm=700.0), MAKING) == 80.0


def test_a_mute_is_as_broad_as_its_strings_and_a_margin() -> None:
    """Over the last course of a section: its strings, 4 mm on the free side, at most half the gap on the other."""
    hall = piano("grand_275")
    last = max((c for c in hall.courses if c.section == hall.course(Key(30)).section), key=lambda c: c.key)
    before = hall.course(Key(last.key - 1))
    apart = beside(before, last.at(last.length_mm / 2))[1] - (breadth_mm(last) + breadth_mm(before)) / 2
    found = mute_across_mm([last], hall, MAKING)
    assert found == pytest.approx(breadth_mm(last) + 4.0 + min(4.0, apart / 2))
    pair = mute_across_mm([before, last], hall, MAKING)
    assert pair > found + breadth_mm(before)


def test_a_mute_never_reaches_the_next_course() -> None:
    """Double courses of a small grand lie 2 mm apart: the margin ends half-way, so neighbours' mutes just meet."""
    hall = piano("grand_170")
    broad, lone = (mute_across_mm([hall.course(Key(12))], hall, replace(MAKING, mute_over_mm=mm)) for mm in (9.0, 0.0))
    middles = [hall.course(Key(key)).at(hall.course(Key(12)).length_mm / 2) for key in (11, 12, 13)]
    assert lone < broad < (middles[0].distance_mm(middles[1]) + middles[1].distance_mm(middles[2])) / 2 + 0.2


def plan(*rows: tuple[int, float, float, bool]) -> tuple[Figure, ...]:
    """Figures on one key each: key, start, end, muted."""
    return tuple(
        replace(
            figure(f"f{n}", Technique.FINGER_PLUCK, (key,), start_s, end_s),
            mute=Mute.MOULDED if muted else Mute.NONE,
        )
        for n, (key, start_s, end_s, muted) in enumerate(rows, start=1)
    )


@pytest.mark.parametrize(
    ("rows", "groups"),
    [
        ([(30, 0, 1, True), (31, 2, 3, True), (32, 4, 5, True)], ((30, 31, 32),)),
        ([(30, 0, 1, True), (31, 2, 3, True), (32, 4, 5, True), (33, 6, 7, True)], ((30, 31, 32), (33,))),
        ([(30, 0, 1, True), (32, 2, 3, True)], ((30,), (32,))),
        ([(20, 0, 1, True), (21, 2, 3, True)], ((20,), (21,))),
        ([(30, 0, 1, True), (31, 2, 3, True), (31, 4, 5, False)], ((30,), (31,))),
        ([(30, 0, 1, True), (30, 8, 9, False), (31, 2, 3, True), (31, 8, 9, False)], ((30, 31),)),
        ([(30, 0, 1, False)], ()),
        ([(30, 0, 9.5, False), (30, 12, 14, True), (31, 10, 11, True)], ((30,), (31,))),
    ],
    ids=[
        "three join",
        "a fourth does not",
        "a gap",
        "two sections",
        "one is wanted bare",
        "alike",
        "none",
        "no time to lay",
    ],
)
def test_mutes_join_where_no_course_is_wanted_bare(
    rows: list[tuple[int, float, float, bool]], groups: tuple[tuple[int, ...], ...]
) -> None:
    """Up to three neighbours of one section, and never over a course that is played bare meanwhile."""
    casting = replace(fixture.casting(), figures=plan(*rows), uncast=())
    assert mute_groups(casting, piano("grand_275"), Kit(stock=())) == groups


@pytest.mark.parametrize("count", [1, 4, 15])
@pytest.mark.parametrize("rate", [0.0, 0.01, 0.1, 1.5])
@pytest.mark.parametrize("shows", [1, 12, 1000])
def test_spares_are_the_fewest_that_are_enough(count: int, rate: float, shows: int) -> None:
    """SciPy's Poisson quantile at 99 % of the mean number of failures."""
    assert spares(count, rate, shows, 0.01) == int(stats.poisson.ppf(0.99, count * rate * shows))


@pytest.mark.parametrize(("keys", "sides"), [((40,), 1), ((40, 41), 2)])
def test_a_stick_has_as_many_sides_as_it_sounds_courses(keys: tuple[int, ...], sides: int) -> None:
    """One stick on one course, and on two neighbours."""
    hall = piano("grand_275")
    courses = [hall.course(Key(key)) for key in keys]
    met = tuple(
        Contact(key=c.key, spot=None, x_mm=c.near.x_mm, y_mm=c.near.y_mm, from_near_end_mm=200.0) for c in courses
    )
    stick = Implement(id="stick 1", kind="stick", rest_x_mm=0.0, rest_y_mm=0.0)
    row = CastFigure(figure="f1", player="ada", place="S1", hands=("left",), implements=("stick 1",), contacts=met)
    casting = replace(fixture.casting(), figures=(), cast=(row,), implements=(stick,), chores=(), pedals=(), uncast=())
    (found,) = pieces(casting, hall, box())
    assert (found.count, found.size("sides")) == (1, sides)


def piece(kind: str, count: int, *keys: int, line: float = 800.0) -> Piece:
    return Piece(
        kind=kind, keys=tuple(map(Key, keys)), count=count, fails_per_show=0.0,
        sizes=(Size(name="line", value=line, unit="mm"),),
    )  # fmt: skip


def box() -> Kit:
    bows = Stock(
        kind="bow", serves=frozenset({Technique.LINE_BOW}), count=1, per_pitch=True, pitches=frozenset({Key(40)})
    )
    return Kit(stock=(bows, Stock(kind="stick", serves=frozenset({Technique.STICK_BOW}), count=6)))


def test_two_pieces_share_what_both_need() -> None:
    """The larger need and the longer line count; the sum does not."""
    needs = {"one": (piece("stick", 4, line=700.0),), "two": (piece("stick", 5, line=900.0),)}
    (order,) = orders(needs, box(), 1)
    assert (order.piece.count, order.piece.size("line"), order.needed_by) == (5, 900.0, ("one", "two"))
    assert (order.make, order.short) == (0, False)
    assert idle(needs, box()) == (("bow", 1), ("stick", 1))


def test_a_pitch_that_the_box_lacks_is_short() -> None:
    """The kit has a bow for C4 and none for E4; a kind that it does not list was never counted."""
    needs = {"one": (piece("bow", 1, 40), piece("bow", 1, 44), piece("wedge", 1))}
    there = {(o.piece.kind, o.piece.keys): (o.there, o.short, o.make) for o in orders(needs, box(), 1)}
    assert there == {
        ("bow", (40,)): (1, False, 0),
        ("bow", (44,)): (0, True, 1),
        ("wedge", ()): (None, False, 1),
    }


def test_a_source_names_what_was_not_measured() -> None:
    """Half measured is not measured."""
    half = Making(strands=4, given=frozenset({"strands"}))
    assert half.source("strands") == "measured by this ensemble"
    assert half.source("strands", "stroke_mm").endswith("stroke_mm")
    assert "strands" not in half.source("strands", "stroke_mm")
    assert set(MEASURES) >= {"strands", "spare_risk"}
