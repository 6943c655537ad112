"""The string plane as a picture in mm: where each of its pixels comes from, and how far it may be off."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rimside.errors import BadInput
from rimside.piano.photo import camera
from rimside.piano.photo.fit import Fit, View

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from rimside.piano.photo.camera import Image

    Floats = NDArray[np.float64]

HEIGHT_ERROR_MM = 2.0
"""Standard error of the height of the string plane, which slopes and steps a little. Our assumption."""
COARSE_MM = 50.0
"""The error is worked out on a grid this wide."""
MOST_PIXELS = 60_000_000
GRID_MM = 100
UNSEEN_MM = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A rectified picture's place in the plan: pixel (0, 0) is its upper left, the tail is up.

    `x_mm`, `y_mm` are the plan point of the middle of pixel (0, 0); columns run with x, rows against y.
    """

    x_mm: float
    y_mm: float
    columns: int
    rows: int
    mm_per_pixel: float

    def points(self, columns: Iterable[float], rows: Iterable[float]) -> Floats:
        """The plan points of a grid of pixels, rows x columns x 2."""
        import numpy as np

        x = self.x_mm + np.asarray(list(columns), float) * self.mm_per_pixel
        y = self.y_mm - np.asarray(list(rows), float) * self.mm_per_pixel
        return np.stack(np.meshgrid(x, y), axis=-1)


@dataclass(frozen=True, kw_only=True)
class Rectified:
    """A picture of the string plane. `error_mm` is rows x columns of a coarse grid, standard errors of one point."""

    frame: Frame
    image: Image
    middle_error_mm: float
    worst_error_mm: float


def frame_for(low_mm: tuple[float, float], high_mm: tuple[float, float], mm_per_pixel: float) -> Frame:
    """The frame of a stretch of the plan.

    Raises
    ------
    BadInput : the stretch is upside down, or would make a picture that is too large.
    """
    columns = int((high_mm[0] - low_mm[0]) / mm_per_pixel) + 1
    rows = int((high_mm[1] - low_mm[1]) / mm_per_pixel) + 1
    if columns < 2 or rows < 2:
        raise BadInput("the area is empty", where="area", value=[low_mm, high_mm], allowed="[[x, y], [x, y]]")
    if columns * rows > MOST_PIXELS:
        raise BadInput(
            "the rectified picture would be too large, in pixels",
            where="mm_per_pixel",
            value=columns * rows,
            allowed=f"up to {MOST_PIXELS}",
            hint="make mm_per_pixel larger or the area smaller",
        )
    return Frame(x_mm=low_mm[0], y_mm=high_mm[1], columns=columns, rows=rows, mm_per_pixel=mm_per_pixel)


def rectified(fit: Fit, images: dict[str, Image], frame: Frame) -> Rectified:
    """The string plane out of all pictures: each spot from the picture that knows it best."""
    import numpy as np

    names = list(images)
    step = max(1, round(COARSE_MM / frame.mm_per_pixel))
    columns = np.unique([*range(0, frame.columns, step), frame.columns - 1])
    rows = np.unique([*range(0, frame.rows, step), frame.rows - 1])
    coarse = frame.points(columns, rows)
    errors = np.array([error_mm(fit, name, coarse.reshape(-1, 2)).reshape(coarse.shape[:2]) for name in names])
    best = np.argmin(errors, axis=0)
    image = np.full((frame.rows, frame.columns, 3), 235, np.uint8)
    nearest_row = np.abs(rows[:, None] - np.arange(frame.rows)).argmin(axis=0)
    nearest_column = np.abs(columns[:, None] - np.arange(frame.columns)).argmin(axis=0)
    chosen = best[np.ix_(nearest_row, nearest_column)]
    for number, name in enumerate(names):
        taken = _laid(images[name], fit.views[name], frame)
        image[chosen == number] = taken[chosen == number]
    least = errors.min(axis=0)
    seen = least[least < UNSEEN_MM]
    middle = least[len(rows) // 2, len(columns) // 2]
    worst = float(seen.max()) if seen.size else UNSEEN_MM
    return Rectified(frame=frame, image=image, middle_error_mm=float(middle), worst_error_mm=worst)


def _laid(image: Image, view: View, frame: Frame) -> Image:
    """One picture laid into the frame, strip by strip so that memory stays small."""
    import numpy as np

    strips = []
    for top in range(0, frame.rows, 256):
        rows = range(top, min(top + 256, frame.rows))
        flat = frame.points(range(frame.columns), rows).reshape(-1, 2)
        px = view.seen(np.column_stack([flat, np.zeros(len(flat))])).astype(np.float32)
        shape = (len(rows), frame.columns)
        strips.append(camera.bent(image, px[:, 0].reshape(shape), px[:, 1].reshape(shape)))
    return np.concatenate(strips)


def error_mm(fit: Fit, picture: str, points_mm: Floats) -> Floats:
    """Standard error of points of the string plane as one picture gives them, n, mm; huge where it shows nothing.

    From the covariance of the fit, and `HEIGHT_ERROR_MM` times the slope of the view. A point's two coordinates count
    together (root of the sum of both variances).
    """
    import numpy as np

    problem = fit.problem
    shown = next(one for one in fit.scene.pictures if one.name == picture)
    world = np.column_stack([points_mm, np.zeros(len(points_mm))])
    here = problem.view(fit.values, shown).seen(world)
    across = np.stack([(problem.view(fit.values, shown).seen(world + step) - here) for step in np.eye(3)], axis=-1)
    back = np.linalg.inv(across[:, :, :2])
    lens, pose = problem.at_camera[shown.camera], problem.at_picture[picture]
    numbers = [*range(lens, lens + 3), *range(pose, pose + 6)]
    moves = []
    for number in numbers:
        moved = fit.values.copy()
        moved[number] += (step := 1e-5 * max(1.0, abs(moved[number])))
        moves.append((problem.view(moved, shown).seen(world) - here) / step)
    by_number = back @ np.stack(moves, axis=-1)
    spread = np.einsum("nij,jk,nik->ni", by_number, fit.covariance[np.ix_(numbers, numbers)], by_number)
    by_height = (back @ across[:, :, 2:])[:, :, 0] * HEIGHT_ERROR_MM
    error = np.sqrt(np.sum(spread + by_height**2, axis=1))
    inside = np.all((here >= 0.0) & (here <= [shown.width_px - 1, shown.height_px - 1]), axis=1)
    return np.where(inside, error, UNSEEN_MM)


def with_grid(done: Rectified) -> Image:
    """The rectified picture with a line every 100 mm and its coordinate."""
    frame = done.frame
    first_x, first_y = -(-frame.x_mm // GRID_MM) * GRID_MM, frame.y_mm // GRID_MM * GRID_MM
    columns, rows = [], []
    while (column := round((first_x - frame.x_mm) / frame.mm_per_pixel)) < frame.columns:
        columns.append((column, f"x {first_x:.0f}"))
        first_x += GRID_MM
    while (row := round((frame.y_mm - first_y) / frame.mm_per_pixel)) < frame.rows:
        rows.append((row, f"y {first_y:.0f}"))
        first_y -= GRID_MM
    return camera.ruled(done.image, columns, rows)
