"""The whole job: a score's figures, a piano, people and a kit become a casting."""

from __future__ import annotations

import pytest

from rimside import flow
from rimside.casting import search
from rimside.casting.result import Casting
from rimside.casting.verify import verify
from rimside.errors import BadInput, Interrupted
from rimside.kit import PERMISSIONS
from rimside.piano.model import Permissions, Piano
from rimside.score.model import Pedal, PedalSpan, Score, Technique
from rimside.score.reading import Reading
from tests.casting.judging import world
from tests.casting.worlds import World, figure, toy_kit, toy_piano, toy_players

FIGURES = (
    figure("A", Technique.FINGER_PLUCK, (40,), 0.0, 2.0),
    figure("B", Technique.LINE_BOW, (30,), 4.0, 7.0),
)


def reading(*pedals: PedalSpan, end_s: float = 6.0) -> Reading:
    """Two figures, the second of which rings beyond the last bar line."""
    score = Score(title="Study", parts=("piano",), notes=(), bars=(), pedals=pedals, end_s=end_s)
    return Reading(score=score, figures=FIGURES)


def span(pedal: Pedal, down_s: float = 0.0, up_s: float = 9.0) -> PedalSpan:
    """A pedal as written."""
    return PedalSpan(pedal=pedal, down_s=down_s, up_s=up_s)


def test_a_score_is_cast() -> None:
    """Both figures are cast, the judge finds nothing, all levels are named."""
    piano, players, kit = toy_piano(), toy_players(2), toy_kit()
    casting = flow.plan(reading(), piano, players, kit, seconds=2.0)
    assert verify(casting, piano, players, kit) == ()
    assert [row.figure for row in casting.cast] == ["A", "B"]
    assert len(casting.proof) == 6
    assert casting.seconds > 0.0


def test_without_written_pedals_the_damper_pedal_is_wedged() -> None:
    """Down from 0 s to the end of whatever ends last, by a wedge where the owner allows one: nobody has to stay."""
    held = flow.pedals_held(reading(), toy_piano(), toy_kit())
    assert held.spans == (span(Pedal.DAMPER, 0.0, 7.0),)
    assert (held.needs, held.holders[0].hold) == ((), "")
    longer = flow.pedals_held(reading(end_s=8.0), toy_piano(), toy_kit())
    assert longer.spans[0].up_s == 8.0
    casting = flow.plan(reading(), toy_piano(), toy_players(2), toy_kit(), seconds=2.0)
    assert [(action.pedal, action.by) for action in casting.pedals] == [("damper", flow.WEDGE)]


def no_wedge() -> Piano:
    """A piano whose owner allows all but a wedge."""
    return toy_piano(permissions=Permissions(allowed=frozenset(PERMISSIONS) - {"wedge"}))


def test_without_leave_to_wedge_a_foot_holds_the_pedal() -> None:
    """The pedal is still down throughout, and every figure needs the one who holds it."""
    held = flow.pedals_held(reading(), no_wedge(), toy_kit())
    assert held.spans == (span(Pedal.DAMPER, 0.0, 7.0),)
    assert [(need.figure, need.ways) for need in held.needs] == [(name, (("hold damper 1",),)) for name in "AB"]


@pytest.mark.parametrize("pedal", [Pedal.DAMPER, Pedal.SOSTENUTO])
def test_written_pedals_stand_as_written(pedal: Pedal) -> None:
    """Where the score says something of dampers, nothing is added."""
    written = span(pedal, 1.0, 3.0)
    assert flow.pedals_held(reading(written), toy_piano(), toy_kit()).spans == (written,)


def test_una_corda_says_nothing_of_dampers() -> None:
    """A soft pedal alone leaves the dampers to the wedge, and stays."""
    held = flow.pedals_held(reading(span(Pedal.UNA_CORDA)), toy_piano(), toy_kit())
    assert [p.pedal for p in held.spans] == [Pedal.UNA_CORDA, Pedal.DAMPER]


def test_pedals_that_the_piano_lacks_hold_nothing() -> None:
    """Without a sostenuto pedal its spans are dropped and the figures stay uncast, with the lack named."""
    two = toy_piano(pedals=frozenset({Pedal.DAMPER, Pedal.UNA_CORDA}))
    assert flow.pedals_held(reading(span(Pedal.SOSTENUTO)), two, toy_kit()).spans == ()
    casting = flow.plan(reading(span(Pedal.SOSTENUTO)), two, toy_players(2), toy_kit(), seconds=1.0)
    assert {entry.rule for entry in casting.uncast} == {"H8"}
    assert all("no sostenuto pedal" in entry.reason for entry in casting.uncast)


def test_ctrl_c_hands_over_the_best_so_far(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped before anything was decided, the casting is there, correct, and lists every figure."""

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(search, "decide", stopped)
    piano, players, kit = toy_piano(), toy_players(2), toy_kit()
    with pytest.raises(Interrupted) as caught:
        flow.plan(reading(), piano, players, kit, seconds=2.0)
    best = caught.value.best
    assert isinstance(best, Casting)
    assert verify(best, piano, players, kit) == ()
    assert [entry.figure for entry in best.uncast] == ["A", "B"]


def test_nobody_to_play_is_bad_input() -> None:
    """An empty ensemble is refused with a sentence."""
    asked: World = world(*FIGURES)
    with pytest.raises(BadInput, match="nobody is there to play"):
        flow.plan(reading(), asked.piano, (), asked.kit)
