"""What a picture file says of itself in its first bytes: its kind and size, before anything is decoded."""

from __future__ import annotations

import struct

from rimside.errors import BadInput

MOST_MEGAPIXELS = 64.0
"""Larger pictures are refused: 64 megapixels take 0.8 GB while they are worked on."""
_PNG = b"\x89PNG\r\n\x1a\n"
_STARTS = {
    b"GIF8": "a GIF", b"II*\x00": "a TIFF", b"MM\x00*": "a TIFF", b"%PDF": "a PDF", b"BM": "a BMP", b"RIFF": "a WebP",
}  # fmt: skip
_HEIC = (b"heic", b"heix", b"mif1", b"msf1", b"avif")
_NOT_FRAMES = {0xC4, 0xC8, 0xCC}


def size_px(data: bytes, where: str) -> tuple[int, int]:
    """Width and height of a PNG or JPEG picture, pixels.

    Raises
    ------
    BadInput : an empty file, another kind of file, a picture whose header is cut off, one that is too large.
    """
    if not data:
        raise BadInput("the file is empty", where=where)
    found = _png(data) if data.startswith(_PNG) else _jpeg(data) if data.startswith(b"\xff\xd8") else None
    if found is None:
        raise BadInput("is no picture that can be read", where=where, value=_kind(data), allowed="PNG or JPEG",
                       hint="let the telephone save JPEG" if _kind(data) == "a HEIC" else "")  # fmt: skip
    width, height = found
    if width * height > MOST_MEGAPIXELS * 1e6:
        raise BadInput(
            "the picture is too large, in megapixels",
            where=where,
            value=round(width * height / 1e6, 1),
            allowed=f"up to {MOST_MEGAPIXELS:.0f}",
            hint="12 are enough; make it smaller, but do not cut it: its middle must stay its middle",
        )
    return width, height


def _kind(data: bytes) -> str:
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC:
        return "a HEIC"
    return next((kind for start, kind in _STARTS.items() if data.startswith(start)), "something else")


def _png(data: bytes) -> tuple[int, int] | None:
    return struct.unpack(">II", data[16:24]) if len(data) >= 24 else None


def _jpeg(data: bytes) -> tuple[int, int] | None:
    """From the first frame header; the segments before it are passed over."""
    at = 2
    while at + 9 <= len(data):
        if data[at] != 0xFF:
            return None
        kind = data[at + 1]
        if 0xC0 <= kind <= 0xCF and kind not in _NOT_FRAMES:
            height, width = struct.unpack(">HH", data[at + 5 : at + 9])
            return width, height
        at += 1 if kind == 0xFF else 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]
    return None
