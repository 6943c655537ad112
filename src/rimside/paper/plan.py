"""The plan of the piano as a drawing: the open instrument from above, its people, rests and contact points.

The keyboard lies at the left and the tail at the right, as seen from above: the plan is turned by a quarter, never
mirrored, so the bass and the straight side are at the top. One drawing unit is one mm of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rimside.casting.result import Casting
from rimside.paper import plan_case, plan_people, plan_strings
from rimside.paper.lettering import FAMILIES
from rimside.paper.plan_marks import Board, contact_marks, place_marks, rest_marks, scale_bar, spot_marks
from rimside.paper.rests import named_rests
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.pitch import Key, LabelScheme

MARGIN_MM = 310.0
"""Floor left round the walking line, for people and their names."""


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
    left, top, width, height = view_box_mm(piano)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.0f} {top:.0f} {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" font-family="{", ".join(FAMILIES)}">'
    )
    layers = _layers(piano, casting, players, scheme, pitch_colours or {}, prefix)
    return "\n".join([head, *layers, "</svg>"])


def view_box_mm(piano: Piano) -> tuple[float, float, float, float]:
    """Left, top, width and height of the drawing, in mm of the plan turned by a quarter."""
    xs = [place.at.x_mm for place in piano.places] + [point.x_mm for point in piano.outline]
    ys = [place.at.y_mm for place in piano.places] + [point.y_mm for point in piano.outline]
    left, top = min(ys) - MARGIN_MM, min(xs) - MARGIN_MM
    return left, top, max(ys) + MARGIN_MM - left, max(xs) + MARGIN_MM - top


def _layers(
    piano: Piano,
    casting: Casting | None,
    players: Sequence[Player],
    scheme: LabelScheme,
    pitch_colours: Mapping[Key, str],
    prefix: str,
) -> Iterator[str]:
    """Bottom to top: instrument, floor, people, then what is read: marks and labels."""
    board = Board()
    yield from plan_case.case(piano, prefix)
    yield from plan_strings.strings(piano, casting, pitch_colours, prefix)
    if casting is None:
        yield from place_marks(piano, {place.id for place in piano.places}, frozenset(), prefix)
        yield from spot_marks(piano, board)
        yield from scale_bar(*view_box_mm(piano))
        return
    standing = plan_people.stands(casting, players)
    taken = frozenset(stand.place.id for stand in standing)
    yield from place_marks(piano, {cast.place for cast in casting.cast}, taken, prefix)
    yield from plan_people.arms(standing)
    yield from plan_people.bodies(standing, prefix)
    board.keep_clear_of_spots(piano)
    yield from rest_marks(piano, named_rests(casting), board)
    yield from contact_marks(piano, casting, scheme, pitch_colours, board)
    yield from spot_marks(piano, board)
    yield from scale_bar(*view_box_mm(piano))
