"""TrueType files: which characters one holds, and a small one written from our own outlines.

Source: ISO/IEC 14496-22 (Open Font Format); table layouts from memory of it, checked against another reader in tests.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping, Sequence

from rimside.errors import BadInput
from rimside.paper.outlines import ASCENT, CAP_HEIGHT, DESCENT, EM, Contour, Glyph

_EPOCH_2020_S = 3660681600
"""1 January 2020 in seconds from 1904: a fixed date, so that the same outlines give the same bytes."""
_X_HEIGHT = 496


def characters(font: bytes) -> frozenset[str]:
    """Every character that a TrueType file has a glyph for.

    Raises
    ------
    BadInput : the file holds no character map of format 4.
    """
    count = struct.unpack_from(">H", font, 4)[0]
    tables = {font[at : at + 4]: struct.unpack_from(">L", font, at + 8)[0] for at in range(12, 12 + 16 * count, 16)}
    start = tables[b"cmap"]
    for number in range(struct.unpack_from(">H", font, start + 2)[0]):
        at = start + struct.unpack_from(">L", font, start + 4 + 8 * number + 4)[0]
        if struct.unpack_from(">H", font, at)[0] == 4:
            return frozenset(map(chr, _format_4(font, at)))
    raise BadInput("the font has no character map of format 4", where="font file")


def _format_4(font: bytes, at: int) -> Iterator[int]:
    segments = struct.unpack_from(">H", font, at + 6)[0] // 2
    ends, starts = at + 14, at + 16 + 2 * segments
    deltas, offsets = starts + 2 * segments, starts + 4 * segments
    for number in range(segments):
        first, last, delta, offset = (
            struct.unpack_from(">H", font, table + 2 * number)[0] for table in (starts, ends, deltas, offsets)
        )
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if offset:
                glyph = struct.unpack_from(">H", font, offsets + 2 * number + offset + 2 * (code - first))[0]
            if glyph and (glyph + delta) & 0xFFFF:
                yield code


def font_file(family: str, glyphs: Mapping[str, Glyph]) -> bytes:
    """A TrueType file of one upright face that holds these glyphs (characters of the basic plane)."""
    ordered = [Glyph(name=".notdef", advance=600, contours=()), *(glyphs[char] for char in sorted(glyphs))]
    drawn = [_drawn(glyph.contours) for glyph in ordered]
    offsets = [0]
    for data in drawn:
        offsets.append(offsets[-1] + len(data))
    tables = {
        b"OS/2": _os2(sorted(glyphs)),
        b"cmap": _cmap(sorted(glyphs)),
        b"glyf": b"".join(drawn),
        b"head": _head(ordered),
        b"hhea": _hhea(ordered),
        b"hmtx": b"".join(struct.pack(">Hh", glyph.advance, _bounds(glyph.contours)[0]) for glyph in ordered),
        b"loca": struct.pack(f">{len(offsets)}L", *offsets),
        b"maxp": _maxp(ordered),
        b"name": _name(family),
        b"post": struct.pack(">LLhhLLLLL", 0x00030000, 0, -75, 50, 0, 0, 0, 0, 0),
    }
    return _assembled(tables)


def _drawn(contours: Sequence[Contour]) -> bytes:
    """One glyph of table `glyf`, every point written in full, padded to a multiple of four bytes."""
    if not contours:
        return b""
    points = [point for contour in contours for point in contour]
    ends, last = [], -1
    for contour in contours:
        last += len(contour)
        ends.append(last)
    data = struct.pack(">hhhhh", len(contours), *_bounds(contours))
    data += struct.pack(f">{len(ends)}HH", *ends, 0) + bytes(int(on) for _, _, on in points)
    for axis in (0, 1):
        values = [int(point[axis]) for point in points]
        data += struct.pack(f">{len(values)}h", *(b - a for a, b in zip([0, *values], values, strict=False)))
    return _padded(data)


def _bounds(contours: Sequence[Contour]) -> tuple[int, int, int, int]:
    xs = [x for contour in contours for x, _, _ in contour] or [0]
    ys = [y for contour in contours for _, y, _ in contour] or [0]
    return min(xs), min(ys), max(xs), max(ys)


def _padded(data: bytes) -> bytes:
    return data + b"\0" * (-len(data) % 4)


def _all_bounds(glyphs: Sequence[Glyph]) -> tuple[int, int, int, int]:
    return _bounds([contour for glyph in glyphs for contour in glyph.contours])


def _head(glyphs: Sequence[Glyph]) -> bytes:
    moment = (_EPOCH_2020_S, _EPOCH_2020_S)
    box = _all_bounds(glyphs)
    return struct.pack(">LLLLHHQQhhhhHHhhh", 0x00010000, 0x00010000, 0, 0x5F0F3CF5, 0, EM, *moment, *box, 0, 8, 2, 1, 0)


def _hhea(glyphs: Sequence[Glyph]) -> bytes:
    left, _, right, _ = _all_bounds(glyphs)
    widest = max(glyph.advance for glyph in glyphs)
    return struct.pack(
        ">LhhhHhhhhhhhhhhhH",
        0x00010000,
        ASCENT,
        DESCENT,
        0,
        widest,
        left,
        0,
        right,
        1,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        len(glyphs),
    )


def _maxp(glyphs: Sequence[Glyph]) -> bytes:
    points = max(sum(map(len, glyph.contours)) for glyph in glyphs)
    contours = max(len(glyph.contours) for glyph in glyphs)
    return struct.pack(">L14H", 0x00010000, len(glyphs), points, contours, 0, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0)


def _os2(chars: Sequence[str]) -> bytes:
    """Version 4: weight 400, upright, no restriction on embedding."""
    first, last = ord(chars[0]), ord(chars[-1])
    head = struct.pack(">HhHHHhhhhhhhhhhh", 4, 600, 400, 5, 0, 650, 600, 0, 75, 650, 600, 0, 350, 50, 300, 0)
    middle = bytes(10) + struct.pack(">LLLL4s", 0, 0, 0, 0, b"    ")
    tail = struct.pack(">HHHhhhHHLL", 0x40, first, last, ASCENT, DESCENT, 0, ASCENT, -DESCENT, 0, 0)
    return head + middle + tail + struct.pack(">hhHHH", _X_HEIGHT, CAP_HEIGHT, 0, 32, 1)


def _cmap(chars: Sequence[str]) -> bytes:
    """Format 4 with one segment for each character: plain, and short enough here."""
    codes = [*map(ord, chars), 0xFFFF]
    deltas = [(glyph - code) & 0xFFFF for glyph, code in enumerate(map(ord, chars), start=1)] + [1]
    count = len(codes)
    power = count.bit_length() - 1
    search = 2 * 2**power
    body = struct.pack(f">{count}HH{count}H", *codes, 0, *codes) + struct.pack(f">{count}H", *deltas)
    body += bytes(2 * count)
    head = struct.pack(">HHHHHHH", 4, 14 + len(body), 0, 2 * count, search, power, 2 * count - search)
    return struct.pack(">HHHHL", 0, 1, 3, 1, 12) + head + body


def _name(family: str) -> bytes:
    names = {1: family, 2: "Regular", 3: f"{family} 1", 4: family, 5: "Version 1.0", 6: family.replace(" ", "")}
    records, text = b"", b""
    for number, value in sorted(names.items()):
        data = value.encode("utf-16-be")
        records += struct.pack(">HHHHHH", 3, 1, 0x409, number, len(data), len(text))
        text += data
    return struct.pack(">HHH", 0, len(names), 6 + len(records)) + records + text


def _assembled(tables: Mapping[bytes, bytes]) -> bytes:
    count = len(tables)
    power = count.bit_length() - 1
    header = struct.pack(">LHHHH", 0x00010000, count, 16 * 2**power, power, 16 * (count - 2**power))
    offset, records, body = 12 + 16 * count, b"", b""
    for tag, data in sorted(tables.items()):
        records += struct.pack(">4sLLL", tag, _checksum(data), offset + len(body), len(data))
        body += _padded(data)
    font = header + records + body
    at = offset + sum(len(_padded(tables[tag])) for tag in sorted(tables) if tag < b"head") + 8
    adjust = (0xB1B0AFBA - _checksum(font)) & 0xFFFFFFFF
    return font[:at] + struct.pack(">L", adjust) + font[at + 4 :]


def _checksum(data: bytes) -> int:
    padded = _padded(data)
    total: int = sum(struct.unpack(f">{len(padded) // 4}L", padded))
    return total & 0xFFFFFFFF
