"""Places round the rim."""

from __future__ import annotations

import itertools
import math

import pytest

from rimside.errors import BadInput
from rimside.piano.geometry import FloorObstacle, outline_polygon, places_round
from rimside.piano.model import Place
from rimside.piano.shipped import SHIPPED
from tests.piano.example import piano, point, survey

every_piano = pytest.mark.parametrize("name", SHIPPED)
SQUARE = (point(0, 0), point(0, 2000), point(1400, 2000), point(1400, 0), point(0, 0))


def sides(places: tuple[Place, ...]) -> dict[str, list[Place]]:
    return {side: [place for place in places if place.id[0] == side] for side in "KSTB"}


@every_piano
def test_people_can_stand_on_every_side(name: str) -> None:
    """Keyboard, straight side, tail and bent side have one place at least, and ids are unique."""
    assert all(sides(piano(name).places).values())
    assert len({place.id for place in piano(name).places}) == len(piano(name).places)


@every_piano
def test_bodies_stand_half_a_body_from_the_case(name: str) -> None:
    """Each place is 150 mm outside the outline and faces it."""
    from shapely import Point as Dot

    polygon = outline_polygon(piano(name).outline)
    for place in piano(name).places:
        assert polygon.exterior.distance(Dot(place.at.x_mm, place.at.y_mm)) == pytest.approx(150.0, abs=1.0)
        assert not polygon.contains(Dot(place.at.x_mm, place.at.y_mm))
        heading = math.radians(place.heading_deg)
        ahead = Dot(place.at.x_mm + 200 * math.cos(heading), place.at.y_mm + 200 * math.sin(heading))
        assert polygon.contains(ahead), place.id


@every_piano
def test_numbers_run_clockwise_and_keys_from_the_bass(name: str) -> None:
    """S rises towards the tail, B falls towards the keyboard, K counts from the bass; the rim is measured clockwise."""
    by_side = sides(piano(name).places)
    assert [p.at.y_mm for p in by_side["S"]] == sorted(p.at.y_mm for p in by_side["S"])
    assert [p.at.y_mm for p in by_side["B"]] == sorted((p.at.y_mm for p in by_side["B"]), reverse=True)
    assert [p.at.x_mm for p in by_side["K"]] == sorted(p.at.x_mm for p in by_side["K"])
    round_the_rim = [p.along_rim_mm for p in (*by_side["S"], *by_side["T"], *by_side["B"], *reversed(by_side["K"]))]
    assert round_the_rim == sorted(round_the_rim)
    assert 0 <= round_the_rim[0] < round_the_rim[-1] < piano(name).rim_length_mm


@every_piano
def test_neighbours_are_never_nearer_than_the_spacing_allows(name: str) -> None:
    """Along the rim two places are 300 mm apart or more."""
    along = sorted(place.along_rim_mm for place in piano(name).places)
    gaps = [b - a for a, b in itertools.pairwise(along)] + [along[0] + piano(name).rim_length_mm - along[-1]]
    assert min(gaps) >= 295.0


@every_piano
def test_only_places_in_front_of_the_keys_are_at_the_keyboard(name: str) -> None:
    """Keys are played from the front, between the ends of the keyboard."""
    for place in piano(name).places:
        assert place.at_keyboard == (place.id.startswith("K") and 0 <= place.at.x_mm <= 1225)
    assert any(place.at_keyboard for place in piano(name).places)


def test_length_of_the_walking_line_round_a_box() -> None:
    """Round a box it is the box's edge and the corners' full circle of half a body."""
    _, length_mm = places_round(SQUARE)
    assert length_mm == pytest.approx(2 * (1400 + 2000) + 2 * math.pi * 150, rel=1e-3)


def test_along_rim_starts_at_the_bass_end_of_the_keyboard() -> None:
    """On a box the first place of the straight side lies as far along the rim as it lies from the front corner."""
    places, _ = places_round(SQUARE)
    first = next(place for place in places if place.id == "S1")
    assert first.along_rim_mm == pytest.approx(first.at.y_mm, abs=1.0)
    assert first.heading_deg == pytest.approx(0.0, abs=0.2)


def test_direction_of_drawing_does_not_matter() -> None:
    """An outline measured anticlockwise gives the same places."""
    assert places_round(SQUARE) == places_round(SQUARE[::-1])


def test_nobody_stands_at_an_obstacle() -> None:
    """A leg that sticks out takes its place away; the others keep their ids."""
    places, _ = places_round(SQUARE)
    leg = next(place for place in places if place.id == "S2")
    left, _ = places_round(SQUARE, floor=(FloorObstacle(name="leg", at=leg.at, radius_mm=20),))
    assert {p.id for p in places} - {p.id for p in left} == {"S2"}


def test_a_wall_takes_a_whole_side_away() -> None:
    """The straight side close to a wall."""
    wall = FloorObstacle(name="wall", at=point(-200, -500), to=point(-200, 2500), radius_mm=0)
    left, _ = places_round(SQUARE, floor=(wall,))
    assert not sides(left)["S"]
    assert sides(left)["B"]


def test_wider_spacing_gives_fewer_places() -> None:
    """Twice the spacing, half the places, give or take the rounding on each of the four sides."""
    near, _ = places_round(survey().outline)
    wide, _ = places_round(survey().outline, spacing_mm=600)
    assert len(near) / 2 - 4 <= len(wide) <= len(near) / 2 + 4


def test_an_outline_needs_an_area() -> None:
    """Three points that only go there and back are refused."""
    with pytest.raises(BadInput):
        outline_polygon((point(0, 0), point(1, 0), point(0, 0)))
