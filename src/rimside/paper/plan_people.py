"""People as bodies: shoulders as broad as they are, a head with its sign, arms that end where they play."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rimside.casting.result import CastFigure
from rimside.paper import svg
from rimside.paper.plan_marks import DARK, PAPER, beyond
from rimside.paper.plan_moment import CHEST_MM, Stand
from rimside.piano.model import Point

HEAD_MM, ARM_MM = 82.0, 48.0
"""Radius of a head, breadth of an arm, as drawn. Our own choice."""


def arms(standing: Sequence[Stand]) -> Iterator[str]:
    """The arms of each player, to the contact points of what is played; what lies under them shows through."""
    for stand in standing:
        for cast in stand.plays:
            for shoulder, hand in _arms(stand, cast):
                yield svg.line(
                    shoulder, hand, stroke=stand.player.colour, stroke_width=ARM_MM, stroke_linecap="round",
                    opacity=0.42,
                )  # fmt: skip


def _arms(stand: Stand, cast: CastFigure) -> Iterator[tuple[Point, Point]]:
    """Left and right shoulder with their hands; one-handed figures move one arm only."""
    side = 0.36 * stand.body.shoulder_breadth_mm
    left = beyond(stand.at, stand.place.heading_deg + 90.0, side)
    right = beyond(stand.at, stand.place.heading_deg - 90.0, side)
    hands = [Point(x_mm=contact.x_mm, y_mm=contact.y_mm) for contact in cast.contacts]
    across = sorted(hands, key=lambda hand: hand.distance_mm(left) - hand.distance_mm(right))
    if "left" in cast.hands and across:
        yield left, across[0]
    if "right" in cast.hands and across:
        yield right, across[-1]


def bodies(standing: Sequence[Stand], prefix: str) -> Iterator[str]:
    """Shoulders, head and sign of everybody who is drawn."""
    for stand in standing:
        yield f'<g id="{prefix}-player-{stand.player.id}">'
        yield from _body(stand)
        yield "</g>"


def _body(stand: Stand) -> Iterator[str]:
    breadth, colour = stand.body.shoulder_breadth_mm, stand.player.colour
    centre = svg.xy(stand.at).split(",")
    # On paper the plan is turned: a body that faces along x looks down the sheet.
    turn = 90.0 - stand.place.heading_deg
    yield (
        f'<ellipse cx="{centre[0]}" cy="{centre[1]}" rx="{CHEST_MM / 2:.0f}" ry="{breadth / 2:.0f}" '
        f'transform="rotate({turn:.1f} {centre[0]} {centre[1]})" fill="{colour}" stroke="{DARK}" stroke-width="6"/>'
    )
    yield svg.circle(stand.at, HEAD_MM, fill=PAPER, stroke=DARK, stroke_width=6)
    size = 104.0 if len(stand.player.sign) == 1 else 66.0
    yield svg.text(stand.at, stand.player.sign, size, font_weight="bold", fill="#000000")
