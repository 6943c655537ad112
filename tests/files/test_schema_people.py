"""The ensemble file: what is read, what fills the gaps, what is refused."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import pytest

from rimside.errors import BadInput
from rimside.files.palette import PALETTE
from rimside.files.schema_people import player_id, players_from_toml
from rimside.people import SHOULDER_BREADTH_SHARE, Player
from rimside.score.model import Technique

HEAD = 'format = "rimside-ensemble/1"\n'


def read(*tables: str, head: str = HEAD) -> tuple[Player, ...]:
    return players_from_toml((head + "".join(f"[[player]]\n{table}\n" for table in tables)).encode())


def refused(*tables: str, head: str = HEAD) -> str:
    with pytest.raises(BadInput) as slip:
        read(*tables, head=head)
    return str(slip.value)


def test_a_name_and_a_stature_are_enough() -> None:
    """A player with nothing but a name and a stature does everything and gets the first colour."""
    (ada,) = read('name = "Ada"\nstature_mm = 1680')
    assert (ada.id, ada.sign, ada.colour, ada.colour_name) == ("ada", "A", "#E69F00", "orange")
    assert ada.plays(Technique.BEATER)
    assert ada.measured_reach_mm is None


def test_a_measured_reach_replaces_the_estimate() -> None:
    """What was measured stands in the player, comfortable first."""
    (bo,) = read('name = "Bo"\nstature_mm = 1800\nreach_mm = [700, 950.5]')
    assert bo.reach(900.0).comfortable_mm == 700.0
    assert bo.reach(900.0).full_mm == 950.5


def test_reach_and_breadth_do_without_a_stature() -> None:
    """Without a stature the measured breadth gives one back, by the same share that would have estimated it."""
    (bo,) = read('name = "Bo"\nreach_mm = [700, 950]\nshoulder_breadth_mm = 480')
    assert bo.shoulder_breadth_mm == 480.0
    assert bo.stature_mm == pytest.approx(480.0 / SHOULDER_BREADTH_SHARE)


def test_a_reach_alone_is_not_enough() -> None:
    """Nothing is guessed: a reach without a breadth asks for one or for the stature."""
    assert "stature_mm, or both reach_mm and shoulder_breadth_mm" in refused('name = "Bo"\nreach_mm = [700, 950]')


def test_skills_are_the_techniques_listed() -> None:
    """A list of skills leaves out the others; an empty list leaves out all."""
    ada, bo = read('name="Ada"\nstature_mm=1700\nskills=["line bow"]', 'name="Bo"\nstature_mm=1700\nskills=[]')
    assert ada.plays(Technique.LINE_BOW)
    assert not ada.plays(Technique.KEYS)
    assert not any(bo.plays(technique) for technique in Technique)


def test_colours_left_open_avoid_those_that_are_written() -> None:
    """The palette skips a colour that a later player asked for."""
    ada, bo = read('name="Ada"\nstature_mm=1700', 'name="Bo"\nstature_mm=1700\ncolour="orange"')
    assert (ada.colour_name, bo.colour_name) == ("sky blue", "orange")


def test_ten_players_get_ten_colours_and_ten_signs() -> None:
    """Ten players whose names start alike are told apart by colour and, without colour, by sign."""
    players = read(*(f'name = "A{letter}"\nstature_mm = 1700' for letter in "abcdefghij"))
    assert len({player.colour for player in players}) == 10
    assert len({player.sign for player in players}) == 10


def test_signs_stay_apart_for_names_of_the_same_letters() -> None:
    """ "Aa" and "AA B" share their letters' starts; both still get a sign of their own, never a written one."""
    players = read(
        *(f'name="{name}"\nstature_mm=1700' for name in ("Aa", "Aaa", "Aaaa")), 'name="B"\nstature_mm=1700\nsign="A"'
    )
    assert len({player.sign for player in players}) == 4
    assert players[3].sign == "A"


def test_the_eleventh_player_brings_a_colour() -> None:
    """Past the palette a colour must be written, with a name to call it by."""
    ten = [f'name = "P{number}"\nstature_mm = 1700' for number in range(10)]
    assert "palette has only 10 colours" in refused(*ten, 'name = "Eve"\nstature_mm = 1700')
    assert "needs a name" in refused(*ten, 'name = "Eve"\nstature_mm = 1700\ncolour = "#12AB34"')
    players = read(*ten, 'name = "Eve"\nstature_mm = 1700\ncolour = "#12ab34"\ncolour_name = "leaf"')
    assert (players[10].colour, players[10].colour_name) == ("#12AB34", "leaf")


@pytest.mark.parametrize("second", ["Ada", "ada", " Ada "])
def test_two_players_of_one_name_are_refused(second: str) -> None:
    """One name, capitals and spaces aside, cannot stand for two people."""
    message = refused('name="Ada"\nstature_mm=1700', f'name="{second}"\nstature_mm=1800')
    assert message.startswith("ensemble.toml: two players have one name")


@pytest.mark.parametrize("key, value", [("sign", '"X"'), ("colour", '"green"'), ("id", '"x"')])
def test_what_tells_players_apart_is_theirs_alone(key: str, value: str) -> None:
    """Two players with one sign, colour or id are refused."""
    tables = (f'name="{name}"\nstature_mm=1700\n{key}={value}' for name in ("Ada", "Bo"))
    assert f"two players have one {key}" in refused(*tables)


def test_an_unknown_technique_is_refused_with_the_nearest() -> None:
    """The message says who, what, and which name was probably meant."""
    message = refused('name="Ada"\nstature_mm=1700\nskills=["lime bow"]')
    assert message.startswith("ensemble.toml, player Ada, skills: unknown technique: 'lime bow'")
    assert message.endswith("did you mean 'line bow'?")


@pytest.mark.parametrize(
    "stature, hint", [("1.68", "was it given in m?"), ("168", "was it given in cm?"), ("3000", "1300 to 2200")]
)
def test_a_stature_in_another_unit_is_refused_with_a_guess(stature: str, hint: str) -> None:
    """Metres and centimetres are recognised, not converted."""
    assert refused(f'name="Ada"\nstature_mm={stature}').endswith(hint)


@pytest.mark.parametrize(
    "table, says",
    [
        ('name="Ada"\nstature_mm="1700"', "player no. 1 (name Ada), stature_mm: not a number: '1700'"),
        ('name="Ada"\nstature_mm=true', "stature_mm: not a number: True"),
        ('name="Ada"\nstature_mm=nan', "stature_mm"),
        ('name="Ada"\nstatur_mm=1700', "did you mean stature_mm?"),
        ('name=""\nstature_mm=1700', "(name ), name"),
        ("stature_mm=1700", "player no. 1, name: name is missing"),
        ('name="Ada"\nstature_mm=1700\nreach_mm=[900, 700]', "reach_mm is not possible"),
        ('name="Ada"\nstature_mm=1700\nreach_mm=[700]', "reach_mm: too few entries: [700]"),
        ('name="Ada"\nstature_mm=1700\ncolour="sunset"', "unknown colour: 'sunset'; allowed: orange"),
        ('name="Ada"\nstature_mm=1700\ncolour_vision="red"', "colour_vision"),
        ('name="Ada"\nstature_mm=1700\nid="A B"', "lower-case letters"),
        ('name="..."\nstature_mm=1700', "add id"),
    ],
)
def test_slips_are_told_where_they_stand(table: str, says: str) -> None:
    """Each slip names the file, the player, the key, and what would be right."""
    message = refused(table)
    assert message.startswith("ensemble.toml")
    assert says in message


@pytest.mark.parametrize(
    "data, says",
    [
        (HEAD.encode() + b'[[player]]\nname = "Zo\xeb"\n', "line 3: the file is not UTF-8 text"),
        ((HEAD + '[[player]]\nname = "Ada"\n').encode("utf-16"), "it looks like UTF-16"),
        (b"player = [", "not valid TOML"),
        (HEAD.encode(), "player is missing"),
        (b'format = "rimside-ensemble/2"\n', "written by a newer Rimside"),
        (b'format = "rimside-kit/1"\n', 'write format = "rimside-ensemble/1" at the top'),
        (b"", "format is not one this version reads"),
    ],
)
def test_a_file_of_another_kind_is_refused(data: bytes, says: str) -> None:
    """Wrong encoding, wrong syntax, wrong or newer format: one clear message each."""
    with pytest.raises(BadInput, match=r"ensemble\.toml") as slip:
        players_from_toml(data)
    assert says in str(slip.value)


def test_a_byte_order_mark_does_no_harm() -> None:
    """Some editors put a mark before UTF-8 text."""
    data = b"\xef\xbb\xbf" + HEAD.encode() + b'[[player]]\nname = "Ada"\nstature_mm = 1700\n'
    assert players_from_toml(data)[0].name == "Ada"


def test_ids_are_plain_letters() -> None:
    """Accents and spaces do not reach file names."""
    assert player_id("Zoë B.") == "zoe-b"


# Machado, Oliveira & Fernandes, IEEE TVCG 15(6) 2009, severity 1.0, on linear RGB; as carried by the check sheet.
EYES: dict[str, tuple[tuple[float, float, float], ...]] = {
    "full": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritan": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}
# IEC 61966-2-1 (sRGB) to XYZ, D65.
XYZ = ((0.4124564, 0.3575761, 0.1804375), (0.2126729, 0.7151522, 0.0721750), (0.0193339, 0.1191920, 0.9503041))


def times(matrix: Sequence[Sequence[float]], vector: Sequence[float]) -> list[float]:
    return [sum(a * b for a, b in zip(row, vector, strict=True)) for row in matrix]


def lab(value: str, eye: str) -> list[float]:
    shares = [int(value[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    seen = times(XYZ, [min(max(share, 0.0), 1.0) for share in times(EYES[eye], linear)])
    x, y, z = (
        part ** (1 / 3) if part > 0.008856 else 7.787 * part + 16 / 116
        for part in (a / b for a, b in zip(seen, times(XYZ, (1, 1, 1)), strict=True))
    )
    return [116 * y - 16, 500 * (x - y), 200 * (y - z)]


def least_difference(eye: str, colours: Sequence[str]) -> float:
    pairs = itertools.combinations([lab(value, eye) for value in colours], 2)
    return min(math.dist(a, b) for a, b in pairs)


@pytest.mark.parametrize("eye", EYES)
def test_the_two_added_colours_leave_the_published_set_as_far_apart_as_it_was(eye: str) -> None:
    """White and brown bring no pair closer (CIELAB distance) than the closest pair of Okabe & Ito, for any eye."""
    values = [row.value for row in PALETTE]
    assert least_difference(eye, values) == pytest.approx(least_difference(eye, values[:8]))
