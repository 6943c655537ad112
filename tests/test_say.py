"""What a person at the terminal sees, where no command test looks closely."""

from __future__ import annotations

import argparse
from dataclasses import replace

import pytest

from rimside.casting.result import Mend, Uncast, bare_level
from rimside.say import production, terminal
from tests.paper import fixture


def test_columns_are_as_wide_as_they_need() -> None:
    """Each column fits its longest cell, rows are indented, nothing trails, numbers stand to the right."""
    assert terminal.columns(("a", "long head"), [("xyz", "b")]) == "  a    long head\n  xyz  b"
    assert (
        terminal.columns(("a", "n", "b"), [("x", "7", "y"), ("x", "12", "y")]) == "  a   n  b\n  x   7  y\n  x  12  y"
    )


def test_columns_without_a_head_or_rows() -> None:
    """Rows alone are shown without a head, no rows as the head alone."""
    assert terminal.columns((), [("a", "b")]) == "  a  b"
    assert terminal.columns(("a", "b"), []) == "  a  b"


@pytest.mark.parametrize("seconds, text", [(0.0, "0:00"), (59.4, "0:59"), (59.6, "1:00"), (3661.0, "61:01")])
def test_a_clock_counts_minutes(seconds: float, text: str) -> None:
    """Moments are minutes and whole seconds, with no hour and never sixty seconds."""
    assert terminal.clock(seconds) == text


def test_one_is_not_plural() -> None:
    """One note, two notes, no notes."""
    assert [terminal.counted(count, "note") for count in (0, 1, 2)] == ["0 notes", "1 note", "2 notes"]


@pytest.mark.parametrize("level, key", [("1 uncast", "uncast"), ("6 load", "load"), ("uncast", "uncast")])
def test_every_level_is_explained(level: str, key: str) -> None:
    """The number before a level's name does not hide its explanation."""
    assert bare_level(level) == key
    assert key in production.LEVELS


@pytest.mark.parametrize("share", [-1.0, 0.5, 2.0])
def test_progress_stays_between_nothing_and_all(share: float, capsys: pytest.CaptureFixture[str]) -> None:
    """A share outside 0 to 1 does not break the bar."""
    options = argparse.Namespace(json=False, quiet=False, progress=True)
    with terminal.progress(options) as report:
        report("stage", share)
    told = capsys.readouterr()
    assert told.out == ""
    assert f"{100 * min(max(share, 0), 1):3.0f} %" in told.err


def test_an_uncast_figure_is_told_with_its_rules_and_mends() -> None:
    """Rules that act together are named in words; each mend stands on its own line with the music it changes."""
    row = Uncast(
        figure="f1",
        rule="H4",
        reason="too far",
        competing=("f2",),
        rules=("H2", "H4"),
        proved=True,
        mends=(
            Mend(kind="technique", text="Play f1 with keys", of_music=2.0),
            Mend(kind="shorten", text="Shorten f1 by 0.4 s (end it earlier)", of_music=0.4),
        ),
    )
    told = production.uncast_text(row, fixture.casting()).splitlines()
    assert told[1:] == [
        "    H4: too far",
        "    competes with f2",
        "    kept out by H2 (two hands) and H4 (time to change) together",
        "    mend: Play f1 with keys (2.0 s of music)",
        "    mend: Shorten f1 by 0.4 s (end it earlier)",
    ]
    assert (
        production.uncast_text(replace(row, proved=False), fixture.casting()).splitlines()[2].endswith("(not proved)")
    )
