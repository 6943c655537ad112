"""How a camera sees a point: a pinhole with two radial terms. Numbers only."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def rotation(turn: Floats) -> Floats:
    """The 3 x 3 rotation about an axis by the length of a vector, rad. Source: O. Rodrigues, 1840."""
    import numpy as np

    angle = float(np.linalg.norm(turn))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = turn / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross)


def turn_of(matrix: Floats) -> Floats:
    """The vector that `rotation` makes this rotation of."""
    import numpy as np
    from scipy.spatial.transform import Rotation

    return np.asarray(Rotation.from_matrix(matrix).as_rotvec())


def seen_px(
    points_mm: Floats, focal_px: float, radial: tuple[float, float], turn: Floats, shift_mm: Floats, middle_px: Floats
) -> Floats:
    """Where points are seen, n x 2 pixels.

    Parameters
    ----------
    points_mm : n x 3, in the world.
    focal_px : distance of the picture from the pinhole.
    radial : k1 and k2 of x' = x (1 + k1 r^2 + k2 r^4), r in focal lengths. Source: D. C. Brown, Photogrammetric
        Engineering 37 (1971) 855.
    turn, shift_mm : from the world to the camera: rotation vector, and the world's origin as the camera sees it.
    middle_px : the picture's middle.
    """
    import numpy as np

    local = points_mm @ rotation(turn).T + shift_mm
    flat = local[:, :2] / np.maximum(local[:, 2:], 1e-6)
    square = np.sum(flat**2, axis=1, keepdims=True)
    bent = flat * (1.0 + radial[0] * square + radial[1] * square**2)
    return np.asarray(focal_px * bent + middle_px)


def homography(plan_mm: Floats, seen: Floats) -> Floats:
    """The 3 x 3 map from a plane to a picture through four or more points, by the direct linear transform.

    Source: Hartley & Zisserman, Multiple View Geometry, 2nd ed. 2004, algorithm 4.2 (points normalised first).
    """
    import numpy as np

    to_plan, to_seen = _normal(plan_mm), _normal(seen)
    rows = []
    for (x, y), (u, v) in zip(_moved(plan_mm, to_plan), _moved(seen, to_seen), strict=True):
        rows += [[-x, -y, -1, 0, 0, 0, u * x, u * y, u], [0, 0, 0, -x, -y, -1, v * x, v * y, v]]
    found = np.linalg.svd(np.asarray(rows))[2][-1].reshape(3, 3)
    return np.asarray(np.linalg.inv(to_seen) @ found @ to_plan)


def _normal(points: Floats) -> Floats:
    """The similarity that brings points to mean 0 and mean distance sqrt(2)."""
    import numpy as np

    middle = points.mean(axis=0)
    scale = np.sqrt(2.0) / max(float(np.mean(np.linalg.norm(points - middle, axis=1))), 1e-9)
    return np.array([[scale, 0.0, -scale * middle[0]], [0.0, scale, -scale * middle[1]], [0.0, 0.0, 1.0]])


def _moved(points: Floats, by: Floats) -> Floats:
    return points @ by[:2, :2].T + by[:2, 2]


def through(homography_: Floats, points: Floats) -> Floats:
    """Points of the plane (n x 2) as the picture shows them, n x 2."""
    import numpy as np

    lifted = np.column_stack([points, np.ones(len(points))]) @ homography_.T
    return np.asarray(lifted[:, :2] / lifted[:, 2:])


def pose_of(homography_: Floats, focal_px: float, middle_px: Floats) -> tuple[Floats, Floats]:
    """Rotation vector and shift of a camera that sees the plane z = 0 through a homography.

    Source: Z. Zhang, IEEE Trans. PAMI 22 (2000) 1330, section 3.1.
    """
    import numpy as np

    inner = np.array([[focal_px, 0.0, middle_px[0]], [0.0, focal_px, middle_px[1]], [0.0, 0.0, 1.0]])
    columns = np.linalg.inv(inner) @ homography_
    columns /= (np.linalg.norm(columns[:, 0]) + np.linalg.norm(columns[:, 1])) / 2.0
    if columns[2, 2] < 0.0:
        columns = -columns
    first, second, shift = columns.T
    u, _, vt = np.linalg.svd(np.column_stack([first, second, np.cross(first, second)]))
    return turn_of(u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt), shift
