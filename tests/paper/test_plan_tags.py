"""The pitch tags of the plan: one a course, clear of each other, with leaders that never cross."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rimside.casting.result import Casting, Contact
from rimside.paper.plan_marks import Board
from rimside.paper.plan_tags import LETTER_MM, MOST_AT_FAR_ENDS, Tag, contact_points, draw_dots, spread, tags
from rimside.piano.model import Point
from rimside.piano.shipped import SHIPPED
from rimside.pitch import Key, LabelScheme
from tests.paper import fixture

BUSY = (8, 11, 13, 15, 16, 18, 20, 32, 35, 36, 37, 39, 40, 42, 44, 46, 47, 49, 51, 52, 53, 54, 56, 58, 59, 60, 61, 63,
        64, 65, 70, 72)  # fmt: skip
"""The courses of a dense piece for eight."""


def playing(name: str, touches: Iterable[tuple[int, float]]) -> Casting:
    """The fixture with its first figure touching these courses at these distances from the near end, mm."""
    whole, piano = fixture.casting(), fixture.piano(name)
    contacts = []
    for key, mm in touches:
        at = piano.course(Key(key)).at(mm)
        contacts.append(Contact(key=Key(key), spot=None, x_mm=at.x_mm, y_mm=at.y_mm, from_near_end_mm=mm))
    return replace(whole, cast=(replace(whole.cast[0], contacts=tuple(contacts)),))


def laid(name: str, keys: Iterable[int], scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> tuple[Tag, ...]:
    return tags(fixture.piano(name), playing(name, ((key, 30.0) for key in keys)), scheme)


def apart(one: Tag, other: Tag) -> bool:
    across = abs(one.at.y_mm - other.at.y_mm) - (one.width_mm + other.width_mm) / 2
    down = abs(one.at.x_mm - other.at.x_mm) - (one.height_mm + other.height_mm) / 2
    return max(across, down) > 0.0


def cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two stretches cross."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q.x_mm - p.x_mm) * (r.y_mm - p.y_mm) - (q.y_mm - p.y_mm) * (r.x_mm - p.x_mm)

    return side(a, b, c) * side(a, b, d) < 0.0 and side(c, d, a) * side(c, d, b) < 0.0


def under(tag: Tag, leader: tuple[Point, ...]) -> bool:
    """Whether a leader runs under a tag."""
    high, wide = tag.height_mm / 2, tag.width_mm / 2
    corners = [
        Point(x_mm=tag.at.x_mm + h * high, y_mm=tag.at.y_mm + w * wide) for h, w in ((-1, -1), (-1, 1), (1, 1), (1, -1))
    ]
    edges = [*pairwise(corners), (corners[-1], corners[0])]
    return any(cross(a, b, c, d) for a, b in pairwise(leader) for c, d in edges)


@pytest.mark.parametrize("scheme", list(LabelScheme))
@pytest.mark.parametrize("name", SHIPPED)
def test_a_dense_piece_has_one_large_tag_a_course(name: str, scheme: LabelScheme) -> None:
    """Thirty-two courses, thirty-two tags at full size, none on another, on every piano and with every label."""
    found = laid(name, BUSY, scheme)
    assert sorted(tag.key for tag in found) == sorted(BUSY)
    assert {tag.letter_mm for tag in found} == {LETTER_MM}
    assert all(apart(one, other) for one, other in combinations(found, 2))


@example("grand_275", {1, 23, 27})
@example("grand_210", {6, 42, 45})
@given(st.sampled_from(SHIPPED), st.sets(st.integers(1, 88), min_size=1))
def test_no_tag_lies_on_another_whatever_is_played(name: str, keys: set[int]) -> None:
    """Any set of courses: tags stand apart, be they small."""
    found = laid(name, keys)
    assert len(found) == len(keys)
    assert all(apart(one, other) for one, other in combinations(found, 2))


@example("grand_275", set(range(1, 8)))
@example("grand_210", {29, 34, 35, 36, 37, 38, 40, 45, 47, 48, 49, 51, 56, 62, 84, 86})
@given(st.sampled_from(SHIPPED), st.sets(st.integers(1, 88), min_size=2, max_size=36))
def test_leaders_never_cross_and_never_run_under_a_tag(name: str, keys: set[int]) -> None:
    """Any set of courses whose bass fits beyond its bridge: each leader has its way to itself."""
    bass = sorted(key for key in keys if key < 27)
    found = laid(name, keys - set(bass[MOST_AT_FAR_ENDS:]))
    for one, other in combinations(found, 2):
        assert not any(cross(a, b, c, d) for a, b in pairwise(one.leader) for c, d in pairwise(other.leader))
        assert not under(one, other.leader)
        assert not under(other, one.leader)


def test_the_busiest_contact_of_a_course_is_the_large_dot() -> None:
    """Course 40 is touched once near its end and twice further on: two dots, the second larger."""
    casting = playing("grand_275", ((40, 40.0), (40, 400.0), (40, 405.0)))
    assert [(key, count) for key, _, count in contact_points(casting)] == [(40, 1), (40, 2)]
    dots = list(draw_dots(casting, {}, Board()))
    assert [('r="10.5"' in dot) for dot in dots] == [False, True]


@given(st.lists(st.floats(0.0, 1000.0), min_size=1, max_size=30).map(sorted), st.floats(1.0, 30.0))
def test_spread_keeps_order_distance_and_ends(wanted: list[float], step: float) -> None:
    """Places come out a step apart at least, between the ends; those far enough apart stay where they are."""
    places = spread(wanted, [step] * (len(wanted) - 1), 0.0, 1000.0)
    assert all(after - before >= step - 1e-6 for before, after in pairwise(places))
    assert places[0] >= -1e-6
    assert places[-1] <= 1000.0 + 1e-6
    if all(after - before >= step for before, after in pairwise(wanted)):
        assert places == pytest.approx(wanted)
