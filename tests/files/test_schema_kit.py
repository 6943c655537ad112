"""The kit file: stock, measured times, replaced rows."""

from __future__ import annotations

import pytest

from rimside.errors import BadInput
from rimside.files.schema_kit import kit_from_toml
from rimside.kit import DEFAULT_PICK_S, DEFAULT_PUT_S, DEFAULT_TURN_S, TECHNIQUES, Kit
from rimside.pitch import Key, LabelScheme
from rimside.score.model import Technique

HEAD = 'format = "rimside-kit/1"\n'
BOWS = '[[implement]]\nkind = "line bow"\nserves = ["line bow"]\ncount = 1\nper_pitch = true\n'


def read(text: str, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> Kit:
    return kit_from_toml((HEAD + text).encode(), "kit.toml", scheme)


def refused(text: str) -> str:
    with pytest.raises(BadInput) as slip:
        read(text)
    return str(slip.value)


def test_an_empty_kit_is_a_kit() -> None:
    """A kit with nothing in it is allowed: fingers and keys need nothing."""
    kit = read("")
    assert (kit.stock, kit.line_bow_hands, dict(kit.rows)) == ((), 2, dict(TECHNIQUES))


def test_times_nobody_measured_are_the_defaults() -> None:
    """The defaults of the motion-time studies fill the gaps, and nothing is called measured."""
    times = read(BOWS).times
    assert times.pick_s == {"line bow": DEFAULT_PICK_S}
    assert times.put_s == {"line bow": DEFAULT_PUT_S}
    assert times.turn_s == DEFAULT_TURN_S
    assert times.measured == frozenset()


def test_measured_times_replace_the_defaults_and_are_named() -> None:
    """Every sheet can say which times a rehearsal measured."""
    times = read("[times]\nturn_s = 0.8\n" + BOWS + "pick_s = 0.0\n").times
    assert (times.turn_s, times.pick_s["line bow"], times.put_s["line bow"]) == (0.8, 0.0, DEFAULT_PUT_S)
    assert times.measured == {"turn_s", "pick_s of line bow"}
    silent = read('[times.chores]\n"lay mute" = 2.4\n').times
    assert silent.chore_s == {"lay mute": 2.4}
    assert silent.measured == {"chore_s of lay mute"}


# The lowest A of the ordinal scheme is "A1" and 440 Hz is "A5" (docs/design.md, section 1): key 49.
def test_pitches_are_read_in_the_productions_scheme() -> None:
    """The same label means another key in another scheme."""
    text = BOWS + 'pitches = ["A5"]\n'
    assert read(text, LabelScheme.ORDINAL).stock[0].pitches == frozenset({Key(49)})
    assert read(text).stock[0].pitches == frozenset({Key(61)})


def test_one_hand_may_draw_a_line() -> None:
    """The ensemble's way of drawing a line bow is its own."""
    assert read("line_bow_hands = 1\n").line_bow_hands == 1


def test_a_row_of_the_table_is_replaced_field_by_field() -> None:
    """What is written is changed, the rest stays, cautions are only added, and the source says whose value it is."""
    kit = read(
        '[technique."stick bow"]\nrepeat_limit_hz = 3\ncautions = ["Slowly."]\n'
        '[technique."stick bow".window]\nclear_of_near_mm = 150\n'
    )
    row, usual = kit.rows[Technique.STICK_BOW], TECHNIQUES[Technique.STICK_BOW]
    assert (row.repeat_limit_hz, row.hands, row.permission) == (3.0, usual.hands, usual.permission)
    assert (row.window.clear_of_near_mm, row.window.clear_of_far_mm) == (150.0, usual.window.clear_of_far_mm)
    assert row.cautions == (*usual.cautions, "Slowly.")
    assert row.source == "this ensemble's kit file"
    assert kit.rows[Technique.LINE_BOW] == TECHNIQUES[Technique.LINE_BOW]


@pytest.mark.parametrize(
    "text, says",
    [
        (BOWS + "sides = 3\n", "3; allowed: 2 or less"),
        (BOWS + "pick_s = 900\n", "900; allowed: 120.0 or less"),
        (BOWS + "count = 1\n", "line 7, column 10: not valid TOML"),
        (BOWS.replace("count = 1", "count = -1"), "-1; allowed: 0 or more"),
        (BOWS.replace("count = 1", "count = 1.5"), "count: not a whole number: 1.5"),
        (BOWS.replace("count = 1\n", ""), "count is missing"),
        (BOWS + 'colour = "red"\n', "unknown key: 'colour'; allowed: kind, serves"),
        (BOWS + 'pitches = ["H4"]\n', "implement line bow, pitches: not a scientific label: 'H4'"),
        (BOWS + BOWS, "one kind of implement is listed twice: 'line bow'"),
        (BOWS.replace('["line bow"]', '["bow line"]'), "did you mean 'line bow'?"),
        (BOWS.replace('["line bow"]', '["keys"]'), "this technique uses no implement"),
        ('[[implement]]\nkind="b"\nserves=["beater"]\ncount=1\npitches=["C4"]\n', "pitches only go with per_pitch"),
        ("line_bow_hands = 3\n", "kit.toml, line_bow_hands"),
        ("[times]\nwalk_mm_per_s = 1.2\n", "1.2; allowed: 50.0 or more"),
        ('[times.chores]\n"lay muet" = 2\n', "did you mean 'lay mute'?"),
        ('[times.chores]\n"lay mute" = 2400.0\n', "a chore cannot take so long"),
        ('[technique."felt hamer"]\nhands = 1\n', "did you mean 'felt hammer'?"),
        ('[technique."felt hammer"]\nfits = "steel"\n', "unknown fits: 'steel'; allowed: plain, wound, any, spot"),
        ('[technique."felt hammer"]\npermission = "hamers"\n', "did you mean 'hammers'?"),
        ('[technique."felt hammer".window]\nfrom_share = 0.8\nto_share = 0.2\n', "the window is empty"),
        ('[technique."felt hammer".window]\nfrom_shar = 0.8\n', "did you mean from_share?"),
    ],
)
def test_slips_are_told_where_they_stand(text: str, says: str) -> None:
    """Each slip names the file, the place in it, and what would be right."""
    message = refused(text)
    assert message.startswith("kit.toml")
    assert says in message
