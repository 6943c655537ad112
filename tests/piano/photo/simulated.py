"""Photographs drawn by an independent camera, OpenCV's own, of a plan that the code under test never sees."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Image = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueMarker:
    """A marker where it really lies; heights over the string plane."""

    id: int
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0
    above_mm: float = 0.0
    side_mm: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueCamera:
    """A camera as OpenCV describes one, looking from `at_mm` (x, y, height over the strings) to `to_mm`."""

    width_px: int = 4000
    height_px: int = 3000
    focal_px: float = 3000.0
    radial: tuple[float, float] = (0.0, 0.0)
    at_mm: tuple[float, float, float] = (600.0, 1000.0, 2600.0)
    to_mm: tuple[float, float] = (600.0, 1150.0)
    roll_deg: float = 90.0

    @property
    def matrix(self) -> Floats:
        """The inner matrix."""
        middle = ((self.width_px - 1) / 2.0, (self.height_px - 1) / 2.0)
        return np.array([[self.focal_px, 0.0, middle[0]], [0.0, self.focal_px, middle[1]], [0.0, 0.0, 1.0]])

    @property
    def lens(self) -> Floats:
        """OpenCV's distortion terms."""
        return np.array([*self.radial, 0.0, 0.0, 0.0])

    @property
    def pose(self) -> tuple[Floats, Floats]:
        """Rotation vector and shift, world to camera."""
        ahead = np.array([*self.to_mm, 0.0]) - np.array(self.at_mm)
        ahead /= np.linalg.norm(ahead)
        roll = np.radians(self.roll_deg)
        right = np.array([np.sin(roll), -np.cos(roll), 0.0])
        down = np.cross(ahead, right)
        down /= np.linalg.norm(down)
        turn = np.stack([np.cross(down, ahead), down, ahead])
        return cv2.Rodrigues(turn)[0].ravel(), -turn @ np.array(self.at_mm)

    def seen(self, points_mm: Floats) -> Floats:
        """Where points (n x 3) fall, by OpenCV's projection."""
        turn, shift = self.pose
        return np.asarray(
            cv2.projectPoints(np.asarray(points_mm, float), turn, shift, self.matrix, self.lens)[0]
        ).reshape(-1, 2)

    def plane_at(self, columns: NDArray[np.intp], rows: NDArray[np.intp], above_mm: float) -> Floats:
        """Which points of a level plane a block of pixels shows, rows x columns x 2."""
        grid = np.stack(np.meshgrid(columns, rows), axis=-1).astype(float)
        flat = cv2.undistortPoints(grid.reshape(-1, 1, 2), self.matrix, self.lens).reshape(-1, 2)
        turn, _ = cv2.Rodrigues(self.pose[0])
        rays = np.column_stack([flat, np.ones(len(flat))]) @ turn
        far = (above_mm - self.at_mm[2]) / rays[:, 2]
        return np.asarray(self.at_mm[:2] + rays[:, :2] * far[:, None], float).reshape(*grid.shape)


def photograph(
    camera: TrueCamera, markers: tuple[TrueMarker, ...], *, noise: float = 2.0, blur_px: float = 0.7
) -> Image:
    """What the camera takes: strings and a dark plate, markers lying over them; some blur, some noise."""
    columns, rows = np.arange(camera.width_px), np.arange(camera.height_px)
    shade = np.empty((camera.height_px, camera.width_px), np.float32)
    for top in range(0, camera.height_px, 256):
        plane = camera.plane_at(columns, rows[top : top + 256], 0.0)
        shade[top : top + 256] = (
            90.0 + 40.0 * (np.mod(plane[..., 0], 14.0) < 4.0) + 15.0 * np.sin(plane[..., 1] / 190.0)
        )
    for marker in markers:
        _lay(shade, camera, marker)
    shade = cv2.GaussianBlur(shade, (0, 0), blur_px) if blur_px else shade
    shade += np.random.default_rng(5).normal(0.0, noise, shade.shape).astype(np.float32)
    return np.repeat(np.clip(shade, 0.0, 255.0).astype(np.uint8)[..., None], 3, axis=2)


def _lay(shade: NDArray[np.float32], camera: TrueCamera, marker: TrueMarker) -> None:
    """Draw a marker with a white margin of one square, each pixel sampled 3 x 3 times."""
    whole = marker.side_mm * 8.0 / 6.0
    half, turn = whole / 2.0, np.radians(marker.turn_deg)
    along, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    middle = np.array([marker.x_mm, marker.y_mm])
    edges = np.array(
        [[*(middle + s * half * along + t * half * up), marker.above_mm] for s in (-1, 1) for t in (-1, 1)]
    )
    seen = camera.seen(edges)
    low = np.maximum(np.floor(seen.min(axis=0)).astype(int) - 2, 0)
    high = np.minimum(np.ceil(seen.max(axis=0)).astype(int) + 3, [camera.width_px, camera.height_px])
    if np.any(high <= low):
        return
    fine = 3
    columns = low[0] - 0.5 + (np.arange((high[0] - low[0]) * fine) + 0.5) / fine
    rows = low[1] - 0.5 + (np.arange((high[1] - low[1]) * fine) + 0.5) / fine
    away = camera.plane_at(columns, rows, marker.above_mm) - middle
    u, v = away @ along, away @ up
    pattern = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), marker.id, 6)
    square = marker.side_mm / 6.0
    column, row = np.floor((u + 3 * square) / square).astype(int), np.floor((3 * square - v) / square).astype(int)
    inside = (column >= 0) & (column < 6) & (row >= 0) & (row < 6)
    paper = np.where(inside, pattern[np.clip(row, 0, 5), np.clip(column, 0, 5)], 255) * 0.85 + 12.0
    on = (np.abs(u) <= half) & (np.abs(v) <= half)
    shape = (high[1] - low[1], fine, high[0] - low[0], fine)
    share = on.reshape(shape).mean(axis=(1, 3))
    value = np.where(on, paper, 0.0).reshape(shape).sum(axis=(1, 3)) / np.maximum(on.reshape(shape).sum(axis=(1, 3)), 1)
    block = shade[low[1] : high[1], low[0] : high[0]]
    block[:] = (1.0 - share) * block + share * value
