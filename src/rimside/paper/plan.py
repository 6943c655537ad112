"""The plan of the piano as a drawing: the open instrument from above, its people, rests and contact points.

The keyboard lies at the left and the tail at the right, as seen from above: the plan is turned by a quarter, never
mirrored, so the bass and the straight side are at the top. One drawing unit is one mm of the plan.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from rimside.casting.result import Casting
from rimside.paper import plan_case, plan_people, plan_strings, plan_tags
from rimside.paper.lettering import FAMILIES
from rimside.paper.plan_marks import Board, place_marks, rest_marks, scale_bar, spot_marks
from rimside.paper.plan_moment import Scene, Stand, busiest_moment
from rimside.paper.rests import named_rests
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.pitch import Key, LabelScheme

MARGIN_MM = 24.0
"""Floor left round everything that is drawn."""
SCALE_MM = 56.0
"""Floor left below it for the scale."""


def make_plan_svg(
    piano: Piano,
    *,
    casting: Casting | None = None,
    players: Sequence[Player] = (),
    scheme: LabelScheme = LabelScheme.SCIENTIFIC,
    pitch_colours: Mapping[Key, str] | None = None,
    prefix: str = "plan",
) -> str:
    """The plan as SVG text; without a casting the instrument and its places alone.

    Parameters
    ----------
    pitch_colours : the production's own colours, #RRGGBB by key; the others take those of their pitch class.
    prefix : put before every id of the drawing, so that several can stand on one page.

    Courses carry the id PREFIX-course-KEY, people PREFIX-player-ID, places PREFIX-place-ID.
    """
    board = Board()
    scene = busiest_moment(casting, players) if casting is not None else None
    layers = list(_layers(piano, casting, scene, scheme, pitch_colours or {}, prefix, board))
    left, top, width, height = box = view_box_mm(piano, scene.standing if scene is not None else (), board)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.0f} {top:.0f} {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" font-family="{", ".join(FAMILIES)}">'
    )
    return "\n".join([head, *layers, *scale_bar(*box), "</svg>"])


def view_box_mm(
    piano: Piano, standing: Sequence[Stand] = (), board: Board | None = None
) -> tuple[float, float, float, float]:
    """Left, top, width and height of the drawing, mm of the plan turned by a quarter, with bodies, labels and scale."""
    edge = [*piano.outline, *(place.at for place in piano.places)]
    edge += [point for stand in standing for point in stand.outline()]
    across, down = [point.y_mm for point in edge], [point.x_mm for point in edge]
    for from_y, to_y, from_x, to_x in board.taken if board is not None else ():
        across += [from_y, to_y]
        down += [from_x, to_x]
    left, top = math.floor(min(across) - MARGIN_MM), math.floor(min(down) - MARGIN_MM)
    foot_mm = MARGIN_MM + SCALE_MM
    return left, top, math.ceil(max(across) + MARGIN_MM) - left, math.ceil(max(down) + foot_mm) - top


def _layers(
    piano: Piano,
    casting: Casting | None,
    scene: Scene | None,
    scheme: LabelScheme,
    pitch_colours: Mapping[Key, str],
    prefix: str,
    board: Board,
) -> Iterator[str]:
    """Bottom to top: instrument, floor, people, then what is read: marks and labels."""
    yield from plan_case.case(piano, prefix)
    yield from plan_strings.strings(piano, casting, pitch_colours, prefix)
    if casting is None or scene is None:
        yield from place_marks(piano, {place.id for place in piano.places}, (), prefix, board)
        yield from spot_marks(piano, board)
        return
    yield from place_marks(piano, {cast.place for cast in casting.cast}, scene.standing, prefix, board)
    yield from plan_people.arms(scene.standing)
    yield from plan_people.bodies(scene.standing, prefix)
    board.keep_clear_of(scene.standing)
    board.keep_clear_of_spots(piano)
    yield from plan_tags.draw_tags(plan_tags.tags(piano, casting, scheme), pitch_colours, board)
    yield from rest_marks(named_rests(casting), board)
    yield from plan_tags.draw_dots(casting, pitch_colours, board)
    yield from spot_marks(piano, board)
