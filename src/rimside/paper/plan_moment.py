"""Which real moment of the piece the plan shows, and where everybody stands then."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rimside.casting.result import CastFigure, Casting, CastPlayer
from rimside.people import Player
from rimside.piano.model import Place, Point
from rimside.score.model import Figure

CHEST_MM = 254.0
"""Depth of a body as drawn. Source: ANSUR II, chest depth, mean of men."""
_EDGE_POINTS = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A player at a place, and the figures that the player plays there at the moment shown; none for who waits."""

    player: Player
    body: CastPlayer
    place: Place
    plays: tuple[CastFigure, ...] = ()

    @property
    def at(self) -> Point:
        """Where the middle of the body is."""
        return self.place.at

    def outline(self) -> tuple[Point, ...]:
        """The edge of the body as seen from above, in mm of the plan."""
        turn = math.radians(self.place.heading_deg)
        deep, broad = CHEST_MM / 2, self.body.shoulder_breadth_mm / 2
        edge = []
        for number in range(_EDGE_POINTS):
            angle = 2 * math.pi * number / _EDGE_POINTS
            ahead, aside = deep * math.cos(angle), broad * math.sin(angle)
            edge.append(
                Point(
                    x_mm=self.at.x_mm + ahead * math.cos(turn) - aside * math.sin(turn),
                    y_mm=self.at.y_mm + ahead * math.sin(turn) + aside * math.cos(turn),
                )
            )
        return tuple(edge)

    def covers(self, point: Point) -> bool:
        """Whether a point lies under the body."""
        turn = math.radians(self.place.heading_deg)
        dx, dy = point.x_mm - self.at.x_mm, point.y_mm - self.at.y_mm
        ahead = dx * math.cos(turn) + dy * math.sin(turn)
        aside = dy * math.cos(turn) - dx * math.sin(turn)
        return math.hypot(2 * ahead / CHEST_MM, 2 * aside / self.body.shoulder_breadth_mm) < 1.0

    def meets(self, other: Stand) -> bool:
        """Whether two bodies as drawn share any floor."""
        return any(map(self.covers, (other.at, *other.outline()))) or any(map(other.covers, self.outline()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One moment: who stands where, and who is not drawn, with the reason in a few words, by player id.

    `figure` is the one whose start is the moment, None when nobody plays anything.
    """

    at_s: float
    figure: Figure | None
    standing: tuple[Stand, ...]
    not_drawn: Mapping[str, str]


def busiest_moment(casting: Casting, players: Sequence[Player]) -> Scene:
    """The moment at which most players play and can be drawn side by side; the earliest of equals.

    Who does not play then stands where the next figure will be played (or, when done, where the last one was) if
    no shoulders are in the way there.
    """
    figures = {figure.id: figure for figure in casting.figures}
    cast_players = {cast.player for cast in casting.cast}
    present = [player for player in players if player.id in cast_players]
    starts = sorted({figures[cast.figure].start_s for cast in casting.cast})
    best, at_s = (), 0.0  # type: tuple[Stand, ...], float
    for start_s in starts:
        standing = _playing(casting, present, figures, start_s)
        if len(standing) > len(best):
            best, at_s = standing, start_s
    begun = [figures[cast.figure] for stand in best for cast in stand.plays]
    figure = max(begun, key=lambda one: (one.start_s, one.id), default=None)
    standing, not_drawn = _with_waiting(casting, present, figures, at_s, best)
    return Scene(at_s=at_s, figure=figure, standing=standing, not_drawn=not_drawn)


def _playing(
    casting: Casting, players: Sequence[Player], figures: Mapping[str, Figure], at_s: float
) -> tuple[Stand, ...]:
    """Who plays at a moment, in the order of the players; who would stand in another's body is left out."""
    found: list[Stand] = []
    for player in players:
        plays = tuple(
            cast for cast in casting.cast
            if cast.player == player.id and figures[cast.figure].start_s <= at_s < figures[cast.figure].end_s
        )  # fmt: skip
        if plays:
            stand = _stand(casting, player, plays[0].place, plays)
            if not any(stand.meets(other) for other in found):
                found.append(stand)
    return tuple(found)


def _stand(casting: Casting, player: Player, place: str, plays: tuple[CastFigure, ...] = ()) -> Stand:
    body = next(body for body in casting.players if body.id == player.id)
    return Stand(player=player, body=body, place=next(one for one in casting.places if one.id == place), plays=plays)


def _with_waiting(
    casting: Casting, players: Sequence[Player], figures: Mapping[str, Figure], at_s: float, playing: tuple[Stand, ...]
) -> tuple[tuple[Stand, ...], dict[str, str]]:
    """The playing and the waiting in the order of the players; and why the others are not drawn."""
    standing = {stand.player.id: stand for stand in playing}
    not_drawn: dict[str, str] = {}
    for player in players:
        if player.id in standing:
            continue
        cast, words = _next_or_last(casting, player, figures, at_s)
        stand = _stand(casting, player, cast.place)
        if any(stand.meets(other) for other in standing.values()):
            not_drawn[player.id] = f"{words} {cast.place}"
        else:
            standing[player.id] = stand
    return tuple(standing[player.id] for player in players if player.id in standing), not_drawn


def _next_or_last(
    casting: Casting, player: Player, figures: Mapping[str, Figure], at_s: float
) -> tuple[CastFigure, str]:
    """The figure that places a player who is not drawn playing, and how the legend says so."""
    mine = [cast for cast in casting.cast if cast.player == player.id]
    mine.sort(key=lambda cast: (figures[cast.figure].start_s, cast.figure))
    now = next((cast for cast in mine if figures[cast.figure].start_s <= at_s < figures[cast.figure].end_s), None)
    if now is not None:
        return now, "plays too, at"
    later = next((cast for cast in mine if figures[cast.figure].start_s > at_s), None)
    return (later, "comes later, to") if later is not None else (mine[-1], "is done, was at")
