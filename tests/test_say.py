"""What a person at the terminal sees, where no command test looks closely."""

from __future__ import annotations

import argparse

import pytest

from rimside import say


def test_columns_are_as_wide_as_they_need() -> None:
    """Each column fits its longest cell, rows are indented, nothing trails, numbers stand to the right."""
    assert say.columns(("a", "long head"), [("xyz", "b")]) == "  a    long head\n  xyz  b"
    assert say.columns(("a", "n", "b"), [("x", "7", "y"), ("x", "12", "y")]) == "  a   n  b\n  x   7  y\n  x  12  y"


def test_columns_without_a_head_or_rows() -> None:
    """Rows alone are shown without a head, no rows as the head alone."""
    assert say.columns((), [("a", "b")]) == "  a  b"
    assert say.columns(("a", "b"), []) == "  a  b"


@pytest.mark.parametrize("seconds, text", [(0.0, "0:00"), (59.4, "0:59"), (59.6, "1:00"), (3661.0, "61:01")])
def test_a_clock_counts_minutes(seconds: float, text: str) -> None:
    """Moments are minutes and whole seconds, with no hour and never sixty seconds."""
    assert say.clock(seconds) == text


def test_one_is_not_plural() -> None:
    """One note, two notes, no notes."""
    assert [say.counted(count, "note") for count in (0, 1, 2)] == ["0 notes", "1 note", "2 notes"]


@pytest.mark.parametrize("level, key", [("1 uncast", "uncast"), ("6 load", "load"), ("uncast", "uncast")])
def test_every_level_is_explained(level: str, key: str) -> None:
    """The number before a level's name does not hide its explanation."""
    assert say.level_key(level) == key
    assert key in say.LEVELS


@pytest.mark.parametrize("share", [-1.0, 0.5, 2.0])
def test_progress_stays_between_nothing_and_all(share: float, capsys: pytest.CaptureFixture[str]) -> None:
    """A share outside 0 to 1 does not break the bar."""
    options = argparse.Namespace(json=False, quiet=False, progress=True)
    with say.progress(options) as report:
        report("stage", share)
    told = capsys.readouterr()
    assert told.out == ""
    assert f"{100 * min(max(share, 0), 1):3.0f} %" in told.err
