"""One rehearsal: the leader's clock, who listens to it, and what everybody is told when it changes."""

from __future__ import annotations

import asyncio
import hashlib
import json
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from datetime import datetime

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from rimside.errors import BadInput
from rimside.files.ledger import Clock, Flag, Ledger
from rimside.paper.ink import letters_on
from rimside.paper.material import BookInput
from rimside.people import Player
from rimside.web.house import House, house_of
from rimside.web.rehearsing import clock as clocks
from rimside.web.rehearsing.measured import Change, changes_of, keep_time, measured_time
from rimside.web.rehearsing.messages import Deed, Flagged
from rimside.web.rehearsing.now import Bar, bar_beside, bar_called, bars_of, follow_of, loop_called

CLOSED = 4404
"""The code with which a line is closed whose link opens nothing (any more)."""
SLOW_S = 2.0
"""A phone that takes longer to take a message is let go; it comes back by itself."""
LOOK_S = 5.0
"""How often at most the folder is looked at for a changed casting."""
MOST_FLAGS, MOST_LINES = 400, 6
"""Of one player: flags that are kept, and lines open at once. Our own choice."""
_BEGAN_MS = time.time() * 1000.0 - time.monotonic() * 1000.0


def server_ms() -> float:
    """This machine's time, ms since 1970; it never jumps while the server runs."""
    return _BEGAN_MS + time.monotonic() * 1000.0


def now_words() -> str:
    """The date and time for the ledger, to the second, with the offset from UTC."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def after(clock: Clock, at_ms: float, deed: Deed, bars: list[Bar], end_s: float) -> Clock:
    """The leader's clock after something was done to it; from behind the end it plays from the beginning.

    Raises
    ------
    BadInput : a bar, speed or loop that there is not.
    """
    here_s = clocks.seconds(clock, at_ms)
    doings: dict[str, Callable[[], Clock]] = {
        "play": lambda: clocks.play(clock if here_s < end_s else clocks.go(clock, at_ms, 0.0), at_ms),
        "pause": lambda: clocks.pause(clock, at_ms),
        "unloop": lambda: clocks.unloop(clock, at_ms),
        "step": lambda: clocks.go(clock, at_ms, bar_beside(bars, here_s, deed.by)),
        "go": lambda: clocks.go(clock, at_ms, bars[bar_called(bars, deed.first, here_s)][0]),
        "go_s": lambda: clocks.go(clock, at_ms, deed.at_s),
        "pace": lambda: clocks.pace(clock, at_ms, deed.speed),
        "loop": lambda: clocks.loop(clock, at_ms, *loop_called(bars, end_s, deed.first, deed.last, here_s)),
    }
    return doings[deed.do]()


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What is rehearsed, worked out once for the same files: the bars for the leader, each player's part as sent."""

    variant: str
    casting: str
    title: str
    bars: list[Bar]
    begin_s: float
    end_s: float
    players: tuple[Player, ...]
    parts: dict[str, tuple[str, str]]
    changes: dict[str, Change]


def piece_of(book: BookInput, variant: str, name: str) -> Piece:
    """A casting as it is rehearsed; a part stands as its mark, by which a phone knows it again, and its message."""
    parts, begin_s, end_s = {}, 0.0, book.score.end_s
    for player in book.players:
        part = follow_of(book, player, name)
        text = json.dumps(part, ensure_ascii=False)
        mark = hashlib.sha256(text.encode()).hexdigest()
        parts[player.id] = mark, f'{{"kind": "part", "mark": "{mark}", "part": {text}}}'
        begin_s, end_s = float(str(part["begin_s"])), float(str(part["end_s"]))
    return Piece(
        variant=variant, casting=name, title=book.title, bars=bars_of(book), begin_s=begin_s, end_s=end_s,
        players=book.players, parts=parts, changes=changes_of(book),
    )  # fmt: skip


@dataclass(eq=False, slots=True)
class Line:
    """One open line to a phone, or (`player` "") to the leader's page; what the phone made of its pings."""

    socket: WebSocket
    player: str = ""
    mark: str = ""
    offset_ms: float | None = None
    round_trip_ms: float | None = None
    heard_ms: float = field(default_factory=server_ms)

    async def say(self, text: str) -> None:
        """Send a message; a line that is gone, or too slow, is closed."""
        try:
            await asyncio.wait_for(self.socket.send_text(text), SLOW_S)
        except (TimeoutError, RuntimeError, WebSocketDisconnect):
            await self.close(1011)

    async def close(self, code: int) -> None:
        """Close the line, if it is not closed already."""
        if self.socket.application_state is not WebSocketState.DISCONNECTED:
            try:
                await self.socket.close(code)
            except (RuntimeError, WebSocketDisconnect):
                return


class Rehearsal:
    """The rehearsal of one house. Its methods run in the server's own thread; the disc is left to other threads."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.ledger = Ledger(house.root)
        self.clock = self.ledger.clock()
        self.tokens: dict[str, str] = {}
        """Tokens of links that were made since the server started, by player; the disc holds only their hashes."""
        self.lines: set[Line] = set()
        self._shown: Piece | None = None
        self._looked_ms = 0.0
        self._writing = asyncio.Lock()
        self._tasks: set[asyncio.Task[None]] = set()

    # --- what is rehearsed --------------------------------------------------------------------------------------------

    async def piece(self) -> Piece:
        """What is rehearsed, as the folder has it now; when that changed everybody is told.

        Raises
        ------
        BadInput : a slip in the folder, or no casting there.
        """
        found = await run_in_threadpool(self._read)
        self._looked_ms = server_ms()
        if found is not self._shown:
            self._shown = found
            await self._tell_piece(found, self.lines)
        return found

    def _read(self) -> Piece:
        variant, casting = self.ledger.rehearsed()
        desk = self.house.desk(variant)
        production = desk.production()
        name = desk.name(production, casting or None)
        return desk.once("rehearsed", production, name, lambda book: piece_of(book, variant, name))

    async def choose(self, variant: str, casting: str) -> None:
        """Rehearse another casting; BadInput when there is none of that name."""
        desk = self.house.desk(variant)
        production = await run_in_threadpool(desk.production)
        desk.name(production, casting)
        async with self._writing:
            await run_in_threadpool(self.ledger.keep_rehearsed, variant, casting)
        await self.piece()

    async def _tell_piece(self, piece: Piece, lines: Iterable[Line]) -> None:
        await asyncio.gather(*(self._tell_one(piece, line) for line in lines))

    async def _tell_one(self, piece: Piece, line: Line) -> None:
        if not line.player:
            told = {"title": piece.title, "casting": piece.casting, "variant": piece.variant, "bars": piece.bars}
            await line.say(_message("piece", **told, begin_s=piece.begin_s, end_s=piece.end_s))
        elif line.player not in piece.parts:
            await line.say(_message("slip", what=f"You do not play in the casting {piece.casting}."))
            line.mark = ""
        elif piece.parts[line.player][0] != line.mark:
            line.mark, text = piece.parts[line.player]
            await line.say(text)

    # --- the clock ----------------------------------------------------------------------------------------------------

    async def do(self, deed: Deed) -> Clock:
        """Do something to the clock: everybody is told, then it is kept."""
        piece = await self.piece()
        self.clock = changed = after(self.clock, server_ms(), deed, piece.bars, piece.end_s)
        await self._tell(self.lines, self.clock_message())
        async with self._writing:
            await run_in_threadpool(self.ledger.keep_clock, changed)
        return changed

    def clock_message(self) -> str:
        """The clock as it is sent."""
        return _message("clock", **asdict(self.clock))

    # --- lines --------------------------------------------------------------------------------------------------------

    async def enter(self, line: Line) -> None:
        """A line has opened: it is told the clock and its part, the leader who is there."""
        older = sorted((one for one in self.lines if one.player == line.player), key=lambda one: one.heard_ms)
        self.lines.add(line)
        for one in older[: max(0, len(older) + 1 - MOST_LINES)]:
            await one.close(1001)
        await line.say(self.clock_message())
        try:
            await self._tell_one(await self.piece(), line)
        except BadInput as slip:
            await line.say(_message("slip", what=str(slip)))
        if line.player:
            await line.say(await self.notes_message(line.player))
        await self.tell_leader()

    async def leave(self, line: Line) -> None:
        """A line is gone."""
        self.lines.discard(line)
        await self.tell_leader()

    def heard(self, line: Line, offset_ms: float | None, round_trip_ms: float | None) -> None:
        """A phone has pinged; now and then that is the moment to look at the folder, and to tell the leader."""
        line.offset_ms, line.round_trip_ms, line.heard_ms = offset_ms, round_trip_ms, server_ms()
        if line.heard_ms - self._looked_ms > LOOK_S * 1000.0:
            self._looked_ms = line.heard_ms
            self._later(self._look())

    async def _look(self) -> None:
        try:
            await self.piece()
        except BadInput as slip:
            await self._tell(self._leaders(), _message("slip", what=str(slip)))
        await self.tell_leader()

    def _later(self, work: object) -> None:
        assert asyncio.iscoroutine(work)
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _tell(self, lines: Iterable[Line], text: str) -> None:
        await asyncio.gather(*(line.say(text) for line in tuple(lines)))

    def _leaders(self) -> list[Line]:
        return [line for line in self.lines if not line.player]

    async def tell_leader(self) -> None:
        """Tell the leader's page who is there, whose links are open, and every flag."""
        if leaders := self._leaders():
            await self._tell(leaders, _message("room", **await self.room()))

    async def room(self) -> dict[str, object]:
        """The players with their links and lines, and the flags: what the leader's page shows."""
        links, flags = await run_in_threadpool(lambda: (self.ledger.links(), self.ledger.flags()))
        made = {link.player: link.made_at for link in links if link.revoked_at is None}
        players = self._shown.players if self._shown is not None else ()
        return {
            "players": [self._player(player, made.get(player.id)) for player in players],
            "flags": [{**asdict(flag), "time": self._time_words(flag)} for flag in flags],
        }

    def _time_words(self, flag: Flag) -> str:
        """What a measured time says about kit.toml; "" for none, and for a figure that is not in this casting."""
        change = self._shown.changes.get(flag.figure) if self._shown is not None else None
        found = measured_time(change, flag.measured_s) if change is not None and flag.measured_s is not None else None
        return found.words if found is not None else ""

    def _player(self, player: Player, made_at: str | None) -> dict[str, object]:
        lines = [line for line in self.lines if line.player == player.id]
        return {
            "id": player.id, "name": player.name, "sign": player.sign, "colour": player.colour,
            "on": letters_on(player.colour), "made_at": made_at, "shown": player.id in self.tokens,
            "lines": [[line.offset_ms, line.round_trip_ms, line.heard_ms] for line in lines],
        }  # fmt: skip

    # --- links --------------------------------------------------------------------------------------------------------

    async def player_of(self, token: str) -> str | None:
        """The player whose open link holds this token."""
        return await run_in_threadpool(self.ledger.player_of, token)

    async def make_link(self, player: str) -> None:
        """A new link for a player; the one before is closed, and so are its lines.

        Raises
        ------
        BadInput : nobody of this id plays in what is rehearsed.
        """
        if player not in {one.id for one in (await self.piece()).players}:
            raise BadInput("nobody of this name plays in this casting", where="player", value=player)
        async with self._writing:
            self.tokens[player] = await run_in_threadpool(self.ledger.make_link, player, now_words())
        await self._shut(player)

    async def revoke(self, player: str) -> None:
        """Close a player's link for good, and its lines at once."""
        async with self._writing:
            await run_in_threadpool(self.ledger.revoke, player, now_words())
        self.tokens.pop(player, None)
        await self._shut(player)

    async def _shut(self, player: str) -> None:
        await asyncio.gather(*(line.close(CLOSED) for line in tuple(self.lines) if line.player == player))
        await self.tell_leader()

    # --- flags --------------------------------------------------------------------------------------------------------

    async def flag(self, player: str, said: Flagged) -> bool:
        """Keep a player's flag, and tell the player's own phones and the leader; False when there are too many.

        One that was kept before counts as kept.
        """
        flag = Flag(
            id=f"{player}-{said.id}", player=player, casting=self._shown.casting if self._shown is not None else "",
            made_at=now_words(), at_s=said.at_s, bar=said.bar, pass_=said.pass_, figure=said.figure, what=said.what,
            measured_s=said.measured_s,
        )  # fmt: skip
        async with self._writing:
            kept = await run_in_threadpool(self.ledger.flags, player)
            if len(kept) >= MOST_FLAGS and flag.id not in {one.id for one in kept}:
                return False
            await run_in_threadpool(self.ledger.add_flag, flag)
        await self._tell_notes(player)
        return True

    async def answer(self, flag: str, done: bool, words: str) -> None:
        """Mark a flag done, or open again, and say what was made of it; its player is told."""
        async with self._writing:
            await run_in_threadpool(self.ledger.answer_flag, flag, now_words() if done else None, words)
            flags = await run_in_threadpool(self.ledger.flags)
        await self._tell_notes(next(one.player for one in flags if one.id == flag))

    async def measure(self, flag: str) -> str:
        """Write what a flag measured into kit.toml, and mark the flag done; what was written, in words.

        Raises
        ------
        BadInput : no such flag, or it measured nothing that the kit has a time for.
        Conflict : kit.toml is no longer what was read.
        """
        words = await run_in_threadpool(self._measure, flag)
        await self.answer(flag, True, words)
        await self.piece()
        return words

    def _measure(self, name: str) -> str:
        flag = next((one for one in self.ledger.flags() if one.id == name), None)
        variant, casting = self.ledger.rehearsed()
        desk = self.house.desk(variant)
        production = desk.production()
        book = desk.material(production, desk.name(production, casting or None))
        change = changes_of(book).get(flag.figure) if flag is not None else None
        if flag is None or flag.measured_s is None or change is None:
            raise BadInput("this flag measured no change of the casting that is rehearsed", value=name)
        time = measured_time(change, flag.measured_s)
        if time is None:
            raise BadInput("is too short for all that this change asks for", where="measured", value=flag.measured_s)
        keep_time(desk.history(), production, book, time, who=flag.player, at=now_words())
        return f"{time.words}; cast anew to use it"

    async def _tell_notes(self, player: str) -> None:
        own = [line for line in self.lines if line.player == player]
        await self._tell(own, await self.notes_message(player))
        await self.tell_leader()

    async def notes_message(self, player: str) -> str:
        """A player's own flags as they are sent."""
        flags = await run_in_threadpool(self.ledger.flags, player)
        return _message("notes", notes=[asdict(flag) for flag in flags])


def _message(kind: str, **values: object) -> str:
    return json.dumps({"kind": kind, **values}, ensure_ascii=False)


def rehearsal_of(request: HTTPConnection) -> Rehearsal:
    """The rehearsal of the house that serves a request; opened at the first need."""
    state = request.app.state
    if not hasattr(state, "rehearsal"):
        state.rehearsal = Rehearsal(house_of(request))
    found: Rehearsal = state.rehearsal
    return found
