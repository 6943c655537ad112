"""Hypothesis strategies: casting tables of any content, and small random worlds to cast."""

from __future__ import annotations

from fractions import Fraction
from math import gcd

from hypothesis import strategies as st

from rimside.casting.result import CastChore, CastFigure, Casting, CastPlayer, Contact, PedalAction, Proof, Uncast
from rimside.kit import Implement, Times
from rimside.piano.model import Place, Point
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Pedal, Stroke, Technique, Touch

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
        touch=draw(st.none() | _NODES.map(lambda kn: Touch(k=kn[0], n=kn[1]))),
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
        made_from=st.dictionaries(_WORDS, _WORDS, max_size=2),
    )
