"""Standard MIDI Files written byte by byte. Source: Standard MIDI Files 1.0."""

from __future__ import annotations

END = b"\x00\xff\x2f\x00"  # delta 0, meta event 2F (end of track), length 0
PPQ_96 = 96


def header(kind: int = 1, tracks: int = 1, division: int = PPQ_96) -> bytes:
    """MThd, length 6, then format, number of tracks and division, two bytes each, high byte first."""
    return b"MThd\x00\x00\x00\x06" + b"".join(value.to_bytes(2, "big") for value in (kind, tracks, division))


def track(*events: bytes, end: bytes = END) -> bytes:
    """MTrk, length in four bytes, events, end of track."""
    body = b"".join(events) + end
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def after(ticks: int, *message: int) -> bytes:
    """A message after a delta time below 16384 ticks (a variable-length quantity of one or two bytes)."""
    delta = bytes([ticks]) if ticks < 128 else bytes([0x80 | ticks >> 7, ticks & 0x7F])
    return delta + bytes(message)


def text(kind: int, words: str, ticks: int = 0, encoding: str = "utf-8") -> bytes:
    """A text meta event: 01 text, 03 track name, 06 marker, 07 cue point."""
    data = words.encode(encoding)
    return after(ticks, 0xFF, kind, len(data)) + data


# 0xFF 51 03: set tempo, three bytes of microseconds a quarter; 0F 42 40 is 1 000 000, so 60 quarters a minute.
TEMPO_60 = b"\x00\xff\x51\x03\x0f\x42\x40"
# 0xFF 58 04: time signature; numerator 3, denominator 2 to the power of 2, 24 clocks a click,
# 8 thirty-seconds a quarter.
METER_3_4 = b"\x00\xff\x58\x04\x03\x02\x18\x08"
