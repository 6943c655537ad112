"""A whole invented production made by hand: eight players, a shipped piano, about sixty figures."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache

from rimside.casting.result import CastChore, CastFigure, Casting, CastPlayer, Contact, Mend, PedalAction, Proof, Uncast
from rimside.files.schema_piano import piano_from_toml
from rimside.kit import TECHNIQUES, Implement, Kit, Stock, Times
from rimside.paper.material import BookInput
from rimside.people import Player
from rimside.piano.access import contact_lanes
from rimside.piano.model import Piano, Place
from rimside.piano.shipped import shipped_survey
from rimside.pitch import Key, LabelScheme
from rimside.score.model import BarStart, Cue, Figure, Mute, Score, Stroke, Technique, Touch

BAR_S = 4.0
BARS = 64
SECTIONS = {1: "A", 17: "B", 33: "C", 49: "D"}

_PEOPLE = (
    ("ada", "Ada Lindqvist", 1650.0, "#E69F00", "orange", "A"),
    ("bo", "Bo Okafor", 1820.0, "#56B4E9", "sky blue", "B"),
    ("cy", "Cy Marchetti", 1760.0, "#009E73", "green", "C"),
    ("di", "Di Halloran", 1580.0, "#F0E442", "yellow", "D"),
    ("ed", "Edda Þórsdóttir", 1700.0, "#0072B2", "blue", "E"),
    ("flo", "Flo *bold* #name_", 1690.0, "#D55E00", "vermilion", "F"),
    ("gus", "Gus Weatherington-Abernathy", 1880.0, "#CC79A7", "pink", "G"),
    ("hana", "Hana Čapková", 1620.0, "#000000", "black", "H"),
)

_T = Technique
# player, place in the first half, place in the second half, what the player plays in turn: technique, keys or spot
_WORK: tuple[tuple[str, str, str, tuple[tuple[Technique, tuple[int, ...] | str], ...]], ...] = (
    ("ada", "S3", "S5", ((_T.FRICTION_STRIP, (8,)), (_T.WOOD_HAMMER, (13,)), (_T.FRICTION_STRIP, (11,)))),
    ("bo", "S7", "T1", ((_T.FRICTION_STRIP, (4,)), (_T.BEATER, "tail frame"), (_T.FELT_HAMMER, (3,)))),
    ("cy", "B2", "B3", ((_T.LINE_BOW, (32,)), (_T.LINE_BOW, (37,)), (_T.FELT_HAMMER, (22, 25)))),
    ("di", "B5", "B5", ((_T.STICK_BOW, (44, 45)), (_T.LINE_BOW, (40,)), (_T.FINGER_PLUCK, (47,)))),
    ("ed", "B7", "B6", ((_T.STICK_BOW, (52, 53, 56, 57)), (_T.HANDLED_PLECTRUM, (54,)), (_T.STICK_BOW, (49, 50)))),
    ("flo", "B9", "B8", ((_T.PLECTRUM, (61,)), (_T.WOOD_HAMMER, (66,)), (_T.BEATER, "treble frame"))),
    ("gus", "K4", "K2", ((_T.KEYS, (40, 44, 47, 52, 56)), (_T.FINGER_PLUCK, (58,)), (_T.KEYS, (16,)))),
    ("hana", "S9", "T2", ((_T.LINE_BOW, (28,)), (_T.FELT_HAMMER, (18,)), (_T.BEATER, "bass strut"))),
)


@cache
def piano(name: str = "grand_275") -> Piano:
    return piano_from_toml(shipped_survey(name), name)


def players() -> tuple[Player, ...]:
    return tuple(
        Player(
            id=id_, name=name, stature_mm=stature, colour=colour, colour_name=colour_name, sign=sign,
            measured_reach_mm=(640.0, 820.0) if id_ == "ada" else None,
        )
        for id_, name, stature, colour, colour_name, sign in _PEOPLE
    )  # fmt: skip


def kit() -> Kit:
    def stock(kind: str, technique: Technique, count: int, **more: object) -> Stock:
        return Stock(kind=kind, serves=frozenset({technique}), count=count, **more)  # type: ignore[arg-type]

    return Kit(
        stock=(
            stock("line bow", _T.LINE_BOW, 1, per_pitch=True),
            stock("stick bow", _T.STICK_BOW, 6, sides=2),
            stock("friction strip", _T.FRICTION_STRIP, 2, pick_s=0.9),
            stock("felt hammer", _T.FELT_HAMMER, 4),
            stock("wood hammer", _T.WOOD_HAMMER, 4),
            stock("soft beater", _T.BEATER, 3),
            stock("plectrum", _T.PLECTRUM, 8),
            stock("handled plectrum", _T.HANDLED_PLECTRUM, 4),
        ),
        times=Times(walk_mm_per_s=820.0, measured=frozenset({"walk_mm_per_s"})),
    )


_KINDS = {
    _T.LINE_BOW: "line bow", _T.STICK_BOW: "stick bow", _T.FRICTION_STRIP: "friction strip",
    _T.FELT_HAMMER: "felt hammer", _T.WOOD_HAMMER: "wood hammer", _T.BEATER: "soft beater",
    _T.PLECTRUM: "plectrum", _T.HANDLED_PLECTRUM: "handled plectrum",
}  # fmt: skip


def _figures() -> Iterator[tuple[str, Place, Figure]]:
    number = 0
    for turn in range(8):
        for who, (player, first, second, work) in enumerate(_WORK):
            technique, target = work[turn % 3]
            bar = 1 + 8 * turn + (3 * who) % 7
            start = BAR_S * (bar - 1) + (1.0 if who % 2 else 0.0)
            length = 29.4 if turn == 2 and who in (1, 5) else 14.0 if (turn + who) % 4 else 25.2
            keys = () if isinstance(target, str) else tuple(map(Key, target))
            number += 1
            repeats = (1, 4, 16, 9)[(turn + who) % 4]
            count = max(repeats, len(keys))
            onsets = [start + i * length / (count + 1) for i in range(count)]
            figure = Figure(
                id=f"f{number:03d}",
                part=f"Hand {who + 1}",
                section=[mark for at, mark in SECTIONS.items() if at <= bar][-1],
                bar=str(bar),
                beat=Fraction(2) if who % 2 else Fraction(1),
                start_s=start,
                end_s=start + length,
                technique=technique,
                keys=keys,
                spot=target if isinstance(target, str) else None,
                strokes=tuple(
                    Stroke(onset_s=at, until_s=at + 1.0, key=keys[i % len(keys)] if keys else None)
                    for i, at in enumerate(onsets)
                ),
                touch=Touch(k=2, n=5) if technique is _T.FINGER_PLUCK else None,
                mute=Mute.MOULDED if technique is _T.WOOD_HAMMER and who == 0 else Mute.NONE,
                tremolo=technique is _T.HANDLED_PLECTRUM,
                cycles=repeats,
                motif=f"m{who}{turn % 3}",
                essential=turn == 0,
            )
            yield player, piano().place(first if turn < 4 else second), figure


def _contacts(figure: Figure, place: Place) -> tuple[Contact, ...]:
    if figure.spot is not None:
        spot = piano().spot(figure.spot)
        assert spot is not None
        return (Contact(key=None, spot=spot.name, x_mm=spot.at.x_mm, y_mm=spot.at.y_mm, from_near_end_mm=None),)
    found = []
    for key in figure.keys:
        if figure.technique is _T.KEYS:
            x_mm = 7.0 + 13.92 * (key - 1)
            found.append(Contact(key=key, spot=None, x_mm=x_mm, y_mm=60.0, from_near_end_mm=None))
            continue
        course = piano().course(key)
        lanes = contact_lanes(piano(), key, TECHNIQUES[figure.technique].window)
        at = min(lanes, key=lambda mm: course.at(mm).distance_mm(place.at))
        point = course.at(at)
        found.append(Contact(key=key, spot=None, x_mm=point.x_mm, y_mm=point.y_mm, from_near_end_mm=at))
    return tuple(found)


def _rest(kind: str, number: int, place: Place) -> Implement:
    heading = math.radians(place.heading_deg)
    return Implement(
        id=f"{kind} {number}",
        kind=kind,
        rest_x_mm=round(place.at.x_mm + 230.0 * math.cos(heading) - 45.0 * number * math.sin(heading), 1),
        rest_y_mm=round(place.at.y_mm + 230.0 * math.sin(heading) + 45.0 * number * math.cos(heading), 1),
    )


def casting() -> Casting:
    figures, cast, implements = [], [], {}
    counts: dict[str, int] = {}
    owned: dict[tuple[str, str], str] = {}
    for player, place, figure in _figures():
        figures.append(figure)
        if figure.id in ("f020", "f047"):
            continue
        contacts = _contacts(figure, place)
        used: tuple[str, ...] = ()
        kind = _KINDS.get(figure.technique)
        if kind == "line bow":
            key, at = figure.keys[0], contacts[0].from_near_end_mm
            used = (f"line bow {key}",)
            implements[used[0]] = Implement(
                id=used[0], kind=kind, rest_x_mm=contacts[0].x_mm, rest_y_mm=contacts[0].y_mm, key=key,
                from_near_end_mm=at,
            )  # fmt: skip
        elif kind is not None:
            if (player, kind) not in owned:
                counts[kind] = counts.get(kind, 0) + 1
                implement = _rest(kind, counts[kind], place)
                owned[player, kind] = implement.id
                implements[implement.id] = implement
            used = (owned[player, kind],)
        two = TECHNIQUES[figure.technique].hands == 2 or len(figure.keys) > 2
        cast.append(
            CastFigure(
                figure=figure.id, player=player, place=place.id,
                hands=("left", "right") if two else ("right",), implements=used, contacts=contacts,
            )
        )  # fmt: skip
    bodies = tuple(
        CastPlayer(
            id=p.id, name=p.name, stature_mm=p.stature_mm, reach_mm=p.reach(900.0).full_mm,
            comfortable_reach_mm=p.reach(900.0).comfortable_mm, shoulder_height_mm=p.shoulder_height_mm,
            shoulder_breadth_mm=p.shoulder_breadth_mm,
        )
        for p in players()
    )  # fmt: skip
    return Casting(
        piano=piano().name, a4_hz=440.0, players=bodies, places=piano().places, rim_length_mm=piano().rim_length_mm,
        figures=tuple(figures), implements=tuple(implements.values()), cast=tuple(cast),
        chores=(
            CastChore(id="c1", kind="lay mute", start_s=28.0, end_s=30.0, player="ada", place="S3", hands=("left",),
                      target="13"),
            CastChore(id="c2", kind="lift mute", start_s=150.0, end_s=152.0, player="ada", place="S5",
                      hands=("left",), target="13"),
        ),
        pedals=(
            PedalAction(pedal="damper", down_s=0.0, up_s=128.0, by="gus"),
            PedalAction(pedal="sostenuto", down_s=128.5, up_s=256.0, by="wedge"),
        ),
        uncast=(
            Uncast(figure="f020", rule="H4 change",
                   reason="Di needs 2.4 s to put the stick bow down and walk to B3; bar 19 leaves 1.6 s",
                   competing=("f012", "f021"), rules=("H4",), proved=True,
                   mends=(Mend(kind="practise",
                               text="Practise the change from f012 to f020 down to 1.6 s (it is counted as 2.4 s)"),
                          Mend(kind="shorten", text="Shorten f020 by 0.8 s (start it later)", of_music=0.8))),
            Uncast(figure="f047", rule="H6 tools", reason="the kit holds no second plectrum within reach of B8"),
        ),
        times=kit().times,
        proof=(
            Proof(level="1 uncast", value=2, bound=2), Proof(level="2 risk", value=1840, bound=1200),
            Proof(level="3 moves", value=9, bound=6), Proof(level="4 returns", value=0, bound=0),
            Proof(level="5 memory", value=6, bound=4), Proof(level="6 load", value=14200, bound=0),
        ),
        seconds=48.2,
    )  # fmt: skip


def score() -> Score:
    return Score(
        title="Slow Tide",
        parts=tuple(f"Hand {i + 1}" for i in range(8)),
        notes=(),
        bars=tuple(
            BarStart(
                bar=str(bar), pass_number=1, start_quarters=Fraction(4 * (bar - 1)), start_s=BAR_S * (bar - 1),
                section=[mark for at, mark in SECTIONS.items() if at <= bar][-1],
            )
            for bar in range(1, BARS + 1)
        ),
        cues=(
            Cue(onset_s=64.0, bar="17", part="", text="all breathe"),
            Cue(onset_s=192.0, bar="49", part="Hand 4", text="nod to Gus"),
        ),
        end_s=BAR_S * BARS,
    )  # fmt: skip


def book(scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> BookInput:
    return BookInput(
        title="Slow Tide", ensemble_name="The Long Room Eight", casting=casting(), score=score(), piano=piano(),
        players=players(), kit=kit(), scheme=scheme, notes=("Hall to be dark by 19:40.",),
    )  # fmt: skip


def busy_book() -> BookInput:
    """The same production with all its figures on one player's cards."""
    whole = casting()
    return replace(book(), casting=replace(whole, cast=tuple(replace(cast, player="ada") for cast in whole.cast)))
