"""A chore as tasks: the moments at which it could begin, who could do it, from where, touching what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rimside.casting.allowances import FOOT_REACH_MM, PEDAL_X_MM
from rimside.casting.chore import Chore, ChoreKind
from rimside.casting.contacts import LANE_SPACING_MM
from rimside.casting.problem import Lane, Task
from rimside.casting.result import CastPlayer, Contact
from rimside.casting.scale import TIE_S, length_down_mm, length_up_mm, written_mm, written_s
from rimside.piano.access import contact_lanes
from rimside.piano.model import Piano, Point
from rimside.piano.nodes import FINGER
from rimside.pitch import Key
from rimside.score.model import Figure

SLOTS_AT_MOST = 6
"""Moments tried for one chore; what is proved best is best among these."""
AFTER_S = 1.0
"""From the end of a figure to a moment at which its player, tools put down, can begin a chore. Our assumption."""
FAR_MM = 10**6
"""A distance that nobody reaches."""
RULE = "H3"
AT_THE_PEDALS = {ChoreKind.HOLD_PEDAL, ChoreKind.WEDGE, ChoreKind.UNWEDGE}
AT_THE_KEYS = {ChoreKind.HOLD_KEY}


def slots_of(chore: Chore, piano: Piano, players: Sequence[CastPlayer], figures: Sequence[Figure]) -> Iterator[Task]:
    """One task for each moment, all alike but for their time; a chore that nobody can do is barred in each."""
    lanes = tuple(lanes_of(chore, piano))
    places = tuple(q for q in range(len(piano.places)) if any(lane.distance_mm[q] < FAR_MM for lane in lanes))
    reach = [length_down_mm(player.reach_mm) for player in players]
    able = tuple(
        p for p in range(len(players)) if any(lane.distance_mm[q] <= reach[p] for lane in lanes for q in places)
    )
    barred = None if able else (RULE, f"nobody can {chore.kind.value} ({chore.target}) from any place at this piano")
    for start_s in starts_s(chore, figures):
        yield Task(
            index=0,
            unit=0,
            work=chore,
            start_s=start_s,
            end_s=written_s(start_s + chore.length_s),
            hands=chore.hands,
            feet=chore.feet,
            need=0,
            kind="",
            bow_key=None,
            bow_count=0,
            players=able,
            places=places,
            lanes=lanes,
            implements=(),
            pick_s=0.0,
            put_s=0.0,
            weight=chore.weight,
            things=frozenset(),
            barred=barred,
        )


def starts_s(chore: Chore, figures: Sequence[Figure]) -> list[float]:
    """The first and the last moment of the window, and moments just after figures end in it, spread evenly."""
    last_s = written_s(chore.latest_s - chore.length_s)
    first_s = min(written_s(chore.earliest_s), last_s)
    after = {written_s(figure.end_s + AFTER_S) for figure in figures}
    ends = sorted(moment for moment in after if first_s + TIE_S < moment < last_s - TIE_S)
    room = SLOTS_AT_MOST - 2
    step = max(1.0, len(ends) / room)
    between = [ends[int(number * step)] for number in range(min(room, len(ends)))]
    return sorted({first_s, *between, last_s}) if last_s - first_s > TIE_S else [last_s]


def lanes_of(chore: Chore, piano: Piano) -> Iterator[Lane]:
    """Where hands or feet may be for a chore, and how far that is from each place."""
    if chore.kind in AT_THE_PEDALS:
        yield _untouched(tuple(_pedal_distance(chore.target, place.at, place.at_keyboard) for place in piano.places))
    elif chore.kind in AT_THE_KEYS:
        yield _untouched(tuple(0 if place.at_keyboard else FAR_MM for place in piano.places))
    elif not chore.keys:
        yield _untouched(tuple(0 for _ in piano.places))
    else:
        yield from _on_strings(chore.keys[0], piano)


def _untouched(distance_mm: tuple[int, ...]) -> Lane:
    return Lane(mark_mm=0.0, contacts=(), distance_mm=distance_mm)


def _pedal_distance(pedal: str, at: Point, at_keyboard: bool) -> int:
    """0 where a foot reaches the pedal, too far elsewhere."""
    return 0 if at_keyboard and abs(at.x_mm - PEDAL_X_MM[pedal]) <= FOOT_REACH_MM else FAR_MM


def _on_strings(key: Key, piano: Piano) -> Iterator[Lane]:
    course = piano.course(key)
    for at_mm in contact_lanes(piano, key, FINGER, spacing_mm=LANE_SPACING_MM, most=3):
        point = course.at(at_mm)
        contact = Contact(
            key=key,
            spot=None,
            x_mm=written_mm(point.x_mm),
            y_mm=written_mm(point.y_mm),
            from_near_end_mm=written_mm(at_mm),
            role="chore",
        )
        at = Point(x_mm=contact.x_mm, y_mm=contact.y_mm)
        distance_mm = tuple(length_up_mm(place.at.distance_mm(at)) for place in piano.places)
        yield Lane(mark_mm=written_mm(at_mm), contacts=(contact,), distance_mm=distance_mm)
