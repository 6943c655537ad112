"""The demonstration as a whole: its folder is right, its steps stop at the first that fails, the piece is castable."""

from __future__ import annotations

from pathlib import Path

import pytest

from examples import demo
from rimside import cli, flow
from rimside.casting.verify import verify
from rimside.files import project
from rimside.piano.shipped import SHIPPED
from rimside.score.model import Technique


def test_the_folder_reads_without_a_slip(tmp_path: Path) -> None:
    """People, kit, words, score and three pianos are read; nothing in the score is left over; all cautions are read."""
    demo.build(tmp_path)
    production = project.load(tmp_path)
    assert production.facts.title == production.reading().score.title == "Brackwater Wheel"
    assert production.reading().score.not_understood == ()
    assert production.facts.cautions_unread == ()
    for name in production.facts.pianos:
        assert production.piano(name).name == name
    assert set(production.facts.pianos) == set(SHIPPED)


def test_eight_different_people_play(tmp_path: Path) -> None:
    """Eight players between 1520 and 1890 mm; two leave the keys, one leaves the lines, nobody leaves the rest."""
    demo.build(tmp_path)
    players = project.load(tmp_path).players()
    assert len(players) == 8
    assert (min(p.stature_mm for p in players), max(p.stature_mm for p in players)) == (1520.0, 1890.0)
    assert sum(not player.plays(Technique.KEYS) for player in players) == 2
    assert sum(not player.plays(Technique.LINE_BOW) for player in players) == 1
    assert len({player.sign for player in players}) == len({player.colour for player in players}) == 8


def test_the_kit_holds_a_line_for_every_bowed_pitch_and_no_more(tmp_path: Path) -> None:
    """The pitches of the lines in kit.toml are those that the score bows."""
    demo.build(tmp_path)
    production = project.load(tmp_path)
    bowed = {
        key for figure in production.reading().figures if figure.technique is Technique.LINE_BOW for key in figure.keys
    }
    (lines,) = production.kit().serving(Technique.LINE_BOW)
    assert set(lines.pitches or ()) == bowed


def test_a_second_build_changes_nothing(tmp_path: Path) -> None:
    """The same files, no earlier versions put aside."""
    demo.build(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    demo.build(tmp_path)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_the_demonstration_stops_at_the_first_step_that_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With a program that fails at the second cast, three commands are run and their status is ours."""
    ran: list[list[str]] = []

    def program(arguments: list[str]) -> int:
        ran.append(arguments)
        return cli.INCOMPLETE if len(ran) == 3 else cli.DONE

    monkeypatch.setattr(cli, "main", program)
    folder = str(tmp_path / "demo")
    assert demo.main([folder]) == cli.INCOMPLETE
    assert [arguments[0] for arguments in ran] == ["read", "cast", "cast"]
    assert "step 3 ended with status 1" in capsys.readouterr().err


def test_the_demonstration_says_what_to_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """When every step ends well the status is 0 and the books are named."""
    folder = tmp_path / "demo"

    def program(arguments: list[str]) -> int:
        (folder / "book").mkdir(exist_ok=True)
        (folder / "book" / "grand_275.pdf").touch()
        return cli.DONE

    monkeypatch.setattr(cli, "main", program)
    assert demo.main([str(folder)]) == 0
    assert str(folder / "book" / "grand_275.pdf") in capsys.readouterr().out


def test_a_folder_is_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a folder, or where a file stands in its place, one message and status 2."""
    assert demo.main([]) == cli.BAD_INPUT
    assert "usage" in capsys.readouterr().err


def test_a_file_in_the_place_of_the_folder_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A disc that refuses gives one message and status 2."""
    (tmp_path / "demo").write_text("a file", encoding="utf-8")
    assert demo.main([str(tmp_path / "demo")]) == cli.BAD_INPUT
    assert "demo:" in capsys.readouterr().err


@pytest.mark.soak
@pytest.mark.parametrize("name", ["grand_275", "grand_210", "grand_170"])
def test_everything_is_cast_on_every_piano(tmp_path: Path, name: str) -> None:
    """Twenty seconds are enough for a whole casting, and the judge finds nothing broken in it."""
    demo.build(tmp_path)
    production = project.load(tmp_path)
    piano, players, kit = production.piano(name), production.players(), production.kit()
    casting = flow.plan(production.reading(), piano, players, kit, seconds=20.0, seed=1)
    assert casting.uncast == ()
    assert verify(casting, piano, players, kit) == ()
