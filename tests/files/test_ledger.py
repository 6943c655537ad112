"""The ledger keeps links, the clock and flags, and no token."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files.ledger import LEDGER, Clock, Flag, Ledger

AT, LATER = "2026-03-01T19:00:00", "2026-03-01T19:30:00"
FLAG = Flag(
    id="a-1", player="ada", casting="hall", made_at=AT, at_s=12.5, bar="4", pass_="2nd", figure="f003", what="too fast",
    measured_s=2.25,
)  # fmt: skip


def test_a_token_opens_its_player_and_only_its_hash_is_on_the_disc(tmp_path: Path) -> None:
    """The token names its player; its text is in no byte of the file; 256 bits are drawn for it."""
    token = Ledger(tmp_path).make_link("ada", AT)
    assert Ledger(tmp_path).player_of(token) == "ada"
    assert len(token) == 43
    assert token.encode() not in (tmp_path / LEDGER).read_bytes()


@pytest.mark.parametrize("other", ["", "x", "a" * 43, "ä/../\udcff"])
def test_any_other_text_opens_nothing(tmp_path: Path, other: str) -> None:
    """No player for an empty, short, long or unreadable token."""
    ledger = Ledger(tmp_path)
    ledger.make_link("ada", AT)
    assert ledger.player_of(other) is None


def test_a_link_made_anew_closes_the_one_before_and_revoking_closes_it(tmp_path: Path) -> None:
    """Of Ada's two links the second opens until it is revoked; Bo's is not touched."""
    ledger = Ledger(tmp_path)
    first, bo = ledger.make_link("ada", AT), ledger.make_link("bo", AT)
    second = ledger.make_link("ada", LATER)
    assert [ledger.player_of(token) for token in (first, second, bo)] == [None, "ada", "bo"]
    ledger.revoke("ada", LATER)
    assert [ledger.player_of(token) for token in (second, bo)] == [None, "bo"]
    assert [link.revoked_at for link in ledger.links()] == [LATER, None, LATER]


def test_the_clock_is_the_last_one_kept(tmp_path: Path) -> None:
    """At the beginning at first, then exactly what was kept last, with its loop or without, for every later reader."""
    assert Ledger(tmp_path).clock() == Clock()
    for loop_s in (None, (10.0, 14.5), None):
        clock = Clock(epoch=7, at_s=-11.25, server_ms=1.7e12 + 0.5, speed=0.75, playing=True, loop_s=loop_s)
        Ledger(tmp_path).keep_clock(clock)
        assert Ledger(tmp_path).clock() == clock


def test_which_casting_is_rehearsed_is_kept(tmp_path: Path) -> None:
    """The main one at first, then the one kept last."""
    assert Ledger(tmp_path).rehearsed() == ("", "")
    for chosen in (("small", "hall"), ("", "hall--without-bo")):
        Ledger(tmp_path).keep_rehearsed(*chosen)
        assert Ledger(tmp_path).rehearsed() == chosen


def test_a_flag_that_comes_twice_is_kept_once(tmp_path: Path) -> None:
    """The second sending is told apart and changes nothing."""
    ledger = Ledger(tmp_path)
    assert ledger.add_flag(FLAG)
    assert not ledger.add_flag(replace(FLAG, what="another"))
    assert Ledger(tmp_path).flags() == (FLAG,)


def test_open_flags_come_first_in_the_order_of_the_piece_and_each_player_has_the_own(tmp_path: Path) -> None:
    """Done ones go to the end with their answer, opened again they come back; Bo reads Bo's alone."""
    ledger = Ledger(tmp_path)
    for number, (player, at_s) in enumerate((("ada", 30.0), ("bo", 10.0), ("ada", 20.0))):
        ledger.add_flag(replace(FLAG, id=f"n{number}", player=player, at_s=at_s))
    ledger.answer_flag("n1", LATER, "slower from bar 3")
    assert [flag.id for flag in ledger.flags()] == ["n2", "n0", "n1"]
    assert [(flag.id, flag.answer) for flag in ledger.flags("bo")] == [("n1", "slower from bar 3")]
    ledger.answer_flag("n1", None, "")
    assert [flag.id for flag in ledger.flags()] == ["n1", "n2", "n0"]
    with pytest.raises(BadInput, match="no such flag"):
        ledger.answer_flag("n9", LATER, "")


def test_a_newer_ledger_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    """A file of format 99 is told to be newer, and its format still stands there."""
    Ledger(tmp_path)
    with sqlite3.connect(tmp_path / LEDGER) as base:
        base.execute("PRAGMA user_version = 99")
    base.close()
    with pytest.raises(BadInput, match="format is not one") as told:
        Ledger(tmp_path)
    assert "newer" in told.value.hint
    with sqlite3.connect(tmp_path / LEDGER) as base:
        assert base.execute("PRAGMA user_version").fetchone() == (99,)
    base.close()


def test_a_file_that_is_no_ledger_is_told(tmp_path: Path) -> None:
    """Other bytes under this name give one clear error."""
    (tmp_path / LEDGER).write_bytes(b"not a ledger at all, but long enough to be looked at" * 40)
    with pytest.raises(BadInput, match=r"cannot be read or written"):
        Ledger(tmp_path)


def test_tables_of_others_are_left_alone(tmp_path: Path) -> None:
    """A table that another part of the program put there is still there after opening."""
    Ledger(tmp_path)
    with sqlite3.connect(tmp_path / LEDGER) as base:
        base.execute("CREATE TABLE counts (kind TEXT)")
        base.execute("INSERT INTO counts VALUES ('felt hammer')")
    base.close()
    Ledger(tmp_path).make_link("ada", AT)
    with sqlite3.connect(tmp_path / LEDGER) as base:
        assert base.execute("SELECT kind FROM counts").fetchall() == [("felt hammer",)]
    base.close()
