"""People as bodies: shoulders as broad as they are, a head with its sign, arms that end where they begin to play."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rimside.casting.result import CastFigure, Casting, CastPlayer
from rimside.paper import svg
from rimside.paper.plan_marks import DARK, PAPER, beyond
from rimside.people import Player
from rimside.piano.model import Place, Point

CHEST_MM, HEAD_MM, ARM_MM = 254.0, 82.0, 48.0
"""Depth of a body, radius of a head, breadth of an arm, as drawn. Chest depth: ANSUR II mean, men."""
_STEP_BACK_MM = 330.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A player at the first place: body, place, where the body is drawn, and the first figure."""

    player: Player
    body: CastPlayer
    place: Place
    at: Point
    first: CastFigure


def stands(casting: Casting, players: Sequence[Player]) -> list[Stand]:
    """Everybody who plays, at the place of the first figure; who shares a place stands one step further back."""
    start_s = {figure.id: figure.start_s for figure in casting.figures}
    places = {place.id: place for place in casting.places}
    bodies = {body.id: body for body in casting.players}
    found: list[Stand] = []
    for player in players:
        mine = [cast for cast in casting.cast if cast.player == player.id]
        if not mine or player.id not in bodies:
            continue
        first = min(mine, key=lambda cast: (start_s[cast.figure], cast.figure))
        place = places[first.place]
        at = _stepped_back(place, found)
        found.append(Stand(player=player, body=bodies[player.id], place=place, at=at, first=first))
    return found


def _stepped_back(place: Place, found: Sequence[Stand]) -> Point:
    already = sum(1 for stand in found if stand.place.id == place.id)
    return beyond(place.at, place.heading_deg + 180.0, _STEP_BACK_MM * already)


def arms(standing: Sequence[Stand]) -> Iterator[str]:
    """The arms of each player, to the contact points of the first figure; what lies under them shows through."""
    for stand in standing:
        for shoulder, hand in _arms(stand):
            yield svg.line(
                shoulder, hand, stroke=stand.player.colour, stroke_width=ARM_MM, stroke_linecap="round", opacity=0.42
            )


def _arms(stand: Stand) -> Iterator[tuple[Point, Point]]:
    """Left and right shoulder with their hands; one-handed figures move one arm only."""
    side = 0.36 * stand.body.shoulder_breadth_mm
    left = beyond(stand.at, stand.place.heading_deg + 90.0, side)
    right = beyond(stand.at, stand.place.heading_deg - 90.0, side)
    hands = [Point(x_mm=contact.x_mm, y_mm=contact.y_mm) for contact in stand.first.contacts]
    across = sorted(hands, key=lambda hand: hand.distance_mm(left) - hand.distance_mm(right))
    if "left" in stand.first.hands:
        yield left, across[0]
    if "right" in stand.first.hands:
        yield right, across[-1]


def bodies(standing: Sequence[Stand], prefix: str) -> Iterator[str]:
    """Shoulders, head and sign of everybody who plays."""
    for stand in standing:
        yield f'<g id="{prefix}-player-{stand.player.id}">'
        yield from _body(stand)
        yield "</g>"


def _body(stand: Stand) -> Iterator[str]:
    breadth, colour = stand.body.shoulder_breadth_mm, stand.player.colour
    edge = DARK
    centre = svg.xy(stand.at).split(",")
    # On paper the plan is turned: a body that faces along x looks down the sheet.
    turn = 90.0 - stand.place.heading_deg
    yield (
        f'<ellipse cx="{centre[0]}" cy="{centre[1]}" rx="{CHEST_MM / 2:.0f}" ry="{breadth / 2:.0f}" '
        f'transform="rotate({turn:.1f} {centre[0]} {centre[1]})" fill="{colour}" stroke="{edge}" stroke-width="6"/>'
    )
    yield svg.circle(stand.at, HEAD_MM, fill=PAPER, stroke=DARK, stroke_width=6)
    size = 104.0 if len(stand.player.sign) == 1 else 66.0
    yield svg.text(stand.at, stand.player.sign, size, font_weight="bold", fill="#000000")
