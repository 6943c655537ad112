"""The production folder: reading it, writing castings, knowing what is out of date."""

from __future__ import annotations

import errno
import hashlib
import json
import os
from pathlib import Path

import pytest

from rimside.casting.result import Casting
from rimside.errors import BadInput
from rimside.files import project
from rimside.files.project import Production
from tests.files.productions import PIANO, change, new, plan


def production(tmp_path: Path) -> Production:
    return project.load(new(tmp_path / "p"))


def copy_piano(folder: Path, name: str) -> None:
    """The production's piano once more, under another name."""
    text = (folder / "pianos" / f"{PIANO}.toml").read_text("utf-8")
    (folder / "pianos" / f"{name}.toml").write_text(text.replace(f'name = "{PIANO}"', f'name = "{name}"'), "utf-8")


def planned(made: Production, **options: int) -> Casting:
    def silent(stage: str, share: float) -> None:
        pass

    reading, kit = made.reading(), made.kit()
    return plan(**options)(reading, made.piano(), made.players(), kit, progress=silent)  # type: ignore[arg-type]


def test_every_input_has_its_hash(tmp_path: Path) -> None:
    """The hashes are those of the files on the disc, one for each file that people wrote."""
    made = production(tmp_path)
    files = [path for path in made.folder.rglob("*") if path.is_file()]
    assert made.hashes == {
        path.relative_to(made.folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files
    }


def test_a_casting_goes_to_the_disc_and_back(tmp_path: Path) -> None:
    """What was written is read again, with the hashes of all its inputs."""
    made = production(tmp_path)
    casting = planned(made)
    path = project.write_casting(made, casting, PIANO)
    again = project.read_casting(made, PIANO)
    assert path == made.folder / "castings" / f"{PIANO}.json"
    assert again.cast == casting.cast
    assert [figure.id for figure in again.figures] == [figure.id for figure in casting.figures]
    assert dict(again.made_from) == made.hashes
    assert project.out_of_date(made, again, PIANO) == ""


@pytest.mark.parametrize("name", ["production.toml", "score.csv", "techniques.toml", "ensemble.toml", "kit.toml"])
def test_a_changed_input_makes_a_casting_out_of_date(name: str, tmp_path: Path) -> None:
    """The message names the casting and the file that changed."""
    made = production(tmp_path)
    project.write_casting(made, planned(made), PIANO)
    with (made.folder / name).open("a", encoding="utf-8") as file:
        file.write("\n")
    now = project.load(made.folder)
    says = project.out_of_date(now, project.read_casting(now, PIANO), PIANO)
    assert says == f"casting {PIANO} is out of date: {name} changed"


def test_a_removed_input_makes_a_casting_out_of_date(tmp_path: Path) -> None:
    """A file that was there and is gone counts as changed."""
    made = production(tmp_path)
    casting = planned(made)
    project.write_casting(made, casting, PIANO)
    (made.folder / "techniques.toml").unlink()
    now = project.load(made.folder)
    assert project.out_of_date(now, project.read_casting(now, PIANO), PIANO).endswith("techniques.toml changed")


def test_another_piano_does_not_make_a_casting_out_of_date(tmp_path: Path) -> None:
    """A casting depends on its own piano's file only."""
    folder = new(tmp_path / "p")
    copy_piano(folder, "other")
    change(folder, "production.toml", f'pianos = ["{PIANO}"]', f'pianos = ["{PIANO}", "other"]')
    made = project.load(folder)
    project.write_casting(made, planned(made), PIANO)
    change(folder, "pianos/other.toml", "\n", "\n# measured again\n")
    now = project.load(folder)
    assert project.out_of_date(now, project.read_casting(now, PIANO), PIANO) == ""


def test_a_piano_with_another_name_than_its_file_is_refused(tmp_path: Path) -> None:
    """Castings go by the file's name and say the piano's: the two are one."""
    folder = new(tmp_path / "p")
    change(folder, f"pianos/{PIANO}.toml", f'name = "{PIANO}"', 'name = "hall"')
    with pytest.raises(BadInput, match="another name than its file: 'hall'"):
        project.load(folder).piano()


def test_a_piano_that_left_the_production_is_told(tmp_path: Path) -> None:
    """A casting for a piano that production.toml no longer lists is out of date."""
    made = production(tmp_path)
    project.write_casting(made, planned(made), PIANO)
    change(made.folder, "production.toml", f'["{PIANO}"]', '["other"]')
    now = project.load(made.folder)
    assert "no longer lists" in project.out_of_date(now, project.read_casting(now, PIANO), PIANO)


def test_the_earlier_casting_is_kept_and_not_listed(tmp_path: Path) -> None:
    """After a second cast the first lies in castings/earlier, and one casting is listed."""
    made = production(tmp_path)
    project.write_casting(made, planned(made), PIANO)
    first = project.casting_path(made, PIANO).read_bytes()
    project.write_casting(made, planned(made, uncast=[0]), PIANO)  # type: ignore[arg-type]
    assert (made.folder / "castings" / "earlier" / f"{PIANO}.json").read_bytes() == first
    assert project.casting_names(made.folder) == (PIANO,)


def test_an_unfinished_casting_never_takes_the_place_of_a_whole_one(tmp_path: Path) -> None:
    """The best plan of stopped work lies in castings/unfinished; the finished one is untouched."""
    made = production(tmp_path)
    project.write_casting(made, planned(made), PIANO)
    before = project.casting_path(made, PIANO).read_bytes()
    path = project.write_casting(made, planned(made, uncast=[0]), PIANO, finished=False)  # type: ignore[arg-type]
    assert path == made.folder / "castings" / "unfinished" / f"{PIANO}.json"
    assert project.casting_path(made, PIANO).read_bytes() == before
    assert project.casting_names(made.folder) == (PIANO,)


def test_a_full_disc_keeps_the_old_casting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disc is full the casting on it stays whole and the message says what and why."""
    made = production(tmp_path)
    project.write_casting(made, planned(made), PIANO)
    before = project.casting_path(made, PIANO).read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BadInput, match=rf"castings/{PIANO}\.json: cannot be written \(the disc is full\)"):
        project.write_casting(made, planned(made, uncast=[0]), PIANO)  # type: ignore[arg-type]
    assert project.casting_path(made, PIANO).read_bytes() == before
    assert [path.name for path in (made.folder / "castings").iterdir()] == [f"{PIANO}.json"]


@pytest.mark.parametrize(
    "data, says",
    [
        (b"{", "is not JSON"),
        (b"[]", "is not a JSON object"),
        (b"\xff\xfe\x00", "is not JSON"),
        (b"{}", "format"),
        (b'{"format": "rimside-casting/2"}', "format"),
    ],
)
def test_a_file_that_is_no_casting_is_told(data: bytes, says: str, tmp_path: Path) -> None:
    """A damaged or newer casting is one message with the file's name."""
    made = production(tmp_path)
    path = project.casting_path(made, PIANO)
    path.parent.mkdir()
    path.write_bytes(data)
    with pytest.raises(BadInput, match=says) as slip:
        project.read_casting(made, PIANO)
    assert str(slip.value).startswith(f"castings/{PIANO}.json")


def test_a_casting_under_another_name_is_refused(tmp_path: Path) -> None:
    """A plan copied to another piano's name is not taken for that piano's plan."""
    made = production(tmp_path)
    path = project.write_casting(made, planned(made), PIANO)
    path.rename(path.with_name("other.json"))
    with pytest.raises(BadInput, match=rf"castings/other\.json: is for another piano than its name says: '{PIANO}'"):
        project.read_casting(made, "other")


def test_a_casting_that_is_not_there_is_told(tmp_path: Path) -> None:
    """The message says what there is and how to make it."""
    with pytest.raises(BadInput, match=f"allowed: none yet; rimside cast .* --piano {PIANO} makes it"):
        project.read_casting(production(tmp_path), PIANO)


def test_castings_are_one_line_for_each_entry(tmp_path: Path) -> None:
    """People compare castings line by line: a changed figure is a changed line, and the file is plain JSON."""
    made = production(tmp_path)
    path = project.write_casting(made, planned(made), PIANO)
    text = path.read_text("utf-8")
    figures = json.loads(text)["figures"]
    lines = [line.strip().rstrip(",") for line in text.splitlines()]
    assert all(json.dumps(figure, ensure_ascii=False) in lines for figure in figures)


@pytest.mark.parametrize("name", ["Bo", "bo", " BO "])
def test_absent_players_are_left_out(name: str, tmp_path: Path) -> None:
    """A player is called by name or id, capitals aside; the others stay in order."""
    players = production(tmp_path).players()
    assert [player.name for player in project.line_up(players, (name,))] == ["Ada", "Cyd", "Dov"]


def test_an_unknown_absent_player_is_refused_with_the_nearest(tmp_path: Path) -> None:
    """Leaving out somebody who does not exist is a slip, not a plan for everybody."""
    players = production(tmp_path).players()
    with pytest.raises(BadInput, match=r"unknown player: 'Cid'.*did you mean 'Cyd'"):
        project.line_up(players, ("Cid",))


def test_somebody_must_be_left(tmp_path: Path) -> None:
    """Everybody absent is no line-up."""
    players = production(tmp_path).players()
    with pytest.raises(BadInput, match="nobody is left to play"):
        project.line_up(players, tuple(player.name for player in players))


def test_names_of_castings_say_piano_and_absence() -> None:
    """The name holds the piano and who is absent, in one order whatever order they were named in."""
    assert project.casting_name("hall") == "hall"
    assert project.casting_name("hall", ("bo", "ada")) == "hall--without-ada--without-bo"
    assert project.piano_of("hall--without-ada--without-bo") == "hall"


@pytest.mark.parametrize("name", ["score.csv", "ensemble.toml", "kit.toml", f"pianos/{PIANO}.toml"])
def test_a_missing_file_hides_no_other(name: str, tmp_path: Path) -> None:
    """The file that is missing is told when it is asked for; the others are still read."""
    folder = new(tmp_path / "p")
    (folder / name).unlink()
    made = project.load(folder)
    asks = {"score.csv": made.reading, "ensemble.toml": made.players, "kit.toml": made.kit}
    for file, ask in {**asks, f"pianos/{PIANO}.toml": made.piano}.items():
        if file == name:
            with pytest.raises(BadInput, match="there is no such file") as slip:
                ask()
            assert str(slip.value).startswith(name)
        else:
            ask()


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    """No folder, or a folder without production.toml, says how to make one."""
    with pytest.raises(BadInput, match="there is no such folder"):
        project.load(tmp_path / "nowhere")
    with pytest.raises(BadInput, match=r"holds no production\.toml"):
        project.load(tmp_path)
