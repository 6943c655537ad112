"""Steps that can be taken back, whatever happens in between."""

from __future__ import annotations

import hashlib
import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files.atomic import write_file
from rimside.files.history import AFTER, OUTSIDE, Conflict, History, check_name, found_in

ROOT = Path(__file__).parents[2]


def sha(data: bytes) -> str:
    """SHA-256, as files are named by."""
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with two files of a production."""
    (tmp_path / "kit.toml").write_bytes(b"a = 1\n")
    (tmp_path / "pianos").mkdir()
    (tmp_path / "pianos" / "hall.toml").write_bytes(b"b = 1\n")
    return tmp_path


def test_a_change_is_written_and_taken_back_and_made_again(folder: Path) -> None:
    """Undo brings the bytes before, redo those after, a file that was not there goes again."""
    history = History(folder)
    history.change("more hammers", {"kit.toml": b"a = 2\n", "pins.toml": b"p = 1\n"}, at="2026-01-01", who="Mo")
    assert (folder / "kit.toml").read_bytes() == b"a = 2\n"
    assert history.undo().words == "more hammers"
    assert (folder / "kit.toml").read_bytes() == b"a = 1\n"
    assert not (folder / "pins.toml").exists()
    assert history.redo().who == "Mo"
    assert (folder / "pins.toml").read_bytes() == b"p = 1\n"
    assert not history.can_redo


def test_undo_has_no_end(folder: Path) -> None:
    """A hundred steps are taken back to the first state and made again to the last."""
    history = History(folder)
    for number in range(100):
        history.change(f"step {number}", {"kit.toml": f"a = {number + 2}\n".encode()})
    for _ in range(100):
        history.undo()
    assert (folder / "kit.toml").read_bytes() == b"a = 1\n"
    with pytest.raises(BadInput, match="nothing to take back"):
        history.undo()
    for _ in range(100):
        history.redo()
    assert (folder / "kit.toml").read_bytes() == b"a = 101\n"


def test_a_change_after_an_undo_drops_what_could_be_redone(folder: Path) -> None:
    """There is one line of steps; the dropped version is still kept by its name."""
    history = History(folder)
    history.change("one", {"kit.toml": b"a = 2\n"})
    history.undo()
    history.change("two", {"kit.toml": b"a = 3\n"})
    assert [step.words for step in history.steps()] == ["two"]
    assert not history.can_redo
    assert history.version(sha(b"a = 2\n")) == b"a = 2\n"


def test_what_was_changed_by_hand_is_a_step_of_its_own(folder: Path) -> None:
    """A file edited outside is never overwritten unseen: it is noticed first, and undo brings it back."""
    history = History(folder)
    history.change("one", {"kit.toml": b"a = 2\n"})
    (folder / "kit.toml").write_bytes(b"a = 7 # by hand\n")
    history.change("two", {"kit.toml": b"a = 3\n"})
    history.undo()
    assert (folder / "kit.toml").read_bytes() == b"a = 7 # by hand\n"
    history.undo()
    assert (folder / "kit.toml").read_bytes() == b"a = 2\n"


def test_the_second_of_two_is_told_and_loses_nothing(folder: Path) -> None:
    """A change based on what is no longer there is refused with what the other did; the files are the other's."""
    history, other = History(folder), History(folder)
    seen = sha(b"a = 1\n")
    other.change("the other's", {"kit.toml": b"a = 2\n"}, based_on={"kit.toml": seen})
    with pytest.raises(Conflict, match="the other's") as told:
        history.change("mine", {"kit.toml": b"a = 3\n"}, based_on={"kit.toml": seen})
    assert told.value.names == ("kit.toml",)
    assert (folder / "kit.toml").read_bytes() == b"a = 2\n"
    history.change("mine on top", {"kit.toml": b"a = 3\n"}, based_on={"kit.toml": sha(b"a = 2\n")})
    assert (folder / "kit.toml").read_bytes() == b"a = 3\n"


def test_changes_of_different_files_do_not_disturb_each_other(folder: Path) -> None:
    """Only the files that a change names are compared."""
    history = History(folder)
    history.change("kit", {"kit.toml": b"a = 2\n"}, based_on={"kit.toml": sha(b"a = 1\n")})
    history.change("hall", {"pianos/hall.toml": b"b = 2\n"}, based_on={"pianos/hall.toml": sha(b"b = 1\n")})
    assert [step.words for step in history.steps()] == ["kit", "hall"]


def test_many_threads_at_once(folder: Path) -> None:
    """Each of eighty changes from eight threads is one step, and all can be taken back."""
    history = History(folder)

    def work(n: int) -> None:
        for k in range(10):
            history.change(f"{n}", {f"t{n}.toml": bytes([65 + k])})

    threads = [threading.Thread(target=work, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(history.steps()) == history.position == 80
    while history.can_undo:
        history.undo()
    assert set(found_in(folder)) == {"kit.toml", "pianos/hall.toml"}


@pytest.mark.parametrize(
    "name", ["../x.toml", "/etc/x.toml", "a/b.toml", "pianos/../x.toml", "pianos\\x.toml", ".x.toml", "x.exe", "",
             "a//b.toml", "castings/x.toml", "book/x.pdf", "pianos/.x.toml", "x\0.toml"],
)  # fmt: skip
def test_a_name_that_is_no_file_of_a_production_is_refused(folder: Path, name: str) -> None:
    """Nothing outside the folder is written, and nothing that the history does not keep."""
    with pytest.raises(BadInput):
        check_name(name)
    with pytest.raises(BadInput):
        History(folder).change("x", {name: b"1"})


def test_a_link_out_of_the_folder_is_passed_over(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """A symbolic link is no file of the production."""
    secret = tmp_path_factory.mktemp("elsewhere") / "secret.toml"
    secret.write_bytes(b"s = 1\n")
    (folder / "link.toml").symlink_to(secret)
    assert "link.toml" not in found_in(folder)


def test_a_newer_history_is_refused(folder: Path) -> None:
    """A file that a newer version wrote is left as it is."""
    History(folder).close()
    with sqlite3.connect(folder / "history.sqlite") as db:
        db.execute("update format set number = 99")
    with pytest.raises(BadInput, match="newer"):
        History(folder)


def test_a_step_that_was_cut_off_is_finished(folder: Path) -> None:
    """The step is on the disc, its files are not yet: opening the folder writes them."""
    history = History(folder)
    with history._work() as db:
        history._catch_up(db, "")
        db.execute("insert into blob values (?, ?)", (sha(b"a = 9\n"), b"a = 9\n"))
        number = history._add(db, "cut off", "", "", {"kit.toml": (sha(b"a = 1\n"), sha(b"a = 9\n"))})
        history._write(db, number, AFTER)
    assert (folder / "kit.toml").read_bytes() == b"a = 1\n"
    history.close()
    History(folder)
    assert (folder / "kit.toml").read_bytes() == b"a = 9\n"


def test_what_was_written_by_hand_after_a_kill_stays(folder: Path) -> None:
    """A step was cut off, a person edits one of its files before the page is opened: theirs is the newest step."""
    history = History(folder)
    with history._work() as db:
        history._catch_up(db, "")
        was, new = found_in(folder), history_keeps(db, b"a = 9\n")
        parts = {name: (sha(was[name]), new) for name in ("kit.toml", "pianos/hall.toml")}
        history._write(db, history._add(db, "cut off", "", "", parts), AFTER)
    history.close()
    (folder / "kit.toml").write_bytes(b"a = 5 # by hand\n")
    again = History(folder)
    again.notice()
    assert (folder / "kit.toml").read_bytes() == b"a = 5 # by hand\n"
    assert (folder / "pianos" / "hall.toml").read_bytes() == b"a = 9\n"
    assert [step.words for step in again.steps()] == ["cut off", OUTSIDE]
    again.undo()
    assert (folder / "kit.toml").read_bytes() == b"a = 9\n"


def history_keeps(db: sqlite3.Connection, data: bytes) -> str:
    """Put a version into an open history, and name it."""
    db.execute("insert or ignore into blob values (?, ?)", (sha(data), data))
    return sha(data)


@pytest.mark.parametrize("deed", ["change", "undo", "redo"])
def test_when_the_disc_refuses_a_file_nothing_has_happened(
    folder: Path, monkeypatch: pytest.MonkeyPatch, deed: str
) -> None:
    """The disc is full at the second file of a step: all files and all steps are as they were, then and later."""
    history = History(folder)
    history.change("first", {"kit.toml": b"a = 2\n", "pianos/hall.toml": b"b = 2\n"})
    if deed == "redo":
        history.undo()
    before, steps, position = found_in(folder), history.steps(), history.position

    def full(path: Path, data: bytes, where: str) -> None:
        if where == "pianos/hall.toml":
            raise BadInput("cannot be written (the disc is full); it is as it was before", where=where)
        write_file(path, data, where)

    with monkeypatch.context() as broken:
        broken.setattr("rimside.files.history.write_file", full)
        with pytest.raises(BadInput, match="disc is full"):
            if deed == "change":
                history.change("second", {"kit.toml": b"a = 3\n", "pianos/hall.toml": b"b = 3\n"})
            else:
                getattr(history, deed)()
    assert not history.notice()
    assert (found_in(folder), history.steps(), history.position) == (before, steps, position)
    again = History(folder)
    assert not again.notice()
    again.change("third", {"kit.toml": b"a = 4\n"})
    assert found_in(folder) == {**before, "kit.toml": b"a = 4\n"}


def test_who_takes_back_sees_what(folder: Path) -> None:
    """A step that somebody else made meanwhile is not taken back unseen, and none is made again unseen."""
    history = History(folder)
    mine = history.change("mine", {"kit.toml": b"a = 2\n"}).number
    theirs = history.change("the other's", {"kit.toml": b"a = 3\n"}).number
    with pytest.raises(Conflict, match="the other's"):
        history.undo(meant=mine)
    (folder / "kit.toml").write_bytes(b"a = 4\n")
    with pytest.raises(Conflict, match="outside"):
        history.undo(meant=theirs)
    history.undo()
    assert history.undo(meant=theirs).words == "the other's"
    assert history.redo(meant=theirs).words == "the other's"


def test_a_step_that_took_the_place_of_another_is_another(folder: Path) -> None:
    """Numbers are not given twice, so that who saw the first does not take back the second."""
    history = History(folder)
    history.change("zero", {"kit.toml": b"a = 2\n"})
    first = history.change("first", {"kit.toml": b"a = 3\n"}).number
    history.undo()
    history.change("second", {"kit.toml": b"a = 4\n"})
    with pytest.raises(Conflict, match="second"):
        history.undo(meant=first)
    history.undo()
    with pytest.raises(Conflict, match="second"):
        history.redo(meant=first)
    assert [history.undo().words, history.redo().words, history.redo().words] == ["zero", "zero", "second"]


def test_a_change_in_the_same_tick_of_the_clock_is_seen(folder: Path) -> None:
    """The disc's times and size say that a file is as it was; its bytes say that it is not."""
    history, path = History(folder), folder / "kit.toml"
    for number in range(20):
        stat = path.stat()
        path.write_bytes(f"a = {number % 2 + 2}\n".encode())
        os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
        assert history.notice()


def test_a_folder_that_is_a_link_is_not_written_through(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """A folder of the production that leads elsewhere is neither kept nor written."""
    outside = tmp_path_factory.mktemp("elsewhere")
    (outside / "x.json").write_bytes(b"{}")
    (folder / "castings").symlink_to(outside)
    history = History(folder)
    assert "castings/x.json" not in found_in(folder)
    with pytest.raises(BadInput, match="link"):
        history.change("x", {"castings/x.json": b"[]"})
    assert (outside / "x.json").read_bytes() == b"{}"


def go_through_many_states(folder: Path, times: int, seed: int) -> None:
    """Random changes, undos, redos, edits by hand and reopenings, beside a plain list of states."""
    draw, history = random.Random(seed), History(folder)
    history.notice()
    states, at = [found_in(folder)], 0
    for number in range(times):
        name, data = draw.choice(["kit.toml", "pins.toml", "pianos/hall.toml"]), f"x = {number}\n".encode()
        deed = draw.choice(["change", "change", "remove", "undo", "undo", "redo", "hand", "reopen"])
        if deed in ("change", "remove"):
            history.change(f"{number}", {name: data if deed == "change" else None})
        elif deed == "hand":
            (folder / name).write_bytes(data)
            history.notice()
        elif deed == "reopen":
            history.close()
            history = History(folder)
        elif (deed == "undo" and at > 0) or (deed == "redo" and at + 1 < len(states)):
            getattr(history, deed)()
            at += 1 if deed == "redo" else -1
        if deed in ("change", "remove", "hand"):
            states, at = [*states[: at + 1], found_in(folder)], at + 1
        assert found_in(folder) == states[at]
        assert (history.can_undo, history.can_redo) == (at > 0, at + 1 < len(states))
        assert len(history.steps()) == len(states) - 1


def test_a_hundred_random_deeds_lead_where_a_list_leads(folder: Path) -> None:
    """Whatever the order, undo and redo find every state again."""
    go_through_many_states(folder, 100, 1)


@pytest.mark.soak
def test_three_thousand_random_deeds_lead_where_a_list_leads(folder: Path) -> None:
    """The same for long."""
    go_through_many_states(folder, 3000, random.randrange(1_000_000))


CHILD = """
import sys
from pathlib import Path
from rimside.files.history import History
history = History(Path(sys.argv[1]))
start = int(sys.argv[2])
for number in range(start, start + 100000):
    text = f"a = {number}\\n".encode() * 200
    history.change(f"step {number}", {"kit.toml": text, "pins.toml": text, "pianos/hall.toml": text})
    if number % 3 == 0:
        history.undo()
        history.redo()
    print(number, flush=True)
"""


def killed(folder: Path, start: int, after_s: float) -> int:
    """The last change that a child acknowledged before it was killed."""
    command = [sys.executable, "-c", CHILD, str(folder), str(start)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(ROOT / "src")}
    ) as child:
        assert child.stdout is not None
        last = int(child.stdout.readline())
        time.sleep(after_s)
        child.send_signal(signal.SIGKILL)
        rest = child.stdout.read().split()
    return max([last, *map(int, rest)])


def kill_in_a_loop(folder: Path, times: int, seed: int) -> None:
    """Kill a child that makes changes, again and again; look at what is left each time."""
    draw, start = random.Random(seed), 10
    for _ in range(times):
        acknowledged = killed(folder, start, draw.uniform(0.0, 0.12))
        history = History(folder)
        kept = max((int(s.words.split()[1]) for s in history.steps() if s.number <= history.position), default=0)
        assert kept in (acknowledged, acknowledged + 1)
        expected = f"a = {kept}\n".encode() * 200
        assert all((folder / name).read_bytes() == expected for name in ("kit.toml", "pins.toml", "pianos/hall.toml"))
        assert not history.notice()
        history.close()
        start = kept + 1


def test_killing_loses_no_acknowledged_change(folder: Path) -> None:
    """kill -9 at random moments, also between undo and redo: what was acknowledged is there, no step is half there."""
    kill_in_a_loop(folder, 8, 1)


@pytest.mark.soak
def test_killing_two_hundred_times(folder: Path) -> None:
    """The same for long."""
    kill_in_a_loop(folder, 200, random.randrange(1_000_000))
