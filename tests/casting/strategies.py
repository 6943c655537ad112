"""Hypothesis strategies: casting tables of any content, and small random worlds to cast."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import gcd

from hypothesis import strategies as st

from rimside.casting.pin import Pin
from rimside.casting.result import CastChore, CastFigure, Casting, CastPlayer, Contact, PedalAction, Proof, Uncast
from rimside.kit import PERMISSIONS, Implement, Kit, Times
from rimside.people import Player
from rimside.piano.model import Permissions, Piano, Place, Point
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Pedal, PedalSpan, Stroke, Technique, Touch
from tests.casting.worlds import TOY_STOCK, TOY_STRUTS, World, figure, toy_kit, toy_piano, toy_places, toy_player

_HANDS = ((), ("left",), ("right",), ("left", "right"))
_WORDS = st.text(st.characters(codec="utf-8"), max_size=12)
_MM = st.floats(-5000.0, 5000.0)
_S = st.floats(0.0, 4000.0)
_KEYS = st.integers(1, 88).map(Key)
_NODES = st.tuples(st.integers(1, 8), st.integers(2, 9)).filter(lambda kn: kn[0] < kn[1] and gcd(*kn) == 1)
_LEVELS = ("1 uncast", "2 risk", "3 moves", "4 returns", "5 memory", "6 load")


def _lists(of: st.SearchStrategy[object], most: int = 3) -> st.SearchStrategy[tuple[object, ...]]:
    return st.lists(of, max_size=most).map(tuple)


@st.composite
def any_figures(draw: st.DrawFn) -> Figure:
    """A well-formed figure; what it asks for may be impossible."""
    start_s = draw(_S)
    keys = draw(st.lists(_KEYS, min_size=1, max_size=3, unique=True)) if draw(st.booleans()) else None
    strokes = st.builds(Stroke, onset_s=_S, until_s=_S, key=st.sampled_from(keys) if keys else st.none())
    return Figure(
        id=draw(_WORDS),
        part=draw(_WORDS),
        section=draw(_WORDS),
        bar=draw(_WORDS),
        beat=draw(st.fractions(Fraction(1), Fraction(12), max_denominator=96)),
        start_s=start_s,
        end_s=start_s + draw(st.floats(0.01, 60.0)),
        technique=draw(st.sampled_from(Technique)),
        keys=tuple(keys or ()),
        spot=None if keys else draw(_WORDS.filter(bool)),
        strokes=tuple(draw(st.lists(strokes, min_size=1, max_size=4))),
        touch=draw(
            st.none() | st.builds(lambda kn, loose: Touch(k=kn[0], n=kn[1], loose=loose), _NODES, st.booleans())
        ),
        mute=draw(st.sampled_from(Mute)),
        tremolo=draw(st.booleans()),
        dynamic=draw(_WORDS),
        cycles=draw(st.integers(1, 40)),
        motif=draw(_WORDS),
        essential=draw(st.booleans()),
        words=tuple(draw(st.lists(_WORDS, max_size=3))),
    )


@st.composite
def any_contacts(draw: st.DrawFn) -> Contact:
    """A contact with a key or a spot."""
    at_key = draw(st.booleans())
    return Contact(
        key=draw(_KEYS) if at_key else None,
        spot=None if at_key else draw(_WORDS),
        x_mm=draw(_MM),
        y_mm=draw(_MM),
        from_near_end_mm=draw(st.none() | _MM) if at_key else None,
        role=draw(st.sampled_from(("play", "touch", "mute"))),
    )


_PLAYERS = st.builds(
    CastPlayer,
    id=_WORDS,
    name=_WORDS,
    stature_mm=_MM,
    reach_mm=_MM,
    comfortable_reach_mm=_MM,
    shoulder_height_mm=_MM,
    shoulder_breadth_mm=_MM,
)
_PLACES = st.builds(
    Place,
    id=_WORDS,
    at=st.builds(Point, x_mm=_MM, y_mm=_MM),
    heading_deg=_MM,
    along_rim_mm=_MM,
    at_keyboard=st.booleans(),
)
_IMPLEMENTS = st.builds(
    Implement,
    id=_WORDS,
    kind=_WORDS,
    rest_x_mm=_MM,
    rest_y_mm=_MM,
    key=st.none() | _KEYS,
    from_near_end_mm=st.none() | _MM,
)
_CAST = st.builds(
    CastFigure,
    figure=_WORDS,
    player=_WORDS,
    place=_WORDS,
    hands=st.sampled_from(_HANDS),
    implements=_lists(_WORDS),
    contacts=_lists(any_contacts()),
)
_CHORES = st.builds(
    CastChore,
    id=_WORDS,
    kind=_WORDS,
    start_s=_S,
    end_s=_S,
    player=st.none() | _WORDS,
    place=st.none() | _WORDS,
    hands=st.sampled_from(_HANDS),
    target=_WORDS,
)
_PEDALS = st.builds(PedalAction, pedal=st.sampled_from(Pedal).map(str), down_s=_S, up_s=_S, by=_WORDS)
_UNCAST = st.builds(Uncast, figure=_WORDS, rule=_WORDS, reason=_WORDS, competing=_lists(_WORDS))
_TIMES = st.builds(
    Times,
    walk_mm_per_s=_MM,
    turn_s=_S,
    settle_s=_S,
    pick_s=st.dictionaries(_WORDS, _S, max_size=3),
    put_s=st.dictionaries(_WORDS, _S, max_size=3),
    measured=st.frozensets(_WORDS, max_size=2),
)
_PINS = st.one_of(
    st.builds(
        Pin, figure=_WORDS, player=_WORDS, place=_WORDS, hand=st.sampled_from(("left", "right")), implement=_WORDS
    ),
    st.builds(Pin, figure=_WORDS, contact_mm=_MM, forbid=st.booleans()),
)
_PROOFS = st.builds(Proof, level=st.sampled_from(_LEVELS), value=st.integers(0, 10**9), bound=st.integers(0, 10**9))


def any_castings() -> st.SearchStrategy[Casting]:
    """A well-formed casting of any content; its ids need not refer to anything."""
    return st.builds(
        Casting,
        piano=_WORDS,
        a4_hz=st.floats(380.0, 480.0),
        players=_lists(_PLAYERS),
        places=_lists(_PLACES),
        rim_length_mm=_MM,
        figures=_lists(any_figures()),
        implements=_lists(_IMPLEMENTS),
        cast=_lists(_CAST),
        chores=_lists(_CHORES),
        pedals=_lists(_PEDALS),
        uncast=_lists(_UNCAST),
        times=_TIMES,
        proof=_lists(_PROOFS),
        seconds=_S,
        pins=_lists(_PINS),
        made_from=st.dictionaries(_WORDS, _WORDS, max_size=2),
    )


# Small worlds.

_KEYS_OF = {
    Technique.LINE_BOW: (21, 64),
    Technique.STICK_BOW: (21, 64),
    Technique.FRICTION_STRIP: (1, 20),
    Technique.MAGNET_DRIVE: (10, 60),
}
"""Where each technique is asked for; the others anywhere. A few of these are impossible, and meant to be."""
_MOST_KEYS = {
    Technique.LINE_BOW: 1,
    Technique.FRICTION_STRIP: 1,
    Technique.STICK_BOW: 4,
    Technique.KEYS: 6,
}
"""The most courses of one figure; the others 2."""
_TOUCHES = [Touch(k=1, n=2), Touch(k=1, n=3), Touch(k=2, n=5)]
_COMMON = (Technique.LINE_BOW, Technique.STICK_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK)
_SPOTS = ("frame, bass", "rim, treble")


def _times_s(most_s: int, least_s: float = 0.0) -> st.SearchStrategy[float]:
    """Whole ms and thirds of a second up to `most_s`: both happen, and only the second leaves rounding behind."""
    ms = st.integers(round(1000 * least_s), 1000 * most_s).map(lambda n: n / 1000.0)
    thirds = st.integers(round(3 * least_s) + 1, 3 * most_s).map(lambda n: n / 3.0)
    return st.one_of(st.sampled_from([least_s, float(most_s)]), ms, thirds)


def _rarely(draw: st.DrawFn, once_in: int) -> bool:
    """True once in so many; the plain case is the simplest, so that shrinking ends there."""
    return draw(st.integers(1, once_in)) == once_in


@st.composite
def _small_figures(draw: st.DrawFn, number: int, start_s: float, techniques: tuple[Technique, ...]) -> Figure:
    technique = draw(st.sampled_from(techniques))
    end_s = start_s + draw(_times_s(6, 0.5))
    keys: list[int] | str = (
        draw(st.sampled_from(_SPOTS)) if technique is Technique.BEATER else draw(_courses(technique))
    )
    single = len(keys) == 1
    whole = figure(
        f"f{number:02d}",
        technique,
        keys,
        start_s,
        end_s,
        times=min(draw(st.sampled_from([1, 1, 2, 4, 8, 24])), max(1, int(6.0 * (end_s - start_s)))),
        motif=draw(st.sampled_from(["a", "b", "c", f"m{number}"])),
        essential=_rarely(draw, 4),
        touch=draw(st.sampled_from([None] * 12 + _TOUCHES)) if single else None,
        mute=draw(st.sampled_from([Mute.NONE] * 12 + [Mute.FINGER])) if single else Mute.NONE,
    )
    return whole if draw(st.booleans()) else _in_turn(whole)


@st.composite
def _courses(draw: st.DrawFn, technique: Technique) -> list[int]:
    low, high = _KEYS_OF.get(technique, (1, 76))
    first, most = draw(st.integers(low, high)), _MOST_KEYS.get(technique, 2)
    steps = draw(st.lists(st.sampled_from([1, 1, 1, 2, 5]), max_size=most - 1))
    keys = [first + sum(steps[:i]) for i in range(len(steps) + 1)]
    return [key for key in keys if key <= high]


def _in_turn(whole: Figure) -> Figure:
    """The same figure with its courses struck one after the other and not together, 0.4 s apart at least."""
    count = max(1, min(len(whole.strokes), int((whole.end_s - whole.start_s) / 0.4)))
    step_s = (whole.end_s - whole.start_s) / count
    turns = [
        Stroke(
            onset_s=whole.start_s + i * step_s,
            until_s=whole.start_s + (i + 1) * step_s,
            key=whole.keys[i % len(whole.keys)] if whole.keys else None,
        )
        for i in range(count)
    ]
    used = tuple(dict.fromkeys(stroke.key for stroke in turns if stroke.key is not None))
    return replace(whole, keys=used, strokes=tuple(turns))


@st.composite
def small_figures(draw: st.DrawFn, least: int = 3, most: int = 14) -> tuple[Figure, ...]:
    """Figures in order of start, each 0 to 4 s after the start or the end of the one before."""
    techniques = _COMMON if draw(st.booleans()) else tuple(Technique)
    made: list[Figure] = []
    for number in range(draw(st.integers(least, most))):
        base_s = 0.0 if not made else made[-1].end_s if draw(st.booleans()) else made[-1].start_s
        made.append(draw(_small_figures(number, base_s + draw(_times_s(4)), techniques)))
    return tuple(sorted(made, key=lambda figure: (figure.start_s, figure.id)))


@st.composite
def small_players(draw: st.DrawFn, least: int = 2, most: int = 5) -> tuple[Player, ...]:
    """Short and tall people; some have measured their reach, some leave a technique to others."""
    players = []
    for index in range(draw(st.integers(least, most))):
        player = toy_player(index, stature_mm=float(draw(st.integers(1500, 1950))))
        if _rarely(draw, 4):
            comfortable_mm = float(draw(st.integers(450, 750)))
            reach_mm = (comfortable_mm, comfortable_mm + float(draw(st.integers(0, 300))))
            player = replace(player, measured_reach_mm=reach_mm)
        if _rarely(draw, 4):
            skills = frozenset(Technique) - {draw(st.sampled_from(Technique))}
            player = replace(player, skills=skills)
        players.append(player)
    return tuple(players)


@st.composite
def small_pianos(draw: st.DrawFn) -> Piano:
    """The toy piano with more or fewer places, with or without struts, from an easy or a strict owner."""
    places, rim_length_mm = toy_places(float(draw(st.sampled_from([450, 600, 900]))))
    strict = _rarely(draw, 4)
    forbidden = draw(st.frozensets(st.sampled_from(sorted(PERMISSIONS)), max_size=2)) if strict else frozenset()
    barred = draw(st.frozensets(st.sampled_from(_SPOTS), max_size=1)) if strict else frozenset()
    return toy_piano(
        places=places,
        rim_length_mm=rim_length_mm,
        struts=draw(st.sampled_from([(), TOY_STRUTS])),
        permissions=Permissions(allowed=frozenset(PERMISSIONS) - forbidden, forbidden_spots=barred),
        pedals=draw(st.sampled_from([frozenset(Pedal), frozenset({Pedal.DAMPER, Pedal.UNA_CORDA})])),
    )


@st.composite
def small_kits(draw: st.DrawFn) -> Kit:
    """One to four of everything; now and then a kind is missing, or was timed at rehearsal."""
    stock = []
    for item in TOY_STOCK:
        count = 0 if _rarely(draw, 12) else draw(st.sampled_from([4, 3, 2, 1]))
        pick_s = draw(_times_s(2, 0.1)) if _rarely(draw, 6) else None
        sides = draw(st.sampled_from([2, 1])) if item.sides == 2 else 1
        stock.append(replace(item, count=1 if item.per_pitch and count else count, sides=sides, pick_s=pick_s))
    kit = toy_kit(tuple(stock), line_bow_hands=draw(st.sampled_from([2, 1])))
    said_once = {s.kind: time_s for s in stock if s.pick_s is None for time_s in [kit.times.pick_s[s.kind]]}
    return replace(kit, times=Times() if draw(st.booleans()) else replace(kit.times, pick_s=said_once))


@st.composite
def small_pedals(draw: st.DrawFn, end_s: float) -> tuple[PedalSpan, ...]:
    """Mostly the damper pedal down throughout; else changed once, with or without the sostenuto pedal in between."""
    whole = PedalSpan(pedal=Pedal.DAMPER, down_s=0.0, up_s=end_s)
    if not _rarely(draw, 4):
        return (whole,)
    change_s = draw(st.floats(0.2, 0.8)) * end_s
    first = replace(whole, up_s=change_s)
    second = replace(whole, down_s=change_s + draw(st.sampled_from([0.0, 1.0])))
    held = PedalSpan(pedal=Pedal.SOSTENUTO, down_s=change_s - 0.1, up_s=change_s + 1.5)
    return (first, held, second) if draw(st.booleans()) else (first, second)


@st.composite
def small_worlds(draw: st.DrawFn, least: int = 3, most: int = 14) -> World:
    """A question for the solver: 3 to 14 figures of mixed techniques, 2 to 5 players, the toy piano and a small kit."""
    figures = draw(small_figures(least, most))
    return World(
        piano=draw(small_pianos()),
        players=draw(small_players()),
        kit=draw(small_kits()),
        figures=figures,
        pedals=draw(small_pedals(max(figure.end_s for figure in figures) + 1.0)),
    )
