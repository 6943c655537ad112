"""The leader's clock: a few numbers from which everybody works out the same second of the piece.

`static/rehearsing/clock.js` holds those functions that a phone needs, under the same names. Times of servers and phones
are in ms, times in the piece in s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from rimside.errors import BadInput
from rimside.files.ledger import Clock

SPEEDS = (0.25, 2.0)
"""Slowest and fastest speed. Our own choice: beyond them nobody rehearses."""
SHORTEST_LOOP_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """How far the server's time is ahead of one's own, ms, and how long asking took, ms."""

    offset_ms: float
    round_trip_ms: float


def seconds(clock: Clock, server_ms: float) -> float:
    """Where the piece stands at a moment of the server's time, s."""
    if not clock.playing:
        return clock.at_s
    raw_s = clock.at_s + clock.speed * (server_ms - clock.server_ms) / 1000.0
    if clock.loop_s is None:
        return raw_s
    from_s, to_s = clock.loop_s
    return from_s + (raw_s - from_s) % (to_s - from_s) if clock.at_s < to_s <= raw_s else raw_s


def play(clock: Clock, server_ms: float) -> Clock:
    """The same clock running."""
    return replace(_here(clock, server_ms), playing=True)


def pause(clock: Clock, server_ms: float) -> Clock:
    """The same clock standing."""
    return replace(_here(clock, server_ms), playing=False)


def go(clock: Clock, server_ms: float, at_s: float) -> Clock:
    """The same clock at another place of the piece; BadInput when that is no time."""
    return replace(_here(clock, server_ms), at_s=_finite(at_s, "a place in the piece"))


def pace(clock: Clock, server_ms: float, speed: float) -> Clock:
    """The same clock at another speed; BadInput outside SPEEDS."""
    if not SPEEDS[0] <= _finite(speed, "a speed") <= SPEEDS[1]:
        raise BadInput("is out of range", where="speed", value=speed, allowed=f"{SPEEDS[0]:g} to {SPEEDS[1]:g}")
    return replace(_here(clock, server_ms), speed=speed)


def loop(clock: Clock, server_ms: float, from_s: float, to_s: float) -> Clock:
    """The same clock going round between two places of the piece.

    One that stands outside goes to the first of them. BadInput when they lie closer than SHORTEST_LOOP_S or the wrong
    way round.
    """
    if not _finite(to_s, "a loop's end") - _finite(from_s, "a loop's start") >= SHORTEST_LOOP_S:
        raise BadInput("a loop ends after it starts", where="loop", allowed=f"{SHORTEST_LOOP_S:g} s or longer")
    here = _here(clock, server_ms)
    return replace(here, loop_s=(from_s, to_s), at_s=here.at_s if from_s <= here.at_s < to_s else from_s)


def unloop(clock: Clock, server_ms: float) -> Clock:
    """The same clock without a loop."""
    return replace(_here(clock, server_ms), loop_s=None)


def _here(clock: Clock, server_ms: float) -> Clock:
    """The same clock counted from now; its next change."""
    return replace(clock, epoch=clock.epoch + 1, at_s=seconds(clock, server_ms), server_ms=server_ms)


def _finite(value: float, what: str) -> float:
    if not math.isfinite(value):
        raise BadInput(f"{what} is a number", value=value)
    return value


def sample(sent_ms: float, arrived_ms: float, answered_ms: float, back_ms: float) -> Sample:
    """What one ping tells: sent and back by one's own clock, arrived and answered by the server's.

    Source: the clock offset and round-trip delay of NTP (RFC 5905, section 8).
    """
    return Sample(
        offset_ms=((arrived_ms - sent_ms) + (answered_ms - back_ms)) / 2.0,
        round_trip_ms=(back_ms - sent_ms) - (answered_ms - arrived_ms),
    )


def best(samples: Sequence[Sample]) -> Sample | None:
    """The sample with the least round trip, the latest of them when alike: its offset errs by half of that at most."""
    return min(reversed(samples), key=lambda one: one.round_trip_ms, default=None)
