"""The ledger of a production, `ledger.sqlite`: players' links, the leader's clock, what players flagged at rehearsal.

Every row that a person makes carries a time that the caller passes in. Other counts of the ledger stand in tables of
their own beside these.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rimside.errors import BadInput
from rimside.files.atomic import reason

LEDGER = "ledger.sqlite"
FORMAT = 1
"""Stands in the file as SQLite's `user_version`."""
_TABLES = """
CREATE TABLE IF NOT EXISTS links (
    id INTEGER PRIMARY KEY, player TEXT NOT NULL, token_sha256 TEXT NOT NULL UNIQUE,
    made_at TEXT NOT NULL, revoked_at TEXT);
CREATE TABLE IF NOT EXISTS clock (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1), epoch INTEGER NOT NULL, at_s REAL NOT NULL,
    server_ms REAL NOT NULL, speed REAL NOT NULL, playing INTEGER NOT NULL, loop_from_s REAL, loop_to_s REAL);
CREATE TABLE IF NOT EXISTS rehearsed (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1), variant TEXT NOT NULL, casting TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS flags (
    id TEXT PRIMARY KEY, player TEXT NOT NULL, casting TEXT NOT NULL, made_at TEXT NOT NULL, at_s REAL NOT NULL,
    bar TEXT NOT NULL, pass TEXT NOT NULL, figure TEXT NOT NULL, what TEXT NOT NULL, measured_s REAL,
    done_at TEXT, answer TEXT NOT NULL DEFAULT '');
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One player's link: the SHA-256 of its token, when it was made, when it was revoked (None while it opens)."""

    id: int
    player: str
    token_sha256: str
    made_at: str
    revoked_at: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """The leader's clock: at `server_ms` the piece stood at `at_s`; when `playing` it goes on, `speed` times as fast.

    `epoch` counts the changes, so that the later of two is known. With a loop the piece jumps back to the first of its
    two places whenever it reaches the second from before. `rimside.web.rehearsing.clock` works with it.
    """

    epoch: int = 0
    at_s: float = 0.0
    server_ms: float = 0.0
    speed: float = 1.0
    playing: bool = False
    loop_s: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """What a player said at rehearsal about a moment of the piece.

    `id` is the phone's own, so that sending it twice keeps it once. `figure` is the one that the player was at, "" for
    none; `measured_s` a time that was measured for the change that leads to it, s. `done_at` is None while it is open;
    `answer` says what was made of it.
    """

    id: str
    player: str
    casting: str
    made_at: str
    at_s: float
    bar: str
    pass_: str
    figure: str
    what: str
    measured_s: float | None = None
    done_at: str | None = None
    answer: str = ""


class Ledger:
    """The open ledger of one production folder; made there when it is missing.

    Every change is on the disc when its method returns. One thread at a time.

    Raises
    ------
    BadInput : the file is no ledger, one of a newer Rimside, or the disc refused.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / LEDGER
        with _told(), self._opened() as base:
            version = int(base.execute("PRAGMA user_version").fetchone()[0])
            if version > FORMAT:
                hint = "it was written by a newer Rimside; install that version to read it"
                raise BadInput("format is not one this version reads", where=LEDGER, value=version, hint=hint)
            base.executescript(_TABLES)
            base.execute(f"PRAGMA user_version = {FORMAT}")

    @contextmanager
    def _opened(self) -> Iterator[sqlite3.Connection]:
        """A connection whose changes are kept together, or not at all."""
        base = sqlite3.connect(self.path, timeout=5.0)
        try:
            base.execute("PRAGMA synchronous = FULL")
            with base:
                yield base
        finally:
            base.close()

    def make_link(self, player: str, made_at: str) -> str:
        """A new link for a player in place of the one before; its token, which is kept nowhere."""
        token = secrets.token_urlsafe(32)
        with _told(), self._opened() as base:
            _revoke(base, player, made_at)
            base.execute(
                "INSERT INTO links (player, token_sha256, made_at) VALUES (?, ?, ?)", (player, _hash(token), made_at)
            )
        return token

    def revoke(self, player: str, revoked_at: str) -> None:
        """Close a player's link for good."""
        with _told(), self._opened() as base:
            _revoke(base, player, revoked_at)

    def links(self) -> tuple[Link, ...]:
        """Every link ever made, the oldest first."""
        with _told(), self._opened() as base:
            rows = base.execute("SELECT id, player, token_sha256, made_at, revoked_at FROM links ORDER BY id")
            return tuple(
                Link(id=row[0], player=row[1], token_sha256=row[2], made_at=row[3], revoked_at=row[4]) for row in rows
            )

    def player_of(self, token: str) -> str | None:
        """The player whose open link holds this token; None for any other text."""
        wanted, found = _hash(token), None
        for link in self.links():
            if hmac.compare_digest(link.token_sha256, wanted) and link.revoked_at is None:
                found = link.player
        return found

    def clock(self) -> Clock:
        """The leader's clock as it was last kept; one that stands at the beginning before the first time."""
        with _told(), self._opened() as base:
            row = base.execute("SELECT * FROM clock").fetchone()
        if row is None:
            return Clock()
        _, epoch, at_s, server_ms, speed, playing, from_s, to_s = row
        return Clock(
            epoch=epoch, at_s=at_s, server_ms=server_ms, speed=speed, playing=bool(playing),
            loop_s=None if from_s is None else (from_s, to_s),
        )  # fmt: skip

    def keep_clock(self, clock: Clock) -> None:
        """Keep the leader's clock in place of the one before."""
        ends = clock.loop_s or (None, None)
        row = (clock.epoch, clock.at_s, clock.server_ms, clock.speed, int(clock.playing), *ends)
        with _told(), self._opened() as base:
            base.execute("INSERT OR REPLACE INTO clock VALUES (1, ?, ?, ?, ?, ?, ?, ?)", row)

    def rehearsed(self) -> tuple[str, str]:
        """The variant and the casting that is rehearsed; empty ones for the production's own main casting."""
        with _told(), self._opened() as base:
            row = base.execute("SELECT variant, casting FROM rehearsed").fetchone()
        return (str(row[0]), str(row[1])) if row is not None else ("", "")

    def keep_rehearsed(self, variant: str, casting: str) -> None:
        """Keep which casting is rehearsed."""
        with _told(), self._opened() as base:
            base.execute("INSERT OR REPLACE INTO rehearsed VALUES (1, ?, ?)", (variant, casting))

    def add_flag(self, flag: Flag) -> bool:
        """Keep a player's flag; False when one of this id is kept already (it stays as it was)."""
        row = (
            flag.id, flag.player, flag.casting, flag.made_at, flag.at_s, flag.bar, flag.pass_, flag.figure, flag.what,
            flag.measured_s, flag.done_at, flag.answer,
        )  # fmt: skip
        with _told(), self._opened() as base:
            done = base.execute(f"INSERT OR IGNORE INTO flags VALUES ({', '.join('?' * len(row))})", row)
            return done.rowcount == 1

    def answer_flag(self, flag: str, done_at: str | None, answer: str) -> None:
        """Mark a flag done with what was made of it, or open again (`done_at` None).

        Raises
        ------
        BadInput : no flag of this id.
        """
        with _told(), self._opened() as base:
            done = base.execute("UPDATE flags SET done_at = ?, answer = ? WHERE id = ?", (done_at, answer, flag))
            if done.rowcount == 0:
                raise BadInput("there is no such flag", where=LEDGER, value=flag)

    def flags(self, player: str | None = None) -> tuple[Flag, ...]:
        """The flags of one player or of all: the open ones first, each in the order of the piece."""
        sql = "SELECT * FROM flags WHERE ?1 IS NULL OR player = ?1 ORDER BY done_at IS NOT NULL, at_s, made_at, id"
        with _told(), self._opened() as base:
            rows = base.execute(sql, (player,)).fetchall()
        return tuple(
            Flag(
                id=row[0], player=row[1], casting=row[2], made_at=row[3], at_s=row[4], bar=row[5], pass_=row[6],
                figure=row[7], what=row[8], measured_s=row[9], done_at=row[10], answer=row[11],
            )
            for row in rows
        )  # fmt: skip


def _revoke(base: sqlite3.Connection, player: str, revoked_at: str) -> None:
    base.execute("UPDATE links SET revoked_at = ? WHERE player = ? AND revoked_at IS NULL", (revoked_at, player))


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


@contextmanager
def _told() -> Iterator[None]:
    """What SQLite or the disc refuses, in words."""
    try:
        yield
    except sqlite3.DatabaseError as slip:
        busy = isinstance(slip, sqlite3.OperationalError) and "locked" in str(slip)
        hint = "another program holds it; do it again" if busy else ""
        raise BadInput(f"cannot be read or written ({slip})", where=LEDGER, hint=hint) from slip
    except OSError as slip:
        raise BadInput(f"cannot be read or written ({reason(slip)})", where=LEDGER) from slip
