"""All pictures, markers and tape readings at once: the lens, where each picture was taken, where every target lies.

One least-squares problem (a bundle adjustment): whatever is measured pulls as hard as its standard error says, so tape
errors are weighed against the picture and never copied into it. Source: Triggs et al., Bundle Adjustment: A Modern
Synthesis, 2000.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rimside.errors import BadInput
from rimside.piano.photo.lens import pose_of, seen_px
from rimside.piano.photo.markers import corners_mm
from rimside.piano.photo.scene import Picture, Scene, Sighting
from rimside.piano.photo.start import checked, first_places, first_planes, first_turn_deg

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FOCAL_SHARES = (0.55, 0.75, 1.0, 1.5)
"""First guesses of the focal length, in the longer side of the picture: a wide telephone lens to a long one."""
FOCAL_RANGE = (0.35, 6.0)
"""No camera that people carry has a wider or a longer lens. Our assumption."""
FOCAL_ERROR = 0.4
RADIAL_ERRORS = (0.15, 0.1)
"""How far lens terms usually lie from 0 (and the logarithm of the focal length from 0.75 sides), as standard errors.
Our assumption: it decides only what pictures with few markers leave open."""
SOFT = 2.0
"""Misses beyond this many standard errors pull less and less, so that one slip does not bend everything."""
LOOSE_MM = 50.0
"""A target whose place is left open by more than this is not fixed at all. Our assumption."""
DOUBT = 3.5
"""A reading this many of its standard errors away from all others is doubted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where one picture was taken from and through which lens, as numbers for `lens.seen_px`."""

    focal_px: float
    radial: tuple[float, float]
    turn: tuple[float, float, float]
    shift_mm: tuple[float, float, float]
    middle_px: tuple[float, float]

    def seen(self, points_mm: Floats) -> Floats:
        """Where the picture shows points (n x 3, mm, heights over the string plane): n x 2 pixels."""
        import numpy as np

        return seen_px(points_mm, self.focal_px, self.radial, np.array(self.turn), np.array(self.shift_mm),
                       np.array(self.middle_px))  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading that does not fit the others: what it is, by how much, and in its own standard errors."""

    what: str
    off: float
    unit: str
    sigmas: float


@dataclass(frozen=True, kw_only=True)
class Fit:
    """The answer. `values` and `covariance` are those of the whole problem, for `plane.error_mm`."""

    scene: Scene
    views: Mapping[str, View]
    places_mm: Mapping[str, tuple[float, float]]
    turns_deg: Mapping[str, float]
    rms_px: float
    doubts: tuple[Doubt, ...]
    problem: _Problem = field(repr=False)
    values: Floats = field(repr=False)
    covariance: Floats = field(repr=False)


def fit(scene: Scene) -> Fit:
    """Fit a scene.

    Raises
    ------
    BadInput : too few or flat targets, or something that nothing ties to the plan.
    """
    import numpy as np
    from scipy.optimize import least_squares

    checked(scene)
    problem = _Problem(scene=scene)
    places = first_places(scene)
    starts = [problem.first(places, share) for share in FOCAL_SHARES]
    how = {"x_scale": "jac", "loss": "soft_l1", "bounds": problem.bounds()}
    rough = [least_squares(problem.misses, start, max_nfev=10, **how) for start in starts]
    best = min(rough, key=lambda one: float(one.cost))
    done = least_squares(problem.misses, best.x, f_scale=SOFT, max_nfev=200, **how)
    spread = max(1.0, 2.0 * float(done.cost) / max(1, len(done.fun) - len(done.x)))
    covariance = _covariance(done.jac) * spread
    _check_fixed(problem, covariance)
    return Fit(
        scene=scene,
        views={picture.name: problem.view(done.x, picture) for picture in scene.pictures},
        places_mm={name: (float(done.x[at]), float(done.x[at + 1])) for name, at in problem.at_target.items()},
        turns_deg={name: float(np.degrees(done.x[at])) % 360.0 for name, at in problem.at_turn.items()},
        rms_px=float(np.sqrt(np.mean(np.square(problem.pixel_misses(done.x))))),
        doubts=tuple(problem.doubts(done.x)),
        problem=problem,
        values=done.x,
        covariance=covariance,
    )


def _covariance(slopes: Floats) -> Floats:
    """The inverse of the information, each number in its own unit; what nothing measures comes out huge."""
    import numpy as np

    information = slopes.T @ slopes
    unit = 1.0 / np.sqrt(np.diag(information) + 1e-12)
    scaled = information * np.outer(unit, unit) + 1e-10 * np.eye(len(unit))
    return np.asarray(np.linalg.inv(scaled) * np.outer(unit, unit))


def _check_fixed(problem: _Problem, covariance: Floats) -> None:
    """Refuse a target that may still lie anywhere: the loosest of those that no reading places."""
    errors_mm = {
        name: float(covariance[at, at] + covariance[at + 1, at + 1]) ** 0.5 for name, at in problem.at_target.items()
    }
    stated = {target.id for target in problem.scene.targets if target.at_mm is not None}
    name = max(errors_mm, key=lambda one: (one not in stated, errors_mm[one]))
    if any(not error_mm <= LOOSE_MM for error_mm in errors_mm.values()):
        raise BadInput(
            "the pictures and distances do not fix where it lies",
            where=f"marker or point {name}",
            allowed="at = [x, y], or more distances to different others",
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Corners:
    """The corners and points of one picture: which numbers place them, their own offsets, and where they are seen."""

    at: NDArray[np.intp]
    height: NDArray[np.intp]
    turn: NDArray[np.intp]
    local: Floats
    seen: Floats
    error_px: Floats

    def world(self, values: Floats) -> Floats:
        """n x 3, mm. A point's offset is 0, so its turn (any number) does not matter."""
        import numpy as np

        cos, sin, (u, v) = np.cos(values[self.turn]), np.sin(values[self.turn]), self.local.T
        x, y = values[self.at] + cos * u - sin * v, values[self.at + 1] + sin * u + cos * v
        return np.column_stack([x, y, values[self.height]])


@dataclass(kw_only=True)
class _Problem:
    """Which number stands where, and what each measurement misses by."""

    scene: Scene
    at_camera: dict[str, int] = field(default_factory=dict)
    at_picture: dict[str, int] = field(default_factory=dict)
    at_target: dict[str, int] = field(default_factory=dict)
    at_height: dict[str, int] = field(default_factory=dict)
    at_turn: dict[str, int] = field(default_factory=dict)
    corners: dict[str, _Corners] = field(default_factory=dict)
    size: int = 0

    def __post_init__(self) -> None:
        for picture in self.scene.pictures:
            if picture.camera not in self.at_camera:
                self.at_camera[picture.camera] = self._take(3)
            self.at_picture[picture.name] = self._take(6)
        for target in self.scene.targets:
            self.at_target[target.id] = self._take(2)
            self.at_height[target.id] = self._take(1)
            if target.side_mm is not None:
                self.at_turn[target.id] = self._take(1)
        for picture in self.scene.pictures:
            self.corners[picture.name] = self._corners(self.scene.seen_in(picture.name))

    def _corners(self, seen: tuple[Sighting, ...]) -> _Corners:
        import numpy as np

        rows = []
        for one in seen:
            side_mm, at = self.scene.target(one.target).side_mm, self.at_target[one.target]
            flat = [(0.0, 0.0)] if side_mm is None else corners_mm(side_mm, 0.0, 0.0, 0.0)
            turn = self.at_turn.get(one.target, at)
            rows += [(at, self.at_height[one.target], turn, *uv) for uv in flat]
        table = np.array(rows)
        places, heights, turns = (table[:, number].astype(int) for number in range(3))
        errors = np.repeat([one.error_px for one in seen], [2 * len(one.px) for one in seen])
        return _Corners(at=places, height=heights, turn=turns, local=table[:, 3:],
                        seen=np.concatenate([one.px for one in seen]), error_px=errors)  # fmt: skip

    def _take(self, count: int) -> int:
        self.size += count
        return self.size - count

    def first(self, places: dict[str, tuple[float, float]], focal_share: float) -> Floats:
        """The numbers to start from."""
        import numpy as np

        values = np.zeros(self.size)
        planes = first_planes(self.scene, places)
        for picture in self.scene.pictures:
            focal_px = focal_share * max(picture.width_px, picture.height_px)
            values[self.at_camera[picture.camera]] = np.log(focal_px)
            turn, shift = pose_of(planes[picture.name], focal_px, _middle(picture))
            at = self.at_picture[picture.name]
            values[at : at + 6] = [*turn, *shift]
        for name, place in places.items():
            values[self.at_target[name] : self.at_target[name] + 2] = place
            values[self.at_height[name]] = self.scene.target(name).above_mm
        for one in self.scene.sightings:
            if one.target in self.at_turn:
                turn_deg = first_turn_deg(self.scene.target(one.target), planes[one.picture], one)
                values[self.at_turn[one.target]] = np.radians(turn_deg)
        return values

    def bounds(self) -> tuple[Floats, Floats]:
        """Between what the numbers may lie: a focal length is that of a camera, everything else is free."""
        import numpy as np

        low, high = np.full(self.size, -np.inf), np.full(self.size, np.inf)
        for picture in self.scene.pictures:
            side, at = max(picture.width_px, picture.height_px), self.at_camera[picture.camera]
            low[at], high[at] = (float(np.log(share * side)) for share in FOCAL_RANGE)
        return low, high

    def view(self, values: Floats, picture: Picture) -> View:
        """How the numbers say a picture was taken."""
        import numpy as np

        lens, pose = self.at_camera[picture.camera], self.at_picture[picture.name]
        x, y = _middle(picture)
        a, b, c, d, e, f = (float(value) for value in values[pose : pose + 6])
        return View(
            focal_px=float(np.exp(values[lens])),
            radial=(float(values[lens + 1]), float(values[lens + 2])),
            turn=(a, b, c),
            shift_mm=(d, e, f),
            middle_px=(float(x), float(y)),
        )

    def misses(self, values: Floats) -> Floats:
        """Every measurement's miss in its own standard errors."""
        import numpy as np

        errors_px = np.concatenate([self.corners[picture.name].error_px for picture in self.scene.pictures])
        tape = [miss / error for _, miss, error in self._tape(values)]
        return np.concatenate([self.pixel_misses(values) / errors_px, tape, self._lens_misses(values)])

    def pixel_misses(self, values: Floats) -> Floats:
        """By how many pixels each corner and point is missed, x and y."""
        import numpy as np

        found = []
        for picture in self.scene.pictures:
            corners = self.corners[picture.name]
            found.append((self.view(values, picture).seen(corners.world(values)) - corners.seen).ravel())
        return np.concatenate(found)

    def _tape(self, values: Floats) -> Iterator[tuple[str, float, float]]:
        """What was measured with a tape: words, by how much it is missed, its standard error, mm."""
        import numpy as np

        for target in self.scene.targets:
            if target.at_mm is not None:
                at = self.at_target[target.id]
                for axis, number in (("x", 0), ("y", 1)):
                    yield f"{axis} of {target.id}", float(values[at + number] - target.at_mm[number]), target.error_mm
            off_mm = float(values[self.at_height[target.id]] - target.above_mm)
            yield f"height of {target.id}", off_mm, target.above_error_mm
        for one in self.scene.distances:
            a, b = self.at_target[one.a], self.at_target[one.b]
            apart_mm = float(np.hypot(*(values[a : a + 2] - values[b : b + 2])))
            yield f"distance {one.a} to {one.b}", apart_mm - one.mm, one.error_mm

    def _lens_misses(self, values: Floats) -> Floats:
        import numpy as np

        sides = {p.camera: max(p.width_px, p.height_px) for p in self.scene.pictures}
        return np.array([
            miss
            for camera, at in self.at_camera.items()
            for miss in (
                (values[at] - np.log(0.75 * sides[camera])) / FOCAL_ERROR,
                values[at + 1] / RADIAL_ERRORS[0],
                values[at + 2] / RADIAL_ERRORS[1],
            )
        ])  # fmt: skip

    def doubts(self, values: Floats) -> Iterator[Doubt]:
        """Readings and sightings that do not fit, the worst first."""
        import numpy as np

        found = [Doubt(what=what, off=miss, unit="mm", sigmas=abs(miss) / error) for what, miss, error in
                 self._tape(values)]  # fmt: skip
        for picture in self.scene.pictures:
            corners, first = self.corners[picture.name], 0
            off = np.linalg.norm(self.view(values, picture).seen(corners.world(values)) - corners.seen, axis=1)
            for one in self.scene.seen_in(picture.name):
                worst = float(np.max(off[first : first + len(one.px)]))
                first += len(one.px)
                what = f"{one.target} in {picture.name}"
                found.append(Doubt(what=what, off=worst, unit="px", sigmas=worst / one.error_px / 1.41))
        yield from sorted((one for one in found if one.sigmas > DOUBT), key=lambda one: -one.sigmas)


def _middle(picture: Picture) -> Floats:
    import numpy as np

    return np.array([(picture.width_px - 1) / 2.0, (picture.height_px - 1) / 2.0])
