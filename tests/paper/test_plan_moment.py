"""The moment that the plan shows: real, the busiest, and without bodies in each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimside.casting.result import Casting
from rimside.paper.book import plan_legend
from rimside.paper.plan_moment import Scene, busiest_moment
from rimside.piano.model import Point
from tests.paper import fixture


def scene(casting: Casting) -> Scene:
    return busiest_moment(casting, fixture.players())


def timed(*rows: tuple[str, str, float, float]) -> Casting:
    """A casting of these figures only: player, place, start and end in seconds."""
    whole = fixture.casting()
    figures, cast = [], []
    for number, (player, place, start_s, end_s) in enumerate(rows):
        figures.append(replace(whole.figures[number], start_s=start_s, end_s=end_s))
        cast.append(replace(whole.cast[0], figure=whole.figures[number].id, player=player, place=place))
    return replace(whole, figures=tuple(figures), cast=tuple(cast), uncast=(), chores=(), pedals=())


def test_the_moment_is_when_most_play_and_the_earliest_of_equals() -> None:
    """One plays from 0 s, two from 5 s, two again from 20 s: the plan shows 5 s."""
    shown = scene(
        timed(
            ("ada", "S1", 0, 8), ("bo", "S4", 5, 9), ("cy", "B2", 20, 30), ("di", "B5", 19, 25), ("ada", "S1", 40, 41)
        )
    )
    assert shown.at_s == 5.0
    assert {stand.player.id for stand in shown.standing if stand.plays} == {"ada", "bo"}


def test_who_waits_stands_where_the_next_figure_is() -> None:
    """Cy has played at B2 and will play at B4: drawn at B4, playing nothing; and Di, who is done, at the last place."""
    shown = scene(
        timed(
            ("cy", "B2", 0, 1), ("di", "B6", 0, 1), ("ada", "S1", 5, 9), ("bo", "S4", 5, 9), ("ed", "K4", 5, 9),
            ("cy", "B4", 20, 30),
        )
    )  # fmt: skip
    at = {stand.player.id: (stand.place.id, len(stand.plays)) for stand in shown.standing}
    assert at == {"ada": ("S1", 1), "bo": ("S4", 1), "cy": ("B4", 0), "di": ("B6", 0), "ed": ("K4", 1)}


def test_who_would_stand_in_another_comes_later_and_the_legend_says_so() -> None:
    """Bo's first place is where Ada plays now: no body for Bo, and words instead."""
    casting = timed(("ada", "S3", 0, 8), ("bo", "S3", 10, 18))
    shown = scene(casting)
    assert [stand.player.id for stand in shown.standing] == ["ada"]
    assert shown.not_drawn == {"bo": "comes later, to S3"}
    legend = plan_legend(replace(fixture.book(), casting=casting))
    people = legend["people"]
    assert isinstance(people, list)
    assert {row["sign"]: row["note"] for row in people}["B"] == "comes later, to S3"


def test_a_figure_that_ends_as_another_begins_is_over() -> None:
    """Hand over at 8 s: never two at once."""
    assert len([s for s in scene(timed(("ada", "S1", 0, 8), ("bo", "S5", 8, 9))).standing if s.plays]) == 1


def test_the_legend_says_bar_and_time_of_the_moment() -> None:
    """The bar and time are those of the figure that begins then."""
    casting = fixture.casting()
    legend, shown = plan_legend(fixture.book()), scene(casting)
    begun = [figure for figure in casting.figures if figure.start_s == shown.at_s]
    assert legend["bar"] in {figure.bar for figure in begun}
    assert legend["time"] == f"{shown.at_s // 60:.0f}:{shown.at_s % 60:04.1f}"
    assert legend["playing"] == sum(1 for stand in shown.standing if stand.plays)


PLACES = [place.id for place in fixture.piano().places]


@given(st.lists(st.tuples(st.sampled_from(PLACES), st.integers(0, 6), st.integers(1, 4)), min_size=8, max_size=8))
def test_no_two_bodies_overlap_and_everybody_is_told_of(rows: Sequence[tuple[str, int, int]]) -> None:
    """Whatever places and times: bodies are apart, and each player is drawn or named, once."""
    players = fixture.players()
    shown = scene(
        timed(*((p.id, place, float(at), float(at + long)) for p, (place, at, long) in zip(players, rows, strict=True)))
    )
    for one, other in combinations(shown.standing, 2):
        assert not one.meets(other)
        assert not any(one.covers(other.at) or other.covers(point) for point in one.outline())
    told = sorted([*shown.not_drawn, *(stand.player.id for stand in shown.standing)])
    assert told == sorted(player.id for player in players)


def test_the_edge_of_a_body_is_an_ellipse_of_its_breadth_across_the_way_it_faces() -> None:
    """At S3, facing along x, the body is 254 mm deep and as broad as its shoulders."""
    stand = next(stand for stand in scene(timed(("ada", "S3", 0, 8))).standing)
    edge = stand.outline()
    deep = max(p.x_mm for p in edge) - min(p.x_mm for p in edge)
    broad = max(p.y_mm for p in edge) - min(p.y_mm for p in edge)
    assert deep == pytest.approx(254.0, abs=1.0)
    assert broad == pytest.approx(stand.body.shoulder_breadth_mm, abs=1.0)
    assert stand.covers(Point(x_mm=stand.at.x_mm, y_mm=stand.at.y_mm + 0.49 * broad))
    assert not stand.covers(Point(x_mm=stand.at.x_mm + 0.3 * broad, y_mm=stand.at.y_mm + 0.3 * broad))
    assert all(one.distance_mm(other) < 60.0 for one, other in pairwise(edge))
