"""The file of readings, empty and filled in, and the survey file that is made of it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files.measure_tape import empty_text, measure, write_empty
from rimside.files.schema_piano import piano_from_toml
from rimside.files.schema_tape import tape_from_toml
from rimside.piano.readings import KINDS, steps
from rimside.piano.shipped import SHIPPED
from tests.piano.tape_example import counts_of, known


def filled(name: str, **changes: float) -> str:
    """The empty file of a shipped piano's keys with its core readings written in."""
    text = empty_text(name, None)
    read = {reading.name: reading.mm for reading in known(name).readings} | changes
    for reading, mm in read.items():
        text, count = re.subn(rf"^# {reading} = ", f"{reading} = {mm:g}", text, flags=re.MULTILINE)
        assert count == 1, reading
    return text


def write(folder: Path, text: str) -> str:
    path = folder / "readings.toml"
    path.write_text(text, "utf-8")
    return str(path)


@pytest.mark.parametrize("name", SHIPPED)
def test_the_empty_file_is_a_file(name: str) -> None:
    """What is written to be filled in can be read as it is, and offers every reading of the form once."""
    text = empty_text(name, None)
    found = tape_from_toml(text.encode(), "empty")
    assert found.readings == () and found.counts == counts_of(name)
    for step in steps(found.counts):
        assert len(re.findall(rf"^# {step.name} = ", text, re.MULTILINE)) == 1


def test_other_keys() -> None:
    """With the sections told the readings carry those keys; keys that cannot be are refused."""
    text = empty_text(None, "23,45,88")
    assert "length_23 = " in text and "length_24 = " in text and "length_20 = " not in text
    with pytest.raises(BadInput, match="--sections"):
        empty_text(None, "23;45;88")
    with pytest.raises(BadInput, match="88"):
        empty_text(None, "23,45")


@pytest.mark.parametrize("name", SHIPPED)
def test_from_readings_to_a_piano_file(name: str, tmp_path: Path) -> None:
    """A filled-in file becomes a survey that is read as any other, with what was measured listed in it."""
    made = measure(write(tmp_path, filled(name)), None)
    assert made.whole and made.path == tmp_path / "hall.toml"
    data = made.path.read_bytes()
    assert piano_from_toml(data, "hall") == made.surveyed.piano
    table = tomllib.loads(data.decode())
    assert {"length", "length_1", "last_keys"} <= set(table["measured"])
    assert "spots" not in table["measured"]


def test_assumptions_stand_in_the_survey_as_comments(tmp_path: Path) -> None:
    """Each assumption is a comment before its table, and a doubt stands at the head."""
    made = measure(write(tmp_path, filled("grand_210", far_y_21=1770)), str(tmp_path / "out.toml"))
    text = " ".join(line.removeprefix("# ") for line in (tmp_path / "out.toml").read_text("utf-8").splitlines())
    for assumption in made.surveyed.assumptions:
        assert f"Assumed: {assumption.text}." in text
    (doubt,) = made.surveyed.doubts
    assert f"In doubt: {doubt.reading.name}" in text and not made.whole


def test_numbers_are_tidy(tmp_path: Path) -> None:
    """No mm of the survey has more than one decimal, no wire more than three."""
    measure(write(tmp_path, filled("grand_170")), str(tmp_path / "out.toml"))
    lines = [line for line in (tmp_path / "out.toml").read_text("utf-8").splitlines() if not line.startswith("#")]
    for line in lines:
        without_wires = re.sub(r"(wire|wrap)_mm = \d+(\.\d{1,3})?(?!\d)", "", line)
        assert not re.search(r"\d\.\d\d", without_wires), line


def test_own_standard_errors_are_read() -> None:
    """A plain number has the usual error of its kind, a table its own."""
    text = filled("grand_210").replace("length_1 = 1500", "length_1 = { mm = 1500, plus_minus_mm = 7 }")
    read = {reading.name: reading for reading in tape_from_toml(text.encode(), "tape").readings}
    assert read["length_1"].plus_minus_mm == 7.0
    assert read["length_21"].plus_minus_mm == KINDS["length_K"].plus_minus_mm


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("length_1 = 1500", 'length_1 = "1500"', "readings, length_1, mm.*number"),
        ("length_1 = 1500", "lenght_1 = 1500", "did you mean length_K"),
        ("length_1 = 1500", "length_1 = 59", "length_1: no grand.*inches"),
        ("last_damper = 67", "last_dampr = 67", "did you mean last_damper"),
        ("last_keys = [20", "last_keys = [0", "last_keys"),
        ("[readings]", "[[course]]\nkey = 3\n[[course]]\nkey = 3\n[readings]", "told twice"),
        ("# [permissions]", '[permissions]\nallowed = ["saws"]', "unknown permission"),
        ('name = "hall"', 'name = "../hall"', "name"),
    ],
)
def test_slips_are_told_with_their_place(old: str, new: str, words: str, tmp_path: Path) -> None:
    """One clear message with the file, the place and a guess; nothing is written."""
    text = filled("grand_210")
    assert old in text
    with pytest.raises(BadInput, match=words) as caught:
        measure(write(tmp_path, text.replace(old, new)), None)
    assert "readings.toml" in str(caught.value)
    assert [path.name for path in tmp_path.iterdir()] == ["readings.toml"]


def test_nothing_filled_in_is_lost(tmp_path: Path) -> None:
    """The survey does not replace its readings, nor an empty file one that is there."""
    path = write(tmp_path, filled("grand_210"))
    with pytest.raises(BadInput, match="--out"):
        measure(path, path)
    with pytest.raises(BadInput, match="already"):
        write_empty(path, None, None)
    assert Path(path).read_text("utf-8") == filled("grand_210")
