"""Refits and tours as a person meets them: messages for what cannot be used, and what is said of what can."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from rimside import cli, flow
from rimside.casting.result import Casting, Change, Proof, Uncast
from rimside.casting.verify import Breach
from rimside.files import job, project, tour
from rimside.files.tour import Row, Stop, Tour
from rimside.say import production
from tests.casting.judging import cast, world
from tests.files.productions import PIANO, change, new, plan
from tests.test_cli import run


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    """A production with one casting, a stand-in solver that says what it was asked to stay close to."""
    made = plan()

    def like_asked(*given: Any, like: Any = None, **options: Any) -> Casting:
        return replace(made(*given, **options), like="" if like is None else like.name)

    monkeypatch.setattr(flow, "plan", like_asked)
    monkeypatch.setattr(job, "verify", lambda *_: ())
    folder = new(tmp_path / "low-tide")
    assert run(capsys, "cast", folder)[0] == 0
    return folder


def disc(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("named", [PIANO, f"{PIANO}.json", f"castings/{PIANO}.json"])
def test_a_casting_is_named_or_pointed_at(named: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By its name or its file."""
    status, out, err = run(capsys, "cast", folder, "--without", "Bo", "--like", named)
    assert (status, err) == (0, "")
    assert f"Nothing changes from {PIANO}" in out
    assert json.loads((folder / "castings" / f"{PIANO}--without-bo.json").read_text("utf-8"))["like"] == PIANO


@pytest.mark.parametrize(
    "options, says",
    [
        (["--like", "grand_999"], "castings/grand_999.json: there is no such casting; allowed: grand_275"),
        (["--like", PIANO, "--without", "Zed"], "Zed"),
        (["--like", "../production"], "there is no such casting"),
    ],
)
def test_what_does_not_exist_is_one_message(
    options: list[str], says: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 2, the thing is named, nothing on the disc changes."""
    before = disc(folder)
    status, out, err = run(capsys, "cast", folder, *options)
    assert (status, out) == (2, "")
    assert says in err
    assert disc(folder) == before


def test_a_casting_of_another_score_is_refused_with_the_figures(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every pitch is another now: exit 2, the first figures that differ are named, nothing is lost."""
    score = folder / "score.csv"
    text = score.read_text("utf-8")
    for old, new_ in (("line bow,", "plectrum,"), ("finger pluck,", "plectrum,"), ("felt hammer,", "plectrum,")):
        text = text.replace(old, new_)
    score.write_text(text, "utf-8")
    before = disc(folder)
    status, _, err = run(capsys, "cast", folder, "--like", PIANO)
    assert status == 2
    assert f"castings/{PIANO}.json: is a casting of another score" in err
    assert "no longer the same: " in err
    assert disc(folder) == before


def test_a_stale_casting_is_used_and_what_changed_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A taller player, the same figures: cast, and the changed file is named."""
    change(folder, "ensemble.toml", "stature_mm = 1830", "stature_mm = 1835")
    status, out, _ = run(capsys, "cast", folder, "--like", PIANO)
    assert status == 0
    assert "ensemble.toml changed" in out
    assert "its figures are still those of the score" in out


def test_a_mended_score_is_used_and_its_figures_are_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One figure of fifteen has another pitch: cast, and that one is named."""
    change(folder, "score.csv", "A,7:1,1 bars,felt hammer,D3", "A,7:1,1 bars,felt hammer,E3")
    status, out, _ = run(capsys, "cast", folder, "--like", PIANO)
    assert status == 0
    assert "score.csv changed" in out
    assert "1 figure is no longer the same: H" in out


def refit(*changes: Change, bound: int) -> Casting:
    weights = {"player": 4, "place": 2, "implement": 1}
    value = sum(weights[one.what] for one in changes)
    proof = (Proof(level="1 uncast", value=0, bound=0), Proof(level="2 changed", value=value, bound=bound))
    return replace(cast(world(), ()), like="old", changes=changes, proof=proof)


TWO = (
    Change(figure="A", what="player", before="ada", after="ben", forced=True),
    Change(figure="B", what="place", before="S1", after="S2", stay="S3"),
)


def test_forced_and_chosen_changes_are_told_apart() -> None:
    """Both numbers, and whether fewer are possible."""
    text = production.refit_text(refit(*TWO, bound=6))
    assert "2 changes to 2 figures (1 of player, 1 of place); 1 forced" in text
    assert "1 chosen" in text
    assert "That is the least: weight 6, proved." in text
    assert "Weight 6; no casting gets below 5." in production.refit_text(refit(*TWO, bound=5))


def test_the_table_of_a_tour_has_every_state() -> None:
    """Playable as it is, with n changes, not playable and why, not worked out and why; broken rules go first."""
    left = Uncast(figure="C", rule="H3", reason="out of reach")
    whole = cast(world(), ())
    rows = (
        Row(stop=Stop(piano="a", absent=()), casting=whole, kept=True),
        Row(stop=Stop(piano="b", absent=()), casting=refit(*TWO, bound=6), changes=TWO),
        Row(stop=Stop(piano="b", absent=("ada",)), casting=replace(whole, uncast=(left,))),
        Row(stop=Stop(piano="b", absent=("ben",)), slip="its worker died"),
        Row(
            stop=Stop(piano="c", absent=()), casting=whole, breaches=(Breach(rule="H5", message="Close.", figures=()),)
        ),
    )
    found = Tour(like="old", rows=rows, notes=("a note",))
    text = production.tour_text(found)
    for words in (
        "2 of 5 stops playable",
        "a note",
        "playable as it is",
        "playable with 2 changes",
        "1 forced, 1 chosen, the least",
        "not playable: 1 figure uncast",
        "C: H3: out of reach",
        "not worked out",
        "its worker died",
        "H5: Close.",
    ):
        assert words in text
    assert not found.whole
    table: Any = production.tour_table(found)
    assert [stop["state"] for stop in table["stops"]] == [row.state.value for row in rows]
    assert table["stops"][1]["weight"] == {"value": 6, "bound": 6, "proved": True}


def test_the_tour_ends_with_1_when_something_cannot_be_played(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As every command does; 0 when all is well, and the options arrive."""
    asked: list[tour.Plan] = []

    def stand_in(given: str, plan: tour.Plan, report: object) -> Tour:
        asked.append(plan)
        row = Row(stop=Stop(piano="a", absent=()), casting=cast(world(), ()) if plan.anew else None, slip="x")
        return Tour(like="a", rows=(row,), notes=())

    monkeypatch.setattr(tour, "tour", stand_in)
    assert run(capsys, "tour", folder, "--absences", "pairs", "--like", "x", "--seconds", "4", "--seed", "2")[0] == 1
    assert run(capsys, "tour", folder, "--anew", "--json")[0] == 0
    assert asked[0] == tour.Plan(absences=tour.Absences.PAIRS, like="x", seconds=4.0, seed=2)


def test_a_stopped_tour_says_how_to_go_on(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 130, what is done is counted."""

    def stopped(self: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(tour._Run, "run", stopped)
    status, out, err = run(capsys, "tour", folder)
    assert (status, out) == (cli.STOPPED, "")
    assert "0 of 5 stops are done" in err
    assert project.casting_names(folder) == (PIANO,)
