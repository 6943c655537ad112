"""A first guess for the fit: where every target lies in the plan, and the plane's map into each picture."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from rimside.errors import BadInput
from rimside.piano.photo.lens import homography, through
from rimside.piano.photo.markers import corners_mm
from rimside.piano.photo.scene import Scene, Sighting, Target

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FLAT = 0.05
"""Points whose breadth is less than this share of their length lie on a line."""
LEAST_POINTS = 4
_TRIES = 12


def checked(scene: Scene) -> None:
    """Refuse what no fit can be made from.

    Raises
    ------
    BadInput : too few targets in a picture, or all of them on one line.
    """
    for picture in scene.pictures:
        seen = scene.seen_in(picture.name)
        markers = sum(len(one.px) == 4 for one in seen)
        if len(seen) < LEAST_POINTS and not markers:
            raise BadInput("too few points are given in the picture", where=picture.name, value=len(seen),
                           allowed=f"{LEAST_POINTS} to 10 points, or markers")  # fmt: skip
        if markers and len(seen) < 2:
            raise BadInput("only one marker was found in the picture", where=picture.name, value=seen[0].target,
                           allowed="2 at least, better 6 to 10 far apart",
                           hint="lay more of them where the picture shows them whole")  # fmt: skip
        if len(seen) > 2 and _flat(_middles(seen)):
            raise BadInput("all markers and points lie on one line", where=picture.name,
                           value=", ".join(one.target for one in seen),
                           allowed="some on both sides of the piano and at the tail")  # fmt: skip
    stated = [target for target in scene.targets if target.at_mm is not None]
    if len(stated) < 2:
        raise BadInput("the plan has no anchor", value=len(stated), allowed="at = [x, y] for two markers or points",
                       hint="say where two of them lie; distances can tell the others")  # fmt: skip


def _middles(seen: tuple[Sighting, ...]) -> Floats:
    import numpy as np

    return np.array([np.mean(one.px, axis=0) for one in seen])


def _flat(points: Floats) -> bool:
    import numpy as np

    long, short = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[:2]
    return bool(short < FLAT * long)


def first_places(scene: Scene) -> dict[str, tuple[float, float]]:
    """Where every target lies, roughly: as stated, as distances say, or as a picture shows it.

    Raises
    ------
    BadInput : something ties a target neither to stated places nor to another target.
    """
    places = {one.id: one.at_mm for one in scene.targets if one.at_mm is not None}
    for _ in range(len(scene.targets) + 1):
        for picture in scene.pictures:
            found = _plane(scene, picture.name, places)
            if found is not None:
                places = {one.target: _back(found, one) for one in scene.seen_in(picture.name)} | places
    if any(one.id not in places for one in scene.targets):
        places |= _from_distances(scene, places)
    return places


def first_planes(scene: Scene, places: dict[str, tuple[float, float]]) -> dict[str, Floats]:
    """The homography of every picture, plan to pixels."""
    planes = {}
    for picture in scene.pictures:
        plane = _plane(scene, picture.name, places)
        if plane is None:
            raise BadInput("too few known markers or points are in the picture", where=picture.name,
                           allowed=f"{LEAST_POINTS} points, or 2 markers, of known place")  # fmt: skip
        planes[picture.name] = plane
    return planes


def _back(plane: Floats, one: Sighting) -> tuple[float, float]:
    import numpy as np

    x, y = through(np.asarray(np.linalg.inv(plane)), np.asarray(one.px, float)).mean(axis=0)
    return float(x), float(y)


def _plane(scene: Scene, picture: str, places: dict[str, tuple[float, float]]) -> Floats | None:
    """From the middles of four or more placed targets that do not lie on a line, else from one marker's own corners."""
    import numpy as np

    seen = [one for one in scene.seen_in(picture) if one.target in places]
    plan = np.array([places[one.target] for one in seen]).reshape(-1, 2)
    if len(seen) >= LEAST_POINTS and not _flat(plan):
        return homography(plan, _middles(tuple(seen)))
    markers = [one for one in seen if len(one.px) == 4]
    if not markers or len(seen) < 2:
        return None
    own = max(markers, key=lambda one: float(np.linalg.norm(np.subtract(one.px[0], one.px[2]))))
    side_mm = scene.target(own.target).side_mm or 1.0
    local = homography(np.array(corners_mm(side_mm, 0.0, 0.0, 0.0)), np.asarray(own.px, float))
    here = np.array([_back(local, one) for one in seen])
    return np.asarray(local @ np.linalg.inv(_similarity(here, plan)))


def _similarity(start: Floats, end: Floats) -> Floats:
    """The turn, scale and shift (never a mirror) that brings points nearest to others, 3 x 3."""
    import numpy as np

    a, b = start - start.mean(axis=0), end - end.mean(axis=0)
    turn = complex(np.vdot(a[:, 0] + 1j * a[:, 1], b[:, 0] + 1j * b[:, 1])) / float(np.sum(a**2))
    by = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]])
    shift = end.mean(axis=0) - by @ start.mean(axis=0)
    return np.array([[*by[0], shift[0]], [*by[1], shift[1]], [0.0, 0.0, 1.0]])


def _from_distances(scene: Scene, places: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    """Places that the tape alone tells, the best of some starts; the mirrored one is left to the fit to refuse."""
    import numpy as np
    from scipy.optimize import least_squares

    unknown = [one.id for one in scene.targets if one.id not in places]
    for name in unknown:
        if sum(name in (one.a, one.b) for one in scene.distances) < 2:
            raise BadInput("nothing says where it lies", where=f"marker or point {name}",
                           allowed="at = [x, y], or two or more distances to others")  # fmt: skip
    anchors = np.array(list(places.values()))
    extent = max((one.mm for one in scene.distances), default=1000.0)

    def at(values: Floats) -> dict[str, Floats]:
        moved = dict(zip(unknown, values.reshape(-1, 2), strict=True))
        return moved | {name: np.asarray(place) for name, place in places.items()}

    def misses(values: Floats) -> Floats:
        known = at(values)
        return np.array([np.linalg.norm(known[one.a] - known[one.b]) - one.mm for one in scene.distances])

    rng = np.random.default_rng(1)
    starts = [anchors.mean(axis=0) + rng.normal(0.0, extent, (len(unknown), 2)) for _ in range(_TRIES)]
    tried = [least_squares(misses, start.ravel()) for start in starts]
    ranked = sorted(tried, key=lambda one: float(one.cost))
    found = min(ranked[:4], key=lambda one: _turned_wrong(scene, at(one.x)) + float(one.cost) / (extent**2))
    return {name: (float(x), float(y)) for name, (x, y) in at(found.x).items() if name in unknown}


def _turned_wrong(scene: Scene, places: dict[str, Floats]) -> int:
    """How many triples of targets a picture (seen from above) shows turning the other way round than the places do."""
    import numpy as np

    wrong = 0
    for picture in scene.pictures:
        seen = scene.seen_in(picture.name)
        for triple in combinations(seen, 3):
            (a, b, c), (u, v, w) = ([places[one.target] for one in triple], [np.mean(one.px, axis=0) for one in triple])
            plan, shown = np.linalg.det([b - a, c - a]), np.linalg.det([v - u, w - u])
            wrong += plan * shown > 0.0
    return wrong


def first_turn_deg(target: Target, plane: Floats, one: Sighting) -> float:
    """How a marker's upper edge is turned in the plan, from its corners in a picture."""
    import numpy as np

    left, right = through(np.asarray(np.linalg.inv(plane)), np.asarray(one.px[:2], float))
    return float(np.degrees(np.arctan2(right[1] - left[1], right[0] - left[0])))
