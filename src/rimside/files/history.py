"""Every version of every file of a production, as steps that can be taken back and made again.

`history.sqlite` in the folder holds the bytes of each version by their SHA-256 and the list of steps. A step is on the
disc there before the first file is written: if the program is killed in between, opening the folder finishes it.
"""

from __future__ import annotations

import hashlib
import sqlite3
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from rimside.errors import BadInput, RimsideError
from rimside.files.atomic import EARLIER, reason, remove_file, write_file
from rimside.files.schema_production import SCORE_ENDINGS

FILE = "history.sqlite"
FORMAT = 1
FOLDERS = {"": (".toml", *SCORE_ENDINGS), "pianos": (".toml",), "castings": (".json",), "survey": ("",)}
"""Where the files lie that it keeps, and their endings; books, sounds and the ledger are not among them."""
OUTSIDE = "changed outside the page"
BEFORE, AFTER = "before", "after"
SETTLED_NS = 2_000_000_000
"""A file is read again for so long after it was written: within one tick of the disc's clock it can change unseen."""

SCHEMA = """
create table format (number integer not null);
create table blob (sha text primary key, data blob not null);
create table step (number integer primary key autoincrement, words text not null, who text not null, at text not null);
create table part (step integer not null, name text not null, before text, after text, primary key (step, name));
create table now (name text primary key, sha text not null);
create table state (position integer not null, pending integer, side text);
"""


class Conflict(RimsideError):
    """A change that was based on files which somebody else has changed meanwhile; nothing was written.

    Parameters
    ----------
    names : the files that are no longer what the change was based on.
    words : what the others did, a text for each step, the newest last.
    """

    def __init__(self, names: tuple[str, ...], words: tuple[str, ...]) -> None:
        self.names, self.words = names, words
        done = "; ".join(dict.fromkeys(words)) or OUTSIDE
        super().__init__(
            f"{', '.join(names)} changed meanwhile ({done}); nothing of yours is lost: look, and send it again"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One change: its number, which no other has, what was done, by whom, when; each file's SHA-256 before, after."""

    number: int
    words: str
    who: str
    at: str
    files: Mapping[str, tuple[str | None, str | None]]


class History:
    """The steps of one production folder. Any number of threads, and other programs, may use it at once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.RLock()
        self._seen: dict[Path, tuple[tuple[int, int, int], str]] = {}
        self._open = _connected(folder / FILE)
        with self._work() as at:
            _prepare(at)
            self._finish(at)
            if not _now(at):
                self._notice(at, "")

    def close(self) -> None:
        """Let go of the file."""
        self._open.close()

    @property
    def position(self) -> int:
        """The number of the step whose state the files have; 0 before the first."""
        with self._lock:
            return self._position(self._open)

    def steps(self) -> tuple[Step, ...]:
        """All steps, the oldest first; those after `position` can be made again."""
        with self._lock:
            rows = self._open.execute("select number, words, who, at from step order by number").fetchall()
            return tuple(
                Step(number=number, words=words, who=who, at=at, files=self._parts(number))
                for number, words, who, at in rows
            )

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return self.position > 0

    @property
    def can_redo(self) -> bool:
        """Whether a step that was taken back can be made again."""
        with self._lock:
            return self._following(self._open) is not None

    def change(
        self,
        words: str,
        files: Mapping[str, bytes | None],
        *,
        at: str = "",
        who: str = "",
        based_on: Mapping[str, str | None] | None = None,
    ) -> Step:
        """Make one step of new versions of some files (None: the file goes).

        Parameters
        ----------
        at : when, as the caller's clock says.
        based_on : for some files the SHA-256 that the change was thought for, None for a file that was not there.

        Raises
        ------
        Conflict : one of those is no longer so; nothing was written.
        BadInput : a name that leads out of the folder, or the disc refused.
        """
        for name in files:
            check_name(name)
            _check_inside(self.folder, name)
        with self._work() as db:
            self._catch_up(db, at)
            self._compare(db, based_on or {})
            now = _now(db)
            after = {name: None if data is None else _keep(db, data) for name, data in files.items()}
            parts = {name: (now.get(name), sha) for name, sha in after.items() if now.get(name) != sha}
            number = self._add(db, words, who, at, parts)
            self._write(db, number, AFTER)
        self._settle(number, BEFORE, drop=True)
        return Step(number=number, words=words, who=who, at=at, files=parts)

    def notice(self, at: str = "") -> bool:
        """Make a step of whatever was changed outside; whether there was anything."""
        with self._work() as db:
            return self._catch_up(db, at)

    def undo(self, at: str = "", *, meant: int | None = None) -> Step:
        """Take the last step back.

        Parameters
        ----------
        meant : the number of the step that is meant; None for whichever it is.

        Raises
        ------
        BadInput : there is none.
        Conflict : it is another one by now; nothing was written.
        """
        return self._go(BEFORE, at, meant)

    def redo(self, at: str = "", *, meant: int | None = None) -> Step:
        """Make the step again that was taken back last.

        Parameters
        ----------
        meant : the number of the step that is meant; None for whichever it is.

        Raises
        ------
        BadInput : there is none.
        Conflict : it is another one by now; nothing was written.
        """
        return self._go(AFTER, at, meant)

    def files(self, at: str = "") -> dict[str, bytes]:
        """All files that it keeps, as they are between two steps: never half of one."""
        with self._work() as db:
            self._catch_up(db, at)
            return found_in(self.folder)

    def version(self, sha: str) -> bytes:
        """The bytes of a version; KeyError when it was never kept."""
        with self._lock:
            row = self._open.execute("select data from blob where sha = ?", (sha,)).fetchone()
        if row is None:
            raise KeyError(sha)
        return bytes(row[0])

    def _go(self, side: str, at: str, meant: int | None) -> Step:
        """Give the files one side of the step that is next on that way: the last one back, the first one again."""
        with self._work() as db:
            self._catch_up(db, at)
            number = self._position(db) if side == BEFORE else self._following(db)
            if not number:
                raise BadInput(f"there is nothing to {'take back' if side == BEFORE else 'make again'}")
            self._check_meant(db, number, meant)
            self._write(db, number, side)
        self._settle(number, AFTER if side == BEFORE else BEFORE)
        return self._step(number)

    # --- inside one transaction ---

    @contextmanager
    def _work(self) -> Iterator[sqlite3.Connection]:
        """One transaction; whatever goes wrong in it has not happened."""
        with self._lock:
            try:
                self._open.execute("begin immediate")
                yield self._open
                self._open.execute("commit")
            except sqlite3.Error as slip:
                self._roll_back()
                raise BadInput(f"cannot be written ({slip}); every file is as it was", where=FILE) from slip
            except OSError as slip:
                self._roll_back()
                raise BadInput(f"cannot be kept ({reason(slip)})", where=slip.filename or FILE) from slip
            except BaseException:
                self._roll_back()
                raise

    def _roll_back(self) -> None:
        if self._open.in_transaction:
            self._open.execute("rollback")

    def _catch_up(self, db: sqlite3.Connection, at: str) -> bool:
        """Finish what the disc refused last time, then notice what was done outside."""
        self._finish(db)
        return self._notice(db, at)

    def _notice(self, db: sqlite3.Connection, at: str) -> bool:
        found, now = _listed(self.folder), _now(db)
        shas = {name: self._sha(path) for name, path in found.items()}
        names = [name for name in {*shas, *now} if shas.get(name) != now.get(name)]
        if not names:
            return False
        for name in names:
            if name in found:
                shas[name] = _keep(db, found[name].read_bytes())
        parts = {name: (now.get(name), shas.get(name)) for name in sorted(names)}
        known = bool(now) or db.execute("select 1 from step").fetchone() is not None  # else this is the first state
        if known:
            number = self._add(db, OUTSIDE, "", at, parts)
            db.execute("update state set position = ?", (number,))
        _set_now(db, {name: sha for name, (_, sha) in parts.items()})
        return known

    def _sha(self, path: Path) -> str:
        """The SHA-256 of a file, read again when it has changed or was only just written."""
        stat = path.stat()
        seen = stat.st_mtime_ns, stat.st_size, stat.st_ino
        known = self._seen.get(path)
        if known is None or known[0] != seen or time.time_ns() - stat.st_mtime_ns < SETTLED_NS:
            known = self._seen[path] = seen, hashlib.sha256(path.read_bytes()).hexdigest()
        return known[1]

    def _check_meant(self, db: sqlite3.Connection, number: int, meant: int | None) -> None:
        """Refuse to take back or make again what the person has not seen."""
        if meant not in (None, number):
            (words,) = db.execute("select words from step where number = ?", (number,)).fetchone()
            raise Conflict(("the steps",), (words,))

    def _compare(self, db: sqlite3.Connection, based_on: Mapping[str, str | None]) -> None:
        now = _now(db)
        other = tuple(name for name, sha in based_on.items() if now.get(name) != sha)
        if other:
            marks = ", ".join("?" * len(other))
            asked = f"select distinct words, number from step join part on step = number where name in ({marks})"
            rows = db.execute(f"{asked} and number <= ? order by number", (*other, self._position(db))).fetchall()
            raise Conflict(other, tuple(row[0] for row in rows[-3:]))

    def _add(
        self, db: sqlite3.Connection, words: str, who: str, at: str, parts: Mapping[str, tuple[str | None, str | None]]
    ) -> int:
        position = self._position(db)
        db.execute("delete from part where step > ?", (position,))
        db.execute("delete from step where number > ?", (position,))
        number = db.execute("insert into step (words, who, at) values (?, ?, ?)", (words, who, at)).lastrowid
        rows = [(number, name, before, after) for name, (before, after) in parts.items()]
        db.executemany("insert into part values (?, ?, ?, ?)", rows)
        return int(number or 0)

    def _write(self, db: sqlite3.Connection, number: int, side: str) -> None:
        """Note which side of a step the files are to have; they are written when that is on the disc."""
        earlier = db.execute("select coalesce(max(number), 0) from step where number < ?", (number,)).fetchone()[0]
        position = number if side == AFTER else earlier
        db.execute("update state set position = ?, pending = ?, side = ?", (position, number, side))
        which = 1 if side == AFTER else 0
        _set_now(db, {name: shas[which] for name, shas in self._parts(number).items()})

    def _settle(self, number: int, back: str, *, drop: bool = False) -> None:
        """Write the files of the step that is pending; when the disc refuses, go back to how they were, and say so."""
        try:
            with self._work() as db:
                self._finish(db)
        except BadInput:
            with suppress(BadInput):
                self._turn_back(number, back, drop=drop)
            raise

    def _turn_back(self, number: int, back: str, *, drop: bool) -> None:
        with self._work() as db:
            if db.execute("select pending from state").fetchone()[0] != number:
                return
            self._write(db, number, back)
            if drop:
                db.execute("delete from step where number = ?", (number,))
        with self._work() as db:
            self._finish(db)

    def _finish(self, db: sqlite3.Connection) -> None:
        """Write the files of the step that is pending, if there is one.

        A file that is neither as before nor as after it was written by hand since a kill: it stays, and is noticed.
        """
        _, number, side = db.execute("select position, pending, side from state").fetchone()
        if number is None:
            return
        for name, shas in self._parts(number).items():
            path = self.folder / name
            there = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else None
            if there in shas:
                self._put(path, name, shas[1 if side == AFTER else 0])
        db.execute("update state set pending = null, side = null")
        db.execute("delete from part where step not in (select number from step)")

    def _put(self, path: Path, name: str, sha: str | None) -> None:
        if sha is None:
            remove_file(path, name)
        else:
            write_file(path, self.version(sha), name)

    def _position(self, db: sqlite3.Connection) -> int:
        return int(db.execute("select position from state").fetchone()[0])

    def _following(self, db: sqlite3.Connection) -> int | None:
        """The step that was taken back last, None when there is none."""
        row = db.execute("select min(number) from step where number > ?", (self._position(db),)).fetchone()
        return None if row[0] is None else int(row[0])

    def _parts(self, number: int) -> dict[str, tuple[str | None, str | None]]:
        rows = self._open.execute("select name, before, after from part where step = ? order by name", (number,))
        return {name: (before, after) for name, before, after in rows}

    def _step(self, number: int) -> Step:
        return next(step for step in self.steps() if step.number == number)


def check_name(name: str) -> None:
    """Refuse a name that is no file of a production: absolute, leading out of the folder, or of no kind that is kept.

    Raises
    ------
    BadInput : as said.
    """
    path = PurePosixPath(name)
    folder = str(path.parent) if path.parent != PurePosixPath() else ""
    plain = "\\" not in name and "\0" not in name and str(path) == name and not path.name.startswith(".")
    if not plain or folder not in FOLDERS or not path.name.lower().endswith(FOLDERS[folder]):
        raise BadInput(
            "not the name of a file of a production", value=name, allowed=", ".join(f or "." for f in FOLDERS)
        )


def _check_inside(folder: Path, name: str) -> None:
    """Refuse a name whose folder is a link to elsewhere."""
    if not (folder / name).parent.resolve().is_relative_to(folder.resolve()):
        raise BadInput("its folder is a link that leads out of the production", value=name)


def found_in(folder: Path) -> dict[str, bytes]:
    """The files of a folder that a history keeps, by their names in it; links are passed over."""
    return {name: path.read_bytes() for name, path in _listed(folder).items()}


def _listed(folder: Path) -> dict[str, Path]:
    found = {}
    inside = (inner for inner in FOLDERS if (folder / inner).resolve().is_relative_to(folder.resolve()))
    for inner, endings in ((inner, FOLDERS[inner]) for inner in inside):
        for path in sorted((folder / inner).glob("*")):
            kept = path.name.lower().endswith(endings) and not path.name.startswith(".") and path.name != EARLIER
            if kept and path.is_file() and not path.is_symlink():
                found[f"{inner}/{path.name}" if inner else path.name] = path
    return found


def _connected(path: Path) -> sqlite3.Connection:
    try:
        opened = sqlite3.connect(path, timeout=20.0, isolation_level=None, check_same_thread=False)
        opened.execute("pragma synchronous = extra")
    except sqlite3.Error as slip:
        raise BadInput(f"cannot be opened ({slip})", where=FILE) from slip
    return opened


def _prepare(db: sqlite3.Connection) -> None:
    """Make the tables of a new file; refuse one of a newer kind."""
    if db.execute("select 1 from sqlite_master where name = 'format'").fetchone() is None:
        for line in SCHEMA.strip().split(";\n"):
            db.execute(line.rstrip(";"))
        db.execute("insert into format values (?)", (FORMAT,))
        db.execute("insert into state values (0, null, null)")
    (number,) = db.execute("select number from format").fetchone()
    if number > FORMAT:
        raise BadInput("was written by a newer Rimside", where=FILE, value=number, allowed=f"up to {FORMAT}")


def _keep(db: sqlite3.Connection, data: bytes) -> str:
    sha = hashlib.sha256(data).hexdigest()
    db.execute("insert or ignore into blob values (?, ?)", (sha, data))
    return sha


def _now(db: sqlite3.Connection) -> dict[str, str]:
    return dict(db.execute("select name, sha from now").fetchall())


def _set_now(db: sqlite3.Connection, shas: Mapping[str, str | None]) -> None:
    for name, sha in shas.items():
        if sha is None:
            db.execute("delete from now where name = ?", (name,))
        else:
            db.execute("insert or replace into now values (?, ?)", (name, sha))
