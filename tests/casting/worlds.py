"""Small invented worlds, built in code: a toy piano with straight parallel courses, players, a kit, figures, castings.

The toy piano keeps to round numbers so that a test can say what must come out. It is no real instrument.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from rimside.casting.result import CastFigure, Casting, CastPlayer, Contact, PedalAction, Proof
from rimside.kit import DEFAULT_PICK_S, DEFAULT_PUT_S, PERMISSIONS, Implement, Kit, Stock, Times
from rimside.people import Player
from rimside.piano.model import Course, Interval, Permissions, Piano, Place, Point, Spot, Strut
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Pedal, PedalSpan, Stroke, Technique

KEY_STEP_MM = 14.0
NEAR_Y_MM = 500.0
STRING_PLANE_MM = 950.0
LAST_WOUND, LAST_DAMPED = 20, 68
WALK_LINE_MM = (
    (-250.0, -250.0),
    (1500.0, -250.0),
    (1500.0, 900.0),
    (900.0, 1900.0),
    (600.0, 2750.0),
    (-250.0, 2750.0),
)
"""Corners of the line that people walk, 250 mm outside the toy case, anticlockwise from the bass end of the keys."""
COLOURS = (
    ("#0072B2", "blue"),
    ("#E69F00", "orange"),
    ("#009E73", "green"),
    ("#D55E00", "vermilion"),
    ("#000000", "black"),
)
NAMES = ("Ada", "Ben", "Cleo", "Dov", "Edda", "Flo")


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """Everything that a solver is asked about."""

    piano: Piano
    players: tuple[Player, ...]
    kit: Kit
    figures: tuple[Figure, ...]
    pedals: tuple[PedalSpan, ...] = ()


def held(from_s: float = 0.0, to_s: float = 1000.0) -> tuple[PedalSpan, ...]:
    """The damper pedal down all the time, so that every course rings."""
    return (PedalSpan(pedal=Pedal.DAMPER, down_s=from_s, up_s=to_s),)


# Piano.


def toy_length_mm(key: int) -> float:
    """Speaking length: 1904 mm in the bass, about 55 mm at the top, half every 17 keys."""
    return round(1904.0 * math.exp2((1 - key) / 17.0), 1)


def toy_x_mm(key: int) -> float:
    """Where the toy course lies across the piano."""
    return KEY_STEP_MM * (key - 0.5)


def toy_damper(key: int) -> Interval | None:
    """A felt of 40 mm that starts at a tenth of the length."""
    start_mm = round(0.1 * toy_length_mm(key), 1)
    return Interval(from_mm=start_mm, to_mm=start_mm + 40.0) if key <= LAST_DAMPED else None


def toy_course(key: int, **changes: Any) -> Course:
    """One straight course along y, its near end at y = 500 mm."""
    length_mm, x_mm = toy_length_mm(key), toy_x_mm(key)
    course = Course(
        key=Key(key),
        near=Point(x_mm=x_mm, y_mm=NEAR_Y_MM),
        far=Point(x_mm=x_mm, y_mm=NEAR_Y_MM + length_mm),
        height_mm=STRING_PLANE_MM,
        strings=1 if key <= 8 else 2 if key <= LAST_WOUND else 3,
        spacing_mm=3.5,
        wire_mm=1.0,
        wrap_mm=3.0 if key <= LAST_WOUND else None,
        length_mm=length_mm,
        frequency_hz=440.0 * math.exp2((key - 49) / 12.0),
        linear_density_kg_per_m=0.0062,
        tension_n=700.0,
        inharmonicity=0.0004,
        damper=toy_damper(key),
        section="bass" if key <= LAST_WOUND else "tenor" if key <= 48 else "treble",
    )
    return replace(course, **changes)


def toy_places(step_mm: float = 450.0) -> tuple[tuple[Place, ...], float]:
    """Places every `step_mm` along the walking line, and the length of that line, mm."""
    corners = [Point(x_mm=x, y_mm=y) for x, y in WALK_LINE_MM]
    sides = list(zip(corners, corners[1:] + corners[:1], strict=True))
    rim_length_mm = sum(a.distance_mm(b) for a, b in sides)
    count = int(rim_length_mm // step_mm)
    return tuple(_place(sides, index, index * step_mm) for index in range(count)), rim_length_mm


def _place(sides: list[tuple[Point, Point]], index: int, along_mm: float) -> Place:
    rest_mm = along_mm
    for a, b in sides:
        side_mm = a.distance_mm(b)
        if rest_mm < side_mm:
            share = rest_mm / side_mm
            at = Point(x_mm=a.x_mm + share * (b.x_mm - a.x_mm), y_mm=a.y_mm + share * (b.y_mm - a.y_mm))
            return Place(
                id=f"p{index:02d}",
                at=at,
                heading_deg=round(math.degrees(math.atan2(1100.0 - at.y_mm, 500.0 - at.x_mm)), 1),
                along_rim_mm=along_mm,
                at_keyboard=at.y_mm == -250.0 and 0.0 <= at.x_mm <= 88 * KEY_STEP_MM,
            )
        rest_mm -= side_mm
    raise ValueError(along_mm)


TOY_STRUTS = (
    Strut(name="strut 1", start=Point(x_mm=602.0, y_mm=400.0), end=Point(x_mm=602.0, y_mm=2500.0), width_mm=12.0),
    Strut(name="strut 2", start=Point(x_mm=200.0, y_mm=1200.0), end=Point(x_mm=500.0, y_mm=1200.0), width_mm=30.0),
)
"""Strut 1 runs between keys 43 and 44 and covers neither; strut 2 lies across the courses of keys 15 to 36."""


def toy_piano(**changes: Any) -> Piano:
    """A 274 cm grand of straight lines that allows everything."""
    places, rim_length_mm = toy_places()
    piano = Piano(
        name="toy",
        title="Toy, 274 cm",
        length_mm=2740.0,
        a4_hz=440.0,
        outline=tuple(
            Point(x_mm=x, y_mm=y) for x, y in ((0, 0), (1250, 0), (1250, 900), (700, 1900), (400, 2500), (0, 2500))
        ),
        rim_height_mm=1000.0,
        courses=tuple(toy_course(key) for key in range(1, 89)),
        struts=TOY_STRUTS,
        spots=(
            Spot(name="frame, bass", kind="frame", at=Point(x_mm=60.0, y_mm=2450.0), height_mm=960.0),
            Spot(name="rim, treble", kind="case", at=Point(x_mm=1240.0, y_mm=700.0), height_mm=1000.0),
        ),
        places=places,
        rim_length_mm=rim_length_mm,
        pedals=frozenset(Pedal),
        permissions=Permissions(allowed=frozenset(PERMISSIONS)),
        keyboard_height_mm=740.0,
    )
    return replace(piano, **changes)


# People and kit.


def toy_player(index: int = 0, **changes: Any) -> Player:
    """Player 0 to 5 by name (Ada, Ben, ...), 1700 mm tall; ids are the names in lower case."""
    colour, colour_name = COLOURS[index % len(COLOURS)]
    player = Player(
        id=NAMES[index].lower(),
        name=NAMES[index],
        stature_mm=1700.0,
        colour=colour,
        colour_name=colour_name,
        sign=NAMES[index][0],
    )
    return replace(player, **changes)


def toy_players(count: int, **changes: Any) -> tuple[Player, ...]:
    """The first `count` players, all changed alike."""
    return tuple(toy_player(index, **changes) for index in range(count))


TOY_STOCK = (
    Stock(kind="line", serves=frozenset({Technique.LINE_BOW}), count=1, per_pitch=True),
    Stock(kind="stick", serves=frozenset({Technique.STICK_BOW}), count=6, sides=2),
    Stock(kind="strip", serves=frozenset({Technique.FRICTION_STRIP}), count=2),
    Stock(kind="hammer", serves=frozenset({Technique.FELT_HAMMER, Technique.WOOD_HAMMER}), count=4),
    Stock(kind="beater", serves=frozenset({Technique.BEATER}), count=2),
    Stock(kind="plectrum", serves=frozenset({Technique.PLECTRUM}), count=4),
    Stock(kind="handled plectrum", serves=frozenset({Technique.HANDLED_PLECTRUM}), count=2),
    Stock(kind="magnet", serves=frozenset({Technique.MAGNET_DRIVE}), count=2),
)


def toy_times(stock: Iterable[Stock] = TOY_STOCK, **changes: Any) -> Times:
    """Round times: 1000 mm/s, turn 0.5 s, settle 0.2 s, pick 1 s and put 0.5 s for every kind."""
    kinds = [item.kind for item in stock]
    times = Times(
        walk_mm_per_s=1000.0,
        turn_s=0.5,
        settle_s=0.2,
        pick_s=dict.fromkeys(kinds, 1.0),
        put_s=dict.fromkeys(kinds, 0.5),
    )
    return replace(times, **changes)


def toy_kit(stock: tuple[Stock, ...] = TOY_STOCK, **changes: Any) -> Kit:
    """Some of everything, with the round times of `toy_times`."""
    return replace(Kit(stock=stock, times=toy_times(stock)), **changes)


# Figures.


def strokes(keys: Iterable[int | None], start_s: float, end_s: float, count: int = 1) -> tuple[Stroke, ...]:
    """`count` evenly spaced moments, each striking all keys; the first at `start_s`."""
    listed, step_s = list(keys), (end_s - start_s) / count
    return tuple(
        Stroke(onset_s=start_s + i * step_s, until_s=start_s + (i + 1) * step_s, key=None if key is None else Key(key))
        for i in range(count)
        for key in listed
    )


def figure(
    name: str,
    technique: Technique,
    keys: Iterable[int] | str,
    start_s: float,
    end_s: float,
    *,
    times: int = 1,
    **changes: Any,
) -> Figure:
    """One figure; `keys` may be the name of a spot. All its courses sound `times` times, evenly spaced."""
    spot = keys if isinstance(keys, str) else None
    courses = () if isinstance(keys, str) else tuple(Key(key) for key in keys)
    whole = Figure(
        id=name,
        part="piano",
        section="A",
        bar=str(1 + int(start_s // 4)),
        beat=Fraction(1 + int(start_s % 4)),
        start_s=start_s,
        end_s=end_s,
        technique=technique,
        keys=courses,
        spot=spot,
        strokes=strokes(courses or (None,), start_s, end_s, times),
        motif=f"motif {name}",
    )
    return replace(whole, **changes)


# Castings.


def cast_player(player: Player, piano: Piano) -> CastPlayer:
    """A player's body as `people.py` gives it on this piano."""
    reach = player.reach(piano.string_plane_mm)
    return CastPlayer(
        id=player.id,
        name=player.name,
        stature_mm=player.stature_mm,
        reach_mm=reach.full_mm,
        comfortable_reach_mm=reach.comfortable_mm,
        shoulder_height_mm=player.shoulder_height_mm,
        shoulder_breadth_mm=player.shoulder_breadth_mm,
    )


def on_course(piano: Piano, key: int, from_near_end_mm: float, role: str = "play") -> Contact:
    """A contact on the string, at a distance from its near end; its point to 0.001 mm, as files hold it."""
    at = piano.course(Key(key)).at(from_near_end_mm)
    return Contact(
        key=Key(key),
        spot=None,
        x_mm=round(at.x_mm, 3),
        y_mm=round(at.y_mm, 3),
        from_near_end_mm=from_near_end_mm,
        role=role,
    )


def on_key(piano: Piano, key: int) -> Contact:
    """A contact on the key itself, near its front edge."""
    return Contact(key=Key(key), spot=None, x_mm=toy_x_mm(key), y_mm=50.0, from_near_end_mm=None)


def on_spot(piano: Piano, name: str) -> Contact:
    """A contact on a named spot."""
    spot = piano.spot(name)
    assert spot is not None, name
    return Contact(key=None, spot=name, x_mm=spot.at.x_mm, y_mm=spot.at.y_mm, from_near_end_mm=None)


def play(
    piano: Piano,
    what: Figure,
    player: str,
    place: str,
    at_mm: float = 300.0,
    *,
    hands: tuple[str, ...] = ("left",),
    tools: Iterable[Implement] = (),
) -> CastFigure:
    """One cast row with every contact that its figure asks for, the play contacts `at_mm` along each course."""
    contacts = [on_spot(piano, what.spot)] if what.spot is not None else []
    for key in what.keys:
        keyed = what.technique is Technique.KEYS
        contacts.append(on_key(piano, key) if keyed else on_course(piano, key, at_mm))
        if what.touch is not None:
            node_mm = piano.course(key).length_mm * what.touch.k / what.touch.n
            contacts.append(on_course(piano, key, node_mm, "touch"))
        if what.mute is Mute.FINGER:
            contacts.append(on_course(piano, key, at_mm + 60.0, "mute"))
    return CastFigure(
        figure=what.id,
        player=player,
        place=place,
        hands=hands,
        implements=tuple(tool.id for tool in tools),
        contacts=tuple(contacts),
    )


def tool(kind: str, number: int = 1, x_mm: float = -20.0, y_mm: float = 700.0) -> Implement:
    """An implement that rests on the ledge of the bass side, in reach from p17 and p18 (or where it is told)."""
    return Implement(id=f"{kind} {number}", kind=kind, rest_x_mm=x_mm, rest_y_mm=y_mm)


def line(piano: Piano, key: int, at_mm: float = 300.0) -> Implement:
    """A line bow threaded at its course."""
    at = piano.course(Key(key)).at(at_mm)
    return Implement(
        id=f"line {key}",
        kind="line",
        rest_x_mm=round(at.x_mm, 3),
        rest_y_mm=round(at.y_mm, 3),
        key=Key(key),
        from_near_end_mm=at_mm,
    )


def nearest_place(piano: Piano, x_mm: float, y_mm: float, *, at_keyboard: bool = False) -> Place:
    """The place closest to a point, of all or only of those at the keyboard."""
    here = Point(x_mm=x_mm, y_mm=y_mm)
    places = [place for place in piano.places if place.at_keyboard or not at_keyboard]
    return min(places, key=lambda place: (place.at.distance_mm(here), place.id))


def times_of(kit: Kit) -> Times:
    """The kit's times with a pick and a put for every kind, as a casting writes them."""
    pick = {s.kind: kit.times.pick_s.get(s.kind, DEFAULT_PICK_S) if s.pick_s is None else s.pick_s for s in kit.stock}
    put = {s.kind: kit.times.put_s.get(s.kind, DEFAULT_PUT_S) if s.put_s is None else s.put_s for s in kit.stock}
    return replace(kit.times, pick_s=pick, put_s=put)


def casting(
    world: World,
    cast: Iterable[CastFigure],
    implements: Iterable[Implement] = (),
    *,
    values: Mapping[str, int] | None = None,
    **changes: Any,
) -> Casting:
    """A casting of this world around hand-made `cast` rows; `values` are levels by name, each taken as proved.

    The world's pedals, those that the piano has, are held by nobody in particular.
    No word is said about figures without a row.
    """
    whole = Casting(
        piano=world.piano.name,
        a4_hz=world.piano.a4_hz,
        players=tuple(cast_player(player, world.piano) for player in world.players),
        places=world.piano.places,
        rim_length_mm=world.piano.rim_length_mm,
        figures=world.figures,
        implements=tuple(implements),
        cast=tuple(cast),
        pedals=tuple(
            PedalAction(pedal=span.pedal.value, down_s=span.down_s, up_s=span.up_s, by="unassigned")
            for span in world.pedals
            if span.pedal in world.piano.pedals
        ),
        times=times_of(world.kit),
        proof=tuple(Proof(level=name, value=value, bound=value) for name, value in (values or {}).items()),
    )
    return replace(whole, **changes)
