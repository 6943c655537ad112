"""The first bytes of a picture file: its size is known, and what it is not, before anything is decoded."""

from __future__ import annotations

import struct
import zlib

import cv2
import numpy as np
import pytest

from rimside.errors import BadInput
from rimside.piano.photo.header import size_px


def encoded(kind: str, width: int = 31, height: int = 17) -> bytes:
    done, data = cv2.imencode(kind, np.zeros((height, width, 3), np.uint8))
    assert done
    return bytes(data)


@pytest.mark.parametrize("kind", [".png", ".jpg"])
def test_size_is_read_as_opencv_wrote_it(kind: str) -> None:
    """Width before height, whatever OpenCV put into the header."""
    assert size_px(encoded(kind), "a") == (31, 17)


def test_a_hundred_megapixels_are_refused_unseen() -> None:
    """A file of 60 bytes that says it holds 10000 x 10000 pixels; no pixel is read."""
    head = b"IHDR" + struct.pack(">IIBBBBB", 10000, 10000, 8, 2, 0, 0, 0)
    data = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head))
    with pytest.raises(BadInput, match="too large") as caught:
        size_px(data, "big.png")
    assert caught.value.value == 100.0


def test_the_largest_that_is_allowed_passes() -> None:
    """8000 x 8000 is exactly 64 megapixels."""
    data = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR" + struct.pack(">II", 8000, 8000)
    assert size_px(data, "edge.png") == (8000, 8000)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "empty"),
        (b"these are words", "something else"),
        (b"\x00\x00\x00\x18ftypheic\x00\x00", "a HEIC"),
        (b"II*\x00rest", "a TIFF"),
        (b"%PDF-1.7", "a PDF"),
        (encoded(".jpg")[:8], "something else"),
        (b"\xff\xd8\xff\xe0\xff", "something else"),
    ],
)
def test_what_is_no_picture_is_told(data: bytes, told: str) -> None:
    """An empty file, other kinds of file, a JPEG that breaks off."""
    with pytest.raises(BadInput) as caught:
        size_px(data, "x")
    assert told in str(caught.value)
