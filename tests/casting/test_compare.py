"""Two pianos beside each other: what cannot be played has no option there, and gets one when its obstacle goes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.compare import Comparison, Difference, Weight, compare
from rimside.casting.question import Question
from rimside.kit import Kit, Stock
from rimside.piano.model import Permissions, Piano
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Technique
from tests.casting.worlds import figure, toy_players
from tests.piano.example import piano

PLAYERS = toy_players(2, stature_mm=1750.0)
ROOMY = Permissions(allowed=frozenset({"rosin", "rubber", "hammers", "plectra", "touch", "mutes", "beaters", "wedge"}))
KIT = Kit(
    stock=(
        Stock(kind="line bow", serves=frozenset({Technique.LINE_BOW}), count=1, per_pitch=True),
        Stock(kind="beater", serves=frozenset({Technique.BEATER}), count=2),
        Stock(kind="plectrum", serves=frozenset({Technique.PLECTRUM}), count=2),
    )
)


def hall(name: str) -> Piano:
    return replace(piano(name), permissions=ROOMY)


def beside(here: Piano, there: Piano, *figures: Figure) -> Comparison:
    return compare(*(Question(figures=figures, piano=one, players=PLAYERS, kit=KIT) for one in (here, there)))


def the(found: Comparison, weight: Weight) -> Difference:
    (one,) = found.of(weight)
    return one


def test_a_piano_beside_itself_differs_in_nothing() -> None:
    """Whatever is played."""
    assert beside(hall("grand_210"), hall("grand_210"), bow(49), pluck(30)).differences == ()


def bow(key: int) -> Figure:
    return figure("bow", Technique.LINE_BOW, (key,), 0.0, 4.0)


def pluck(key: int) -> Figure:
    return figure("pluck", Technique.PLECTRUM, (key,), 5.0, 7.0)


def free(one: Piano) -> Piano:
    """No dampers, so that only what is tested stands in the way."""
    return replace(one, courses=tuple(replace(course, damper=None) for course in one.courses))


def test_a_line_bow_on_what_is_wound_there() -> None:
    """Key 29 is plain steel on the long piano and wound on the short one. Common practice, no published source: line
    bows do not grip wound strings."""
    here, there = free(hall("grand_275")), free(hall("grand_170"))
    assert (here.course(Key(29)).wound, there.course(Key(29)).wound) == (False, True)
    cannot = the(beside(here, there, bow(29)), Weight.CANNOT)
    assert (cannot.figures, "wound" in cannot.what) == (("bow",), True)
    plain = replace(there, courses=tuple(replace(c, wrap_mm=None) if c.key == 29 else c for c in there.courses))
    assert beside(here, plain, bow(29)).of(Weight.CANNOT) == ()


def test_turned_round_it_is_what_only_the_other_can() -> None:
    """The same pair from the other side."""
    found = beside(free(hall("grand_170")), free(hall("grand_275")), bow(29))
    assert the(found, Weight.ONLY_THERE).figures == ("bow",)
    assert found.of(Weight.CANNOT) == ()
    assert not found.cannot


def test_what_the_owner_forbids() -> None:
    """No rosin there: the bow cannot be played, and the permission itself is listed too."""
    here = free(hall("grand_210"))
    there = replace(here, permissions=replace(ROOMY, allowed=ROOMY.allowed - {"rosin"}))
    found = beside(here, there, bow(49))
    assert the(found, Weight.CANNOT).what.startswith("H11")
    assert the(found, Weight.STILL).what.startswith("permission for rosin")
    assert beside(there, here, bow(49)).of(Weight.CANNOT) == ()


def test_a_spot_that_is_not_there() -> None:
    """A beater's spot is missing there; an unused one only differs."""
    here = hall("grand_275")
    used, unused = here.spots[0], here.spots[1]
    there = replace(here, spots=here.spots[2:])
    found = beside(here, there, figure("knock", Technique.BEATER, used.name, 0.0, 1.0))
    assert used.name in the(found, Weight.CANNOT).what
    assert {one.what for one in found.of(Weight.STILL)} == {f"spot {used.name}", f"spot {unused.name}"}


def test_a_line_that_finds_nothing_to_hang_on() -> None:
    """The struts end far from the line there. Common practice, no published source: what hangs on a strut on one
    piano may have nothing to hang on where that strut ends early."""
    here = free(hall("grand_275"))
    treble = here.struts[-1]
    there = replace(here, struts=(replace(treble, end=replace(treble.start, y_mm=treble.start.y_mm + 60.0)),))
    one = the(beside(here, there, bow(32)), Weight.OTHERWISE)
    assert (one.what, one.there) == ("where the line of E3 hangs", "no strut near")
    assert "common practice" in one.source
    assert one.here != one.there


def test_mutes_that_must_be_of_another_size() -> None:
    """Two strings there, three here."""
    here, there = free(hall("grand_275")), free(hall("grand_170"))
    muted = replace(pluck(27), mute=Mute.MOULDED)
    found = beside(here, there, muted)
    assert ("mutes of B2", "3 strings", "2 strings") in {
        (one.what, one.here, one.there) for one in found.of(Weight.OTHERWISE)
    }


def test_a_pedal_matters_when_the_plan_uses_it() -> None:
    """The same missing pedal, with and without a span that asks for it."""
    from rimside.score.model import Pedal, PedalSpan

    here = hall("grand_210")
    there = replace(here, pedals=here.pedals - {Pedal.SOSTENUTO})
    span = PedalSpan(pedal=Pedal.SOSTENUTO, down_s=0.0, up_s=3.0)
    asked = [Question(figures=(pluck(80),), piano=one, players=PLAYERS, kit=KIT) for one in (here, there)]
    assert the(compare(*asked), Weight.STILL).what == "sostenuto pedal"
    used = [replace(one, pedals=(span,)) for one in asked]
    assert the(compare(*used), Weight.OTHERWISE).what == "sostenuto pedal"


@pytest.mark.parametrize("pair", [("grand_275", "grand_170"), ("grand_170", "grand_210"), ("grand_210", "grand_275")])
def test_cannot_means_no_option_at_all(pair: tuple[str, str]) -> None:
    """For every course and two techniques: listed as impossible exactly when the problem there bars it and not here."""
    here, there = (hall(name) for name in pair)
    figures = tuple(
        figure(f"{technique.name}{key}", technique, (key,), 10.0 * key, 10.0 * key + 2.0)
        for key in range(1, 89, 3)
        for technique in (Technique.LINE_BOW, Technique.PLECTRUM)
    )
    found = beside(here, there, *figures)
    listed = {name for one in found.of(Weight.CANNOT) for name in one.figures}
    tasks = [
        {t.work.id: t.barred for t in Question(figures=figures, piano=one, players=PLAYERS, kit=KIT).plain().tasks}
        for one in (here, there)
    ]
    assert listed == {one.id for one in figures if tasks[1][one.id] is not None and tasks[0][one.id] is None}
