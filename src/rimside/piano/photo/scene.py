"""What was photographed and measured: targets, where pictures show them, and distances between them."""

from __future__ import annotations

from dataclasses import dataclass

Pixel = tuple[float, float]

TAPE_MM = 1.5
"""Standard error of a tape reading inside a piano, unless a reading says otherwise. Our assumption."""
HEIGHT_MM = 1.0
"""Standard error of a target's height over the string plane, unless stated. Our assumption."""
CORNER_PX = 0.3
"""Standard error of a marker's corner in a sharp picture. Our assumption; simulated pictures give 0.1 to 0.3."""
CLICK_PX = 2.0
"""Standard error of a point that a person points at. Our assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A marker or a point of the piano. `at_mm` is its stated place in the plan, None when only distances are known.

    `above_mm` is its height over the string plane, `side_mm` the side of a marker (None for a point), `error_mm` and
    `above_error_mm` the standard errors of its place and height.
    """

    id: str
    at_mm: tuple[float, float] | None = None
    error_mm: float = TAPE_MM
    above_mm: float = 0.0
    above_error_mm: float = HEIGHT_MM
    side_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """Where a picture shows a target: four corners of a marker, or one point."""

    picture: str
    target: str
    px: tuple[Pixel, ...]
    error_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """A tape reading between the middles of two targets, level."""

    a: str
    b: str
    mm: float
    error_mm: float = TAPE_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One photograph. Those of one `camera` share its lens; another zoom is another camera."""

    name: str
    camera: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything that a fit is made from."""

    pictures: tuple[Picture, ...]
    targets: tuple[Target, ...]
    sightings: tuple[Sighting, ...]
    distances: tuple[Distance, ...] = ()

    def target(self, name: str) -> Target:
        """A target by its id; KeyError when there is none."""
        for one in self.targets:
            if one.id == name:
                return one
        raise KeyError(name)

    def seen_in(self, picture: str) -> tuple[Sighting, ...]:
        """What one picture shows."""
        return tuple(one for one in self.sightings if one.picture == picture)
