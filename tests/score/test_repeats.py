"""The way through the page. Expectations follow MusicXML 4.0 (repeat, ending, sound) and, where it is silent, the
choices stated in `rimside.score.repeats`."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rimside.errors import BadInput
from rimside.score.repeats import unroll
from rimside.score.written import JumpKind, WrittenBar, WrittenJump
from tests.score.build import bar_order, bars, listed, note, score_of

FOUR = Fraction(4)


def page(signs: str) -> tuple[WrittenBar, ...]:
    """Bars from a sketch: `|:` before and `:|` after a bar, `:|3` three times in all, `[1` and `[1,2` brackets."""
    made: list[WrittenBar] = []
    for number, sketch in enumerate(signs.split(), start=1):
        bar = WrittenBar(name=str(number), length=FOUR)
        head, _, tail = sketch.partition("x")
        if "[" in head:
            numbers = frozenset(map(int, head.split("[")[1].split(",")))
            bar = replace(bar, ending=numbers, ending_starts=True)
        if "|:" in head:
            bar = replace(bar, forward=True)
        if tail.startswith(":|"):
            bar = replace(bar, backward=int(tail[2:].rstrip("!") or 1), after_jump=tail.endswith("!"))
        made.append(bar)
    return tuple(made)


def order(signs: str, *jumps: WrittenJump) -> str:
    return " ".join(str(bar.index + 1) for bar in unroll(page(signs), jumps))


def jump(bar: int, kind: JumpKind, offset: int = 0, target: str = "") -> WrittenJump:
    return WrittenJump(at=(bar - 1, Fraction(offset)), kind=kind, target=target)


@pytest.mark.parametrize(
    ("signs", "expected", "why"),
    [
        ("x x x", "1 2 3", "no sign: once through"),
        ("x |:x x:| x", "1 2 3 2 3 4", "a plain repeat is played twice"),
        ("|:x x:|4 x", "1 2 1 2 1 2 1 2 3", "times=4 is four times in all"),
        ("x x:| x", "1 2 1 2 3", "no start sign and nothing before: from the beginning"),
        ("x x:| x x:|", "1 2 1 2 3 4 3 4", "no start sign: back to the last end-repeat, not to bar 1"),
        ("|:x [1x:| [2x x x:| x", "1 2 1 3 4 5 4 5 6", "no start sign after endings: back to the last ending"),
        ("|:x [1x:| [2x x", "1 2 1 3 4", "first and second ending"),
        ("|:x [1x:| x x", "1 2 1 3 4", "a first ending without a second bracket still repeats"),
        ("|:x [1,2x:| [3x x", "1 2 1 2 1 3 4", "an ending for two passes"),
        ("|:x [1x:| [2x:| [3x x", "1 2 1 3 1 4 5", "three endings, each with its own end-repeat"),
        ("|:x x", "1 2", "a start sign that nothing answers"),
        ("|:x:| |:x:|", "1 1 2 2", "two repeats side by side"),
    ],
)
def test_order_of_bars(signs: str, expected: str, why: str) -> None:
    """Each sketch is played in the order that its signs ask for."""
    assert order(signs) == expected, why


def test_da_capo_al_fine_leaves_repeats_out() -> None:
    """After a da capo the inner repeats are not taken again, and fine ends the piece."""
    signs = "|:x x:| x x"
    assert order(signs, jump(2, JumpKind.FINE), jump(4, JumpKind.DA_CAPO)) == "1 2 1 2 3 4 1 2"


def test_after_jump_takes_the_repeat_again() -> None:
    """MusicXML 4.0, repeat, after-jump="yes": the repeat is taken after a leap too."""
    assert order("|:x x:|2! x", jump(3, JumpKind.DA_CAPO), jump(2, JumpKind.FINE)) == "1 2 1 2 3 1 2 1 2"


def test_the_last_ending_follows_a_leap() -> None:
    """After a leap the last ending is the one that is played."""
    signs = "|:x [1x:| [2x x"
    assert order(signs, jump(4, JumpKind.DA_CAPO), jump(3, JumpKind.FINE)) == "1 2 1 3 4 1 3"


def test_dal_segno_al_coda() -> None:
    """Dal segno goes to its sign, to-coda counts only after the leap, and the coda's own repeat is taken."""
    jumps = (jump(2, JumpKind.SEGNO), jump(3, JumpKind.TO_CODA), jump(4, JumpKind.DAL_SEGNO), jump(5, JumpKind.CODA))
    assert order("x x x x |:x:| x", *jumps) == "1 2 3 4 2 3 5 5 6"


def test_named_signs_lead_to_their_own() -> None:
    """Of two segnos the one with the leap's name is the goal."""
    jumps = (
        jump(1, JumpKind.SEGNO, target="a"),
        jump(3, JumpKind.SEGNO, target="b"),
        jump(4, JumpKind.DAL_SEGNO, target="b"),
    )
    assert order("x x x x", *jumps) == "1 2 3 4 3 4"


def test_a_leap_at_an_end_repeat_waits_for_the_last_pass() -> None:
    """Repeat first, then da capo, when both stand at one bar line."""
    assert order("x |:x:|", jump(2, JumpKind.DA_CAPO)) == "1 2 2 1 2"


def test_a_fine_inside_a_bar_cuts_it() -> None:
    """MusicXML 4.0, sound, fine: it follows the final note, so that the rest of the bar is not played."""
    played = unroll(page("x x"), (jump(1, JumpKind.FINE, offset=3), jump(2, JumpKind.DA_CAPO)))
    assert [(bar.index, float(bar.to_quarters)) for bar in played] == [(0, 4), (1, 4), (0, 3)]


def test_passes_rise_each_time_a_bar_comes_again() -> None:
    """A second ending is pass 2 at once; after a leap the count goes on."""
    played = unroll(page("|:x [1x:| [2x"), (jump(3, JumpKind.DA_CAPO),))
    assert [(bar.index + 1, bar.pass_number) for bar in played] == [(1, 1), (2, 1), (1, 2), (3, 2), (1, 3), (3, 3)]


def test_endless_repeats_are_refused() -> None:
    """A hundred thousand bars are damage, not music."""
    with pytest.raises(BadInput, match="do not come to an end"):
        order("|:x:|200000")


def test_leaps_written_in_one_part_hold_for_all() -> None:
    """The D.C. of the second part takes the first part along."""
    leap = '<direction><direction-type><words>D.C.</words></direction-type><sound dacapo="yes"/></direction>'
    score = score_of(bars(note(), note("D")), bars(note("E"), note("F") + leap))
    assert bar_order(score) == "1 2 1 2"
    assert [one.pass_number for one in score.notes if one.part == "Part 1"] == [1, 1, 2, 2]


@pytest.mark.parametrize("text", ["D.C. al Fine", "D. C.", "Da Capo al fine", "d.c. al Coda"])
def test_leaps_in_words_alone_are_read(text: str) -> None:
    """Files without playback elements still mean what their words say."""
    direction = f"<direction><direction-type><words>{text}</words></direction-type></direction>"
    assert bar_order(score_of(bars(note(), note() + direction))) == "1 2 1 2"


def test_two_bare_coda_signs() -> None:
    """Without playback elements the first coda sign is where to leave, the second where to go."""
    sign = "<direction><direction-type><coda/></direction-type></direction>"
    leap = "<direction><direction-type><words>D.C. al Coda</words></direction-type></direction>"
    assert bar_order(score_of(bars(note(), note() + sign, note() + leap, sign + note()))) == "1 2 3 1 2 4"


def test_a_leap_without_its_sign_is_listed() -> None:
    """Dal segno without a segno cannot be followed, so that a person hears of it."""
    direction = '<direction><direction-type><words>D.S.</words></direction-type><sound dalsegno="s"/></direction>'
    score = score_of(bars(note(), note() + direction, note()))
    assert "dal segno without a segno sign" in listed(score)
    assert bar_order(score) == "1 2 3"


def test_an_implied_start_sign() -> None:
    """MusicXML 4.0, sound, forward-repeat: a start sign that is not printed."""
    back = '<barline location="right"><repeat direction="backward"/></barline>'
    assert bar_order(score_of(bars(note(), '<sound forward-repeat="yes"/>' + note() + back))) == "1 2 2"
