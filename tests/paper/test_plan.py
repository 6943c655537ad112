"""The plan as a drawing: complete, not mirrored, and safe with any text."""

from __future__ import annotations

import math
import xml.etree.ElementTree as Tree
from collections.abc import Iterator
from dataclasses import replace

import pytest

from rimside.casting.result import Casting
from rimside.paper.plan import make_plan_svg, view_box_mm
from rimside.paper.plan_case import bridge_runs, key_middle_mm
from rimside.paper.plan_marks import Board
from rimside.paper.plan_strings import COPPER, STEEL, played_keys
from rimside.piano.model import Keyboard, Point
from rimside.piano.shipped import SHIPPED
from tests.paper import fixture

SVG = "{http://www.w3.org/2000/svg}"


def drawn(name: str = "grand_275", **more: object) -> Tree.Element:
    return Tree.fromstring(make_plan_svg(fixture.piano(name), **more))  # type: ignore[arg-type]


def whole() -> Tree.Element:
    return drawn(casting=fixture.casting(), players=fixture.players())


def line_of(root: Tree.Element, course: int) -> Tree.Element:
    group = next(g for g in root.iter(f"{SVG}g") if g.get("id") == f"plan-course-{course}")
    return next(line for line in group.iter(f"{SVG}line") if line.get("stroke") in (STEEL, COPPER))


@pytest.mark.parametrize("name", SHIPPED)
def test_every_string_is_drawn_once(name: str) -> None:
    """As many steel and copper lines as the piano has strings, wound ones copper."""
    piano = fixture.piano(name)
    strokes = [line.get("stroke") for line in drawn(name).iter(f"{SVG}line")]
    assert strokes.count(COPPER) == sum(course.strings for course in piano.courses if course.wound)
    assert strokes.count(STEEL) == sum(course.strings for course in piano.courses if not course.wound)


def test_the_keyboard_is_at_the_left_and_the_bass_at_the_top() -> None:
    """Seen from above with the tail at the right, the bass side is the upper one: a turn, not a mirror."""
    root = drawn()
    bass, treble = line_of(root, 1), line_of(root, 88)
    assert float(bass.get("x1") or 0) < float(bass.get("x2") or 0)
    assert float(bass.get("y1") or 0) < float(treble.get("y1") or 0)


def test_everything_lies_inside_the_drawing() -> None:
    """Every place and every point of the case falls into the view box of an empty plan."""
    for name in SHIPPED:
        piano = fixture.piano(name)
        left, top, width, height = view_box_mm(piano)
        for point in (*piano.outline, *(place.at for place in piano.places)):
            assert left + 20.0 <= point.y_mm <= left + width - 20.0
            assert top + 20.0 <= point.x_mm <= top + height - 20.0


def test_ids_are_unique_and_name_courses_places_and_people() -> None:
    """The page will look parts of the drawing up by id."""
    ids = [item.get("id") for item in whole().iter() if item.get("id")]
    assert len(ids) == len(set(ids))
    assert {"plan-course-1", "plan-course-88", "plan-place-S3", "plan-player-ada"} <= set(ids)


def test_names_are_text_and_never_markup() -> None:
    """A sign or spot with angle brackets stays a text."""
    piano = fixture.piano()
    spot = replace(piano.spots[0], name='<b>&"quoted"</b>')
    root = Tree.fromstring(make_plan_svg(replace(piano, spots=(spot,))))
    assert any(text.text == spot.name for text in root.iter(f"{SVG}text"))


def test_played_courses_are_lit_and_others_are_not() -> None:
    """Every course that strings are played on has one more line than its strings, in a colour."""
    root, lit = whole(), played_keys(fixture.casting())
    for course in fixture.piano().courses:
        group = next(g for g in root.iter(f"{SVG}g") if g.get("id") == f"plan-course-{course.key}")
        plain = course.strings * (2 if course.wound else 1)
        assert len(group.findall(f"{SVG}line")) == plain + (course.key in lit), course.key


def test_bodies_are_as_broad_as_their_players() -> None:
    """An ellipse's longer axis is the shoulder breadth of the casting."""
    breadths = {body.id: body.shoulder_breadth_mm for body in fixture.casting().players}
    for group in whole().iter(f"{SVG}g"):
        name = (group.get("id") or "").removeprefix("plan-player-")
        if name in breadths:
            ellipse = group.find(f"{SVG}ellipse")
            assert ellipse is not None
            assert 2.0 * float(ellipse.get("ry") or 0) == pytest.approx(breadths[name], abs=1.0)


def test_nothing_leaves_the_drawing() -> None:
    """Every body, rectangle, circle and text of the drawn plan lies inside its view box, on every piano."""
    for name in SHIPPED:
        root = drawn(name, casting=crowded(name), players=fixture.players())
        left, top, width, height = map(float, (root.get("viewBox") or "").split())
        seen = 0
        for from_x, to_x, from_y, to_y in extents(root):
            assert left <= from_x <= to_x <= left + width, name
            assert top <= from_y <= to_y <= top + height, name
            seen += 1
        assert seen > 50


def crowded(name: str) -> Casting:
    """The fixture's figures with its players spread over the outermost places of a piano."""
    places = fixture.piano(name).places
    spread = {player.id: places[number * len(places) // 8].id for number, player in enumerate(fixture.players())}
    whole = fixture.casting()
    cast = tuple(replace(one, place=spread[one.player]) for one in whole.cast)
    return replace(whole, piano=name, places=places, cast=cast)


def extents(root: Tree.Element) -> Iterator[tuple[float, float, float, float]]:
    """From and to across and down of what has to stay on the page; the keyboard's own parts are clipped."""
    clipped = {id(item) for group in root.iter(f"{SVG}g") if group.get("clip-path") for item in group.iter()}
    for item in root.iter():
        if id(item) in clipped:
            continue
        value = {key: float(item.get(key) or 0) for key in ("x", "y", "width", "height", "cx", "cy", "r", "rx", "ry")}
        if item.tag == f"{SVG}rect":
            yield value["x"], value["x"] + value["width"], value["y"], value["y"] + value["height"]
        elif item.tag == f"{SVG}circle":
            yield around(value["cx"], value["cy"], value["r"], value["r"])
        elif item.tag == f"{SVG}ellipse":
            turn = math.radians(float((item.get("transform") or "").removeprefix("rotate(").split()[0]))
            across = math.hypot(value["rx"] * math.cos(turn), value["ry"] * math.sin(turn))
            down = math.hypot(value["rx"] * math.sin(turn), value["ry"] * math.cos(turn))
            yield around(value["cx"], value["cy"], across, down)
        elif item.tag == f"{SVG}text":
            size = float(item.get("font-size") or 0)
            half = 0.3 * size * len(item.text or "")
            yield value["x"] - half, value["x"] + half, value["y"] - 0.7 * size, value["y"] + 0.2 * size


def around(x: float, y: float, across: float, down: float) -> tuple[float, float, float, float]:
    return x - across, x + across, y - down, y + down


def test_bridges_are_two_on_an_overstrung_grand() -> None:
    """The far ends of all courses fall on a bass bridge and a long bridge."""
    for name in SHIPPED:
        assert len(bridge_runs(fixture.piano(name).courses)) == 2, name


def test_keys_lie_in_order_with_the_black_ones_on_the_joints() -> None:
    """Middles grow from the lowest key to the highest, and all lie on the keyboard."""
    middles = [key_middle_mm(key, Keyboard()) for key in range(1, 89)]
    assert middles == sorted(middles)
    assert 0.0 < middles[0] < middles[-1] < 1225.0
    # 1225 mm over 52 white keys; key 2 (the lowest A sharp) is on the joint of the first two.
    assert middles[1] == pytest.approx(1225.0 / 52)


def test_labels_move_aside_when_a_place_is_taken() -> None:
    """A second label does not land on the first."""
    board, at = Board(), Point(x_mm=0.0, y_mm=0.0)
    aside = Point(x_mm=0.0, y_mm=100.0)
    assert board.settle([at, aside], 80.0, 40.0) == at
    assert board.settle([at, aside], 80.0, 40.0) == aside


def test_case_and_strings_are_drawn_in_one_frame() -> None:
    """The long straight side is the case's upper edge, and every string lies inside the case as drawn."""
    root = drawn()
    case = next(path for path in root.iter(f"{SVG}path") if path.get("fill") == "#E2C592")
    pairs = [pair.split(",") for pair in (case.get("d") or "").strip("MZ").split(" L")]
    across, down = ([float(pair[axis]) for pair in pairs] for axis in (0, 1))
    upper, lower = min(down), max(down)
    reach = {edge: max(x for x, y in zip(across, down, strict=True) if abs(y - edge) < 5.0) for edge in (upper, lower)}
    assert reach[upper] > reach[lower] + 1000.0
    for course in (1, 26, 44, 88):
        line = line_of(root, course)
        for x, y in ((line.get("x1"), line.get("y1")), (line.get("x2"), line.get("y2"))):
            assert min(across) < float(x or 0) < max(across)
            assert upper < float(y or 0) < lower
