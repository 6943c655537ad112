"""A new production is whole, commented, and refused where something lies already."""

from __future__ import annotations

from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files import project, scaffold
from rimside.score.model import Technique
from tests.files.productions import PIANO, new


def test_everything_of_a_new_production_is_read(tmp_path: Path) -> None:
    """Each of the files is good as it stands, and the score has nothing that was not understood."""
    made = project.load(new(tmp_path / "p"))
    assert len(made.players()) == 4
    assert len(made.piano().courses) == 88
    assert made.reading().score.not_understood == ()
    assert made.reading().figures


def test_the_kit_serves_what_the_score_asks_for(tmp_path: Path) -> None:
    """Every technique of the example score that needs an implement finds one in the example kit."""
    made = project.load(new(tmp_path / "p"))
    kit = made.kit()
    asked = {figure.technique for figure in made.reading().figures if kit.rows[figure.technique].implement}
    assert asked
    assert all(kit.serving(technique) for technique in asked)


def test_somebody_does_every_technique(tmp_path: Path) -> None:
    """The four invented players between them do all that the table knows."""
    players = project.load(new(tmp_path / "p")).players()
    assert all(any(player.plays(technique) for player in players) for technique in Technique)


def test_files_are_listed_and_commented(tmp_path: Path) -> None:
    """The list names what lies there, and each TOML file carries comments."""
    listed = scaffold.new(str(tmp_path / "p"))
    there = {path.relative_to(tmp_path / "p").as_posix() for path in (tmp_path / "p").rglob("*") if path.is_file()}
    assert set(listed) == there
    assert f"pianos/{PIANO}.toml" in there
    assert all("#" in (tmp_path / "p" / name).read_text("utf-8") for name in listed if name.endswith(".toml"))


def test_an_empty_folder_is_used(tmp_path: Path) -> None:
    """A folder that is there but empty is filled."""
    assert project.load(new(tmp_path)).facts.piano == PIANO


def test_a_folder_with_something_in_it_is_refused(tmp_path: Path) -> None:
    """Nothing that lies there is mixed with or overwritten by examples."""
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(BadInput, match="holds something already"):
        scaffold.new(str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A file of that name is told and kept."""
    (tmp_path / "p").write_text("mine")
    with pytest.raises(BadInput, match="cannot be used"):
        scaffold.new(str(tmp_path / "p"))
    assert (tmp_path / "p").read_text() == "mine"
