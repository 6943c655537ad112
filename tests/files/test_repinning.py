"""A pin tried before it is kept."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files import checkup, job, project, repinning, scaffold
from rimside.files.history import Conflict, History

MAIN = scaffold.PIANO


@pytest.fixture(scope="module")
def cast(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh production, cast."""
    folder = tmp_path_factory.mktemp("repinning") / "p"
    scaffold.new(str(folder))
    job.cast(job.prepare(str(folder), seconds=4.0), lambda stage, share: None)
    return folder


@pytest.fixture
def made(cast: Path, tmp_path: Path) -> project.Production:
    """A copy of it."""
    return project.load(Path(shutil.copytree(cast, tmp_path / "p")))


def another(made: project.Production) -> tuple[str, str]:
    """A figure, and a player whom it can be given to."""
    casting = project.read_casting(made, MAIN)
    for row in casting.cast:
        for player in casting.players:
            if player.id != row.player:
                pins = repinning.pinned(made, row.figure, MAIN, [{"player": player.id}])
                trial = repinning.try_pins(made, MAIN, pins)
                if not trial.lost:
                    return row.figure, player.id
    raise AssertionError("no figure can be given to another")


def test_a_trial_writes_nothing_and_says_what_would_change(made: project.Production) -> None:
    """The figure goes to the player; figures that are told differ, and those that are not told are the same."""
    figure, player = another(made)
    before = {path: path.read_bytes() for path in made.folder.rglob("*") if path.is_file()}
    trial = repinning.try_pins(made, MAIN, repinning.pinned(made, figure, MAIN, [{"player": player}]))
    assert {path: path.read_bytes() for path in made.folder.rglob("*") if path.is_file()} == before
    was = {row.figure: row for row in project.read_casting(made, MAIN).cast}
    now = {row.figure: row for row in trial.casting.cast}
    assert now[figure].player == player
    assert {row.figure for row in trial.moved} == {name for name in was | now if was.get(name) != now.get(name)}
    assert next(row for row in trial.moved if row.figure == figure).what[0] == "player"
    assert not trial.breaches


def test_keeping_is_one_step_that_can_be_taken_back(made: project.Production) -> None:
    """Pins and casting are written together, agree with each other, and go together."""
    history = History(made.folder)
    figure, player = another(made)
    trial = repinning.try_pins(made, MAIN, repinning.pinned(made, figure, MAIN, [{"player": player}]))
    step = repinning.keep(history, made, trial, f"{figure} to {player}")
    assert set(step.files) == {"pins.toml", f"castings/{MAIN}.json"}
    after = project.load(made.folder)
    assert not project.out_of_date(after, project.read_casting(after, MAIN), MAIN)
    assert checkup.check(str(made.folder)).castings[0].whole
    history.undo()
    assert project.load(made.folder).hashes == made.hashes


def test_a_trial_of_yesterday_is_not_kept(made: project.Production) -> None:
    """When somebody else has pinned meanwhile, the second is told, and the first one's stays."""
    history = History(made.folder)
    figure, player = another(made)
    trial = repinning.try_pins(made, MAIN, repinning.pinned(made, figure, MAIN, [{"player": player}]))
    repinning.keep(history, made, trial, "the first")
    with pytest.raises(Conflict, match="the first"):
        repinning.keep(history, made, trial, "the second")


def barred(**what: str) -> repinning.Row:
    """A pin that something shall not be."""
    return {**what, "forbid": True}


def test_a_question_posed_before_gives_the_same_answers(made: project.Production) -> None:
    """For pins of every kind, one after the other: what was read and posed once is as good as anew."""
    reading = made.reading()
    base = job.going_on(made, MAIN, reading, job.posed(made, MAIN, reading))
    casting = project.read_casting(made, MAIN)
    rows = [row for row in casting.cast if row.implements][:2] + [row for row in casting.cast if not row.implements][:1]
    other = {row.figure: next(p.id for p in casting.players if p.id != row.player) for row in rows}
    wishes = [(row.figure, barred(player=other[row.figure])) for row in rows]
    wishes += [(row.figure, barred(player=row.player)) for row in rows]
    wishes += [(row.figure, {"implement": row.implements[0]}) for row in rows if row.implements]
    wishes += [(row.figure, barred(place=row.place)) for row in rows]
    for figure, wish in wishes:
        pins = repinning.pinned(made, figure, MAIN, [wish])
        quick, slow = repinning.try_pins(made, MAIN, pins, base), repinning.try_pins(made, MAIN, pins)
        assert (quick.casting.cast, quick.lost, quick.levels) == (slow.casting.cast, slow.lost, slow.levels)


def test_a_casting_that_changed_while_a_pin_was_tried_is_not_overwritten(made: project.Production) -> None:
    """Somebody cast anew between the try and the keeping; what is written goes by what was looked at."""
    history = History(made.folder)
    figure, player = another(made)
    trial = repinning.try_pins(made, MAIN, repinning.pinned(made, figure, MAIN, [{"player": player}]))
    path = made.folder / "castings" / f"{MAIN}.json"
    theirs = path.read_bytes() + b"\n"
    path.write_bytes(theirs)
    with pytest.raises(Conflict):
        repinning.keep(history, made, trial, "mine")
    assert path.read_bytes() == theirs


def test_pins_of_others_stay_as_they_were_written(made: project.Production) -> None:
    """A new pin replaces those of its figure alone; comments and group pins stay."""
    text = (
        b'# by hand\nformat = "rimside-pins/1"\n\n[[pin]]\nsection = "A"   # all of A\nplayer = "Mo"\nforbid = true\n'
    )
    (made.folder / "pins.toml").write_bytes(text)
    first = made.reading().figures[0].id
    once = repinning.pinned(project.load(made.folder), first, MAIN, [{"place": "S3"}])
    assert once.startswith(text.rstrip())
    (made.folder / "pins.toml").write_bytes(once)
    again = repinning.pinned(project.load(made.folder), first, MAIN, [])
    assert again.rstrip() == text.rstrip()


def test_a_place_is_pinned_for_its_piano_a_player_for_all(made: project.Production) -> None:
    """Places differ from piano to piano; who plays does not."""
    first = made.reading().figures[0].id
    assert b"\npiano" not in repinning.pinned(made, first, MAIN, [{"player": "x", "forbid": True}])
    assert f'\npiano = "{MAIN}"'.encode() in repinning.pinned(made, first, MAIN, [{"place": "S1"}])


def test_a_pin_that_cannot_be_meant_so_is_told(made: project.Production) -> None:
    """A player whom nobody knows is refused with the nearest."""
    first = made.reading().figures[0].id
    with pytest.raises(BadInput, match="unknown player"):
        repinning.try_pins(made, MAIN, repinning.pinned(made, first, MAIN, [{"player": "nobody"}]))
