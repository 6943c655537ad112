"""The only file that meets OpenCV: decode, find markers, bend a picture by a map, draw, encode."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rimside.errors import BadInput
from rimside.piano.photo.markers import MOST

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Image = NDArray[np.uint8]
    Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundMarker:
    """A marker in a picture: its number and its outer corners in pixels, upper left first, clockwise as printed."""

    id: int
    corners_px: tuple[tuple[float, float], ...]


def decode(data: bytes, where: str) -> Image:
    """A picture as rows of blue, green and red, upright as its file says.

    Raises
    ------
    BadInput : the file is damaged.
    """
    import cv2
    import numpy as np

    image = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    if image is None:
        raise BadInput("the picture is damaged and cannot be read", where=where, hint="send the file again, as a file")
    return np.asarray(image, np.uint8)


def find_markers(image: Image) -> tuple[FoundMarker, ...]:
    """Every marker in a picture, by number; one number may come twice."""
    import cv2
    import numpy as np

    grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    chosen = cv2.aruco.DetectorParameters()
    chosen.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    chosen.cornerRefinementWinSize = max(3, min(7, round(max(grey.shape) / 800)))
    detector = cv2.aruco.ArucoDetector(_dictionary(), chosen)
    corners, ids, _ = detector.detectMarkers(grey)
    if ids is None:
        return ()
    found = [
        FoundMarker(id=int(number), corners_px=tuple((float(x), float(y)) for x, y in np.reshape(four, (4, 2))))
        for number, four in zip(np.ravel(ids), corners, strict=True)
    ]
    return tuple(sorted(found, key=lambda one: (one.id, one.corners_px)))


def _dictionary() -> Any:
    import cv2

    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


def marker_squares(number: int) -> tuple[tuple[bool, ...], ...]:
    """The pattern of a marker with its border: for each square, row by row, whether it is black."""
    import cv2

    if not 0 <= number < MOST:
        raise BadInput("there is no such marker", value=number, allowed=f"0 to {MOST - 1}")
    image = cv2.aruco.generateImageMarker(_dictionary(), number, 6, borderBits=1)
    return tuple(tuple(bool(value < 128) for value in row) for row in image)


def edge_width_px(image: Image, corners_px: Sequence[tuple[float, float]]) -> float:
    """How many pixels white takes to become black across a marker's border, 10 to 90 %, the median of its edges."""
    import cv2
    import numpy as np

    corners = np.asarray(corners_px, float)
    middle, side_px = corners.mean(axis=0), float(np.linalg.norm(corners[1] - corners[0]))
    depth = 0.12 * side_px
    steps = np.linspace(-depth, depth, max(9, round(8 * depth)))
    widths = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        outward = (a + b) / 2.0 - middle
        outward /= np.linalg.norm(outward)
        starts = a + np.linspace(0.3, 0.7, 7)[:, None] * (b - a)
        line = starts[:, None, :] - steps[None, :, None] * outward
        taken = cv2.remap(image, line.astype(np.float32), None, cv2.INTER_LINEAR)
        widths += [_rise(profile, float(steps[1] - steps[0])) for profile in taken.mean(axis=2)]
    return float(np.median(widths))


def _rise(profile: NDArray[np.floating], step_px: float) -> float:
    """The width of a fall from bright to dark between 90 and 10 % of it, pixels."""
    import numpy as np

    bright, dark = float(np.max(profile)), float(np.min(profile))
    share = (profile - dark) / max(bright - dark, 1.0)
    return float(np.count_nonzero((share > 0.1) & (share < 0.9))) * step_px


def sharpest_edge_px(image: Image) -> float:
    """How many pixels the sharpest changes of a picture take, 10 to 90 %.

    From how much flatter its steepest slopes become when it is blurred once more: blurs add as squares, so an edge of
    spread s that another spread t makes flatter by r has s = t r / sqrt(1 - r^2).
    """
    import cv2
    import numpy as np

    grey = cv2.GaussianBlur(cv2.cvtColor(image, cv2.COLOR_BGR2GRAY).astype(np.float32), (0, 0), _CALM_PX)
    before, after = (_steepest(grey), _steepest(cv2.GaussianBlur(grey, (0, 0), _MORE_PX)))
    share = min(after / max(before, 1e-6), 0.9999)
    spread = _MORE_PX * share / float(np.sqrt(1.0 - share**2))
    return 2.56 * float(np.sqrt(max(spread**2 - _CALM_PX**2, 0.0)))


_CALM_PX, _MORE_PX = 1.5, 4.0
"""Spreads of the blur that calms noise before edges are looked at, and of the one that they are tried with."""


def _steepest(grey: NDArray[np.float32]) -> float:
    import cv2
    import numpy as np

    slope = np.hypot(cv2.Sobel(grey, cv2.CV_32F, 1, 0), cv2.Sobel(grey, cv2.CV_32F, 0, 1))
    return float(np.percentile(slope, 99.95))


def bent(image: Image, column_px: Map, row_px: Map) -> Image:
    """A picture taken apart and laid out anew: for each new pixel, where in the old picture it comes from."""
    import cv2
    import numpy as np

    return np.asarray(cv2.remap(image, column_px, row_px, cv2.INTER_LINEAR, borderValue=(235, 235, 235)), np.uint8)


def ruled(image: Image, columns: Sequence[tuple[int, str]], rows: Sequence[tuple[int, str]]) -> Image:
    """The picture with thin lines at some columns and rows, each with its number."""
    import cv2

    drawn = image.copy()
    height, width = drawn.shape[:2]
    for at, words in columns:
        cv2.line(drawn, (at, 0), (at, height - 1), (255, 255, 255), 3)
        cv2.line(drawn, (at, 0), (at, height - 1), (60, 60, 60), 1)
        _write(drawn, words, (at + 4, 22))
    for at, words in rows:
        cv2.line(drawn, (0, at), (width - 1, at), (255, 255, 255), 3)
        cv2.line(drawn, (0, at), (width - 1, at), (60, 60, 60), 1)
        _write(drawn, words, (4, at - 5))
    return drawn


def _write(image: Image, words: str, at: tuple[int, int]) -> None:
    import cv2

    for colour, breadth in (((255, 255, 255), 5), ((20, 20, 20), 1)):
        cv2.putText(image, words, at, cv2.FONT_HERSHEY_SIMPLEX, 0.6, colour, breadth, cv2.LINE_AA)


def png(image: Image) -> bytes:
    """A picture as a PNG file."""
    import cv2

    done, data = cv2.imencode(".png", image)
    if not done:
        raise BadInput("the picture could not be written as PNG", value=image.shape)
    return bytes(data)
