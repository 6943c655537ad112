"""Phones without a screen: the arithmetic of static/rehearsing/line.js, on clocks that go wrong by whole seconds."""

from __future__ import annotations

import asyncio
import json
import random
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import websockets

from rimside.files.ledger import Clock
from rimside.web.rehearsing.clock import Sample, best, sample, seconds

FIRST_PINGS, FIRST_EVERY_S, EVERY_S, KEPT, ENOUGH = 10, 0.08, 2.0, 30, 3
PAUSES_S = (0.1, 0.2, 0.4, 0.8, 1.0)
FIELDS = ("epoch", "at_s", "server_ms", "speed", "playing")


def clock_of(message: dict[str, Any]) -> Clock:
    """The clock that a message brings."""
    loop = message["loop_s"]
    return Clock(loop_s=None if loop is None else (loop[0], loop[1]), **{name: message[name] for name in FIELDS})


@dataclass(eq=False, slots=True)
class Phone:
    """One phone at a link (http://...); its own clock is ahead of this machine's by `skew_ms`.

    `jitter_ms` is what the network delays each message on the average, each way by itself (exponentially distributed).
    """

    link: str
    skew_ms: float
    jitter_ms: float = 0.0
    clock: Clock = field(default_factory=Clock)
    samples: list[Sample] = field(default_factory=list)
    known: Sample | None = None
    parts: int = 0
    opened_at: list[float] = field(default_factory=list)
    mark: str = ""

    def own_ms(self) -> float:
        """The time on this phone."""
        return time.time() * 1000.0 + self.skew_ms

    def seconds_now(self) -> float:
        """Where this phone thinks that the piece stands, s."""
        return seconds(self.clock, self.own_ms() + (self.known.offset_ms if self.known is not None else 0.0))

    @property
    def ready(self) -> bool:
        """Whether the offset has been measured as often as a page asks for."""
        return len(self.samples) >= ENOUGH

    async def run(self) -> None:
        """Follow for ever, opening the line again whenever it is lost."""
        tries = 0
        while True:
            try:
                origin = "http://" + self.link.split("/")[2]
                address = self.link.replace("http://", "ws://") + "/line"
                async with websockets.connect(address, origin=origin, open_timeout=2.5, proxy=None) as line:  # type: ignore[arg-type]
                    tries = 0
                    self.samples.clear()
                    await line.send(json.dumps({"kind": "hello", "part": self.mark}))
                    async with asyncio.TaskGroup() as tasks:
                        tasks.create_task(self._ping(line))
                        tasks.create_task(self._hear(line))
            except* (OSError, websockets.WebSocketException, TimeoutError):
                pass
            await asyncio.sleep(PAUSES_S[min(tries, len(PAUSES_S) - 1)])
            tries += 1

    async def _ping(self, line: Any) -> None:
        for number in range(1_000_000):
            known = {} if self.known is None else {"offset_ms": self.known.offset_ms}
            ping = json.dumps({"kind": "ping", "sent_ms": self.own_ms(), **known})
            await self._delayed()
            await line.send(ping)
            await asyncio.sleep(FIRST_EVERY_S if number < FIRST_PINGS else EVERY_S)

    async def _delayed(self) -> None:
        if self.jitter_ms:
            await asyncio.sleep(random.expovariate(1000.0 / self.jitter_ms))

    async def _hear(self, line: Any) -> None:
        while True:
            message = json.loads(await line.recv())
            await self._delayed()
            back_ms = self.own_ms()
            if message["kind"] == "pong":
                times = (message["sent_ms"], message["arrived_ms"], message["answered_ms"], back_ms)
                self.samples = [*self.samples[1 - KEPT :], sample(*times)]
                if self.known is None or self.ready:
                    self.known = best(self.samples)
            elif message["kind"] == "clock":
                self.clock = clock_of(message)
                self.opened_at.append(time.monotonic())
            elif message["kind"] == "part":
                self.mark, self.parts = message["mark"], self.parts + 1


@contextmanager
def following(phones: list[Phone]) -> Iterator[None]:
    """All these phones at work in a thread of their own."""
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()
    running = [asyncio.run_coroutine_threadsafe(phone.run(), loop) for phone in phones]
    try:
        yield
    finally:
        for one in running:
            one.cancel()
        loop.call_soon_threadsafe(loop.call_later, 0.3, loop.stop)
        thread.join(timeout=5.0)
        loop.close()
