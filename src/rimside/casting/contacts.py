"""Where hands could be laid for a figure: lanes along its strings, and the finger that touches or mutes."""

from __future__ import annotations

from collections.abc import Iterator

from rimside.casting.result import Contact
from rimside.casting.scale import written_mm
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM, TechniqueRow
from rimside.piano.access import Window, contact_lanes, open_windows
from rimside.piano.model import Course, Keyboard, Piano, Point
from rimside.piano.nodes import FINGER, node_from_near_mm
from rimside.pitch import Key
from rimside.score.model import Figure, Mute

KEY_LINE_Y_MM = 50.0
"""Where a finger plays a key, from the front edge of the white keys. Our assumption."""
LANE_SPACING_MM = HAND_CLEARANCE_MM + 4.0


def contact_sets(piano: Piano, figure: Figure, row: TechniqueRow) -> Iterator[tuple[Contact, ...]]:
    """For each lane, the contacts of all courses of the figure, and of the finger that touches or mutes."""
    if figure.spot is not None:
        if (spot := piano.spot(figure.spot)) is not None:
            yield (Contact(key=None, spot=spot.name, x_mm=spot.at.x_mm, y_mm=spot.at.y_mm, from_near_end_mm=None),)
        return
    for played in _played(piano, figure, row):
        fingers = _second_hand(piano, figure, row, played)
        if fingers is not None:
            yield (*played, *fingers)


def _played(piano: Piano, figure: Figure, row: TechniqueRow) -> Iterator[tuple[Contact, ...]]:
    """For each lane, where the keys or strings themselves are met."""
    if row.at_keyboard:
        if piano.keyboard is not None:
            yield tuple(_key_contact(piano.keyboard, key) for key in figure.keys)
        return
    for at_mm in contact_lanes(piano, figure.keys[0], row.window, spacing_mm=LANE_SPACING_MM, most=4):
        played = _beside(piano, figure.keys, row.window, at_mm)
        if played is not None:
            yield played


def _key_contact(keyboard: Keyboard, key: Key) -> Contact:
    x_mm = round(keyboard.middle_mm(key), 1)
    return Contact(key=key, spot=None, x_mm=x_mm, y_mm=KEY_LINE_Y_MM, from_near_end_mm=None)


def _contact(course: Course, at_mm: float, role: str = "play") -> Contact:
    point = course.at(at_mm)
    return Contact(
        key=course.key,
        spot=None,
        x_mm=written_mm(point.x_mm),
        y_mm=written_mm(point.y_mm),
        from_near_end_mm=written_mm(at_mm),
        role=role,
    )


def _beside(piano: Piano, keys: tuple[Key, ...], window: Window, at_mm: float) -> tuple[Contact, ...] | None:
    """Contacts on all courses as near as possible to one point on the first; None when a course is covered."""
    first = _contact(piano.course(keys[0]), at_mm)
    found = [first]
    for key in keys[1:]:
        course = piano.course(key)
        wish = _foot(course, Point(x_mm=first.x_mm, y_mm=first.y_mm))
        nearest = _clamp(open_stretches(piano, key, window), wish)
        if nearest is None:
            return None
        found.append(_contact(course, nearest))
    return tuple(found)


def _foot(course: Course, point: Point) -> float:
    """Distance from the near end of the point of the course that is closest to `point`, mm."""
    dx, dy = course.far.x_mm - course.near.x_mm, course.far.y_mm - course.near.y_mm
    along = (point.x_mm - course.near.x_mm) * dx + (point.y_mm - course.near.y_mm) * dy
    return course.length_mm * along / (dx * dx + dy * dy)


def _clamp(stretches: tuple[tuple[float, float], ...], wish_mm: float) -> float | None:
    inside = [min(max(wish_mm, low), high) for low, high in stretches]
    return min(inside, key=lambda at: abs(at - wish_mm), default=None)


def open_stretches(piano: Piano, key: Key, window: Window) -> tuple[tuple[float, float], ...]:
    """Open windows of a course as plain pairs, mm from the near end."""
    return tuple((interval.from_mm, interval.to_mm) for interval in open_windows(piano, key, window))


def _second_hand(
    piano: Piano, figure: Figure, row: TechniqueRow, played: tuple[Contact, ...]
) -> tuple[Contact, ...] | None:
    """The fingers at a node and on the string of each course; () when it asks for none, None when one finds no room."""
    wanted = [_touching] if figure.touch is not None else []
    if figure.mute is Mute.FINGER:
        wanted.append(_muting)
    found: list[Contact] = []
    for contact in played:
        for finger in wanted:
            if contact.key is None or (laid := finger(piano, figure, row, contact)) is None:
                return None
            found.append(laid)
    return tuple(found)


def _clear(at_mm: float, played: Contact) -> bool:
    away_mm = OWN_HANDS_CLEARANCE_MM
    return played.from_near_end_mm is None or abs(at_mm - played.from_near_end_mm) >= away_mm


def _touching(piano: Piano, figure: Figure, row: TechniqueRow, played: Contact) -> Contact | None:
    """The finger at the node, when nothing covers it and the playing hand leaves it room."""
    assert figure.touch is not None and played.key is not None
    course = piano.course(played.key)
    node = node_from_near_mm(course, figure.touch)
    free = any(low <= node <= high for low, high in open_stretches(piano, course.key, FINGER))
    return _contact(course, node, "touch") if free and _clear(node, played) else None


def _muting(piano: Piano, figure: Figure, row: TechniqueRow, played: Contact) -> Contact | None:
    """The finger that mutes, at the first end of an open stretch that leaves the playing hand room."""
    assert played.key is not None
    course = piano.course(played.key)
    ends = (at_mm for stretch in open_stretches(piano, course.key, row.window) for at_mm in stretch)
    return next((_contact(course, at_mm, "mute") for at_mm in ends if _clear(at_mm, played)), None)
