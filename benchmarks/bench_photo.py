"""Plans from simulated 12-megapixel photographs: how far off, against one plain homography.

The pictures are drawn by OpenCV's camera; the baseline is what most would do: marker centres, one homography.
"""

from __future__ import annotations

import time
from itertools import product

import cv2
import numpy as np

from rimside.piano.photo import camera
from rimside.piano.photo.fit import fit
from rimside.piano.photo.plane import error_mm, frame_for, rectified
from rimside.piano.photo.scene import CORNER_PX, Picture, Scene, Sighting, Target
from tests.outside.test_photo import PLACES, PROBE
from tests.piano.photo.simulated import Floats, TrueCamera, TrueMarker, photograph

LENSES = {"straight": (0.0, 0.0), "bent": (-0.05, 0.01)}
HEIGHTS = {"on the strings": (0.0, 0.0), "80 mm up, told": (80.0, 0.0), "2 mm wrong, untold": (0.0, 2.0)}
TAPE_MM = (0.0, 2.0)


def main() -> None:
    """Print the table."""
    print("markers lens      heights             tape mm  rms mm  said mm  homography mm     s")
    for count, (lens, radial), (height, sizes), tape_mm in product(
        (4, 6, 10), LENSES.items(), HEIGHTS.items(), TAPE_MM
    ):
        off, said, plain, seconds = measure(count, radial, *sizes, tape_mm)
        print(f"{count:7} {lens:9} {height:19} {tape_mm:7.0f} {off:7.2f} {said:8.2f} {plain:14.2f} {seconds:5.2f}")


def measure(
    count: int, radial: tuple[float, float], told_mm: float, untold_mm: float, tape_mm: float
) -> tuple[float, float, float, float]:
    """Rms error of the plan, what it says of itself, rms of the baseline (all mm), and the time of one picture, s."""
    rng, truth = np.random.default_rng(count), TrueCamera(radial=radial)
    markers = tuple(
        TrueMarker(id=n, x_mm=x, y_mm=y, turn_deg=25.0 * n,
                   above_mm=(told_mm if n % 2 else 0.0) + rng.normal(0.0, untold_mm))
        for n, (x, y) in enumerate(PLACES[:count])
    )  # fmt: skip
    stated = {m.id: (m.x_mm + rng.normal(0.0, tape_mm), m.y_mm + rng.normal(0.0, tape_mm)) for m in markers}
    jpeg = cv2.imencode(".jpg", photograph(truth, markers))[1].tobytes()
    started = time.perf_counter()
    image = camera.decode(jpeg, "picture")
    found = camera.find_markers(image)
    targets = tuple(
        Target(id=str(m.id), at_mm=stated[m.id], error_mm=max(tape_mm, 0.2),
               above_mm=told_mm if m.id % 2 else 0.0, above_error_mm=max(untold_mm, 0.2), side_mm=60.0)
        for m in markers
    )  # fmt: skip
    seen = tuple(Sighting(picture="a", target=str(m.id), px=m.corners_px, error_px=CORNER_PX) for m in found)
    picture = Picture(name="a", camera="c", width_px=image.shape[1], height_px=image.shape[0])
    done = fit(Scene(pictures=(picture,), targets=targets, sightings=seen))
    rectified(done, {"a": image}, frame_for((-150.0, 0.0), (1400.0, 2300.0), 1.0))
    seconds = time.perf_counter() - started
    pixels = truth.seen(np.column_stack([PROBE, np.zeros(len(PROBE))]))
    view = done.views["a"]
    at = np.tile([600.0, 1000.0], (len(pixels), 1))
    for _ in range(12):
        world = np.column_stack([at, np.zeros(len(at))])
        slopes = np.stack([view.seen(world + step) - view.seen(world) for step in np.eye(3)[:2]], axis=-1)
        at = at - np.linalg.solve(slopes, (view.seen(world) - pixels)[:, :, None])[:, :, 0]
    centres = np.array([np.mean(m.corners_px, axis=0) for m in found])
    plane = cv2.findHomography(centres, np.array([stated[m.id] for m in found]))[0]
    plain = cv2.perspectiveTransform(pixels[:, None, :], plane)[:, 0, :]
    said = float(np.sqrt(np.mean(error_mm(done, "a", PROBE) ** 2)))
    return _rms(at - PROBE), said, _rms(plain - PROBE), seconds


def _rms(off: Floats) -> float:
    return float(np.sqrt(np.mean(np.sum(off**2, axis=1))))


if __name__ == "__main__":
    main()
