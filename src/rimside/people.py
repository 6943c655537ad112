"""Who plays: bodies, reach, skills, colours."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rimside.errors import BadInput
from rimside.score.model import Technique
from rimside.units import FITTS_1954_MS as FITTS_1954_MS
from rimside.units import fitts_s as fitts_s

SHOULDER_HEIGHT_SHARE = 0.820
"""Acromial height over stature. Source: ANSUR II (Gordon et al. 2014), both sexes."""
HIP_HEIGHT_SHARE = 0.515
"""Trochanterion height over stature. Source: ANSUR II means, 900.93/1756.21 and 845.35/1628.47."""
SHOULDER_BREADTH_SHARE = 0.291
"""Bideltoid breadth over stature, the larger (male) ratio. Source: ANSUR II means."""
ARM_SHARE = 0.403
"""Shoulder to grip over stature. Source: ANSUR II means, 712.7/1756.21 and 652.0/1628.47 (0.406 and 0.400)."""
COMFORTABLE_LEAN_DEG = 20.0
FULL_LEAN_DEG = 45.0
SHOE_MM = 25.0
"""Added to heights of the body. Source: the allowance used with ANSUR II in reach studies; our assumption."""
LEAN_LIMIT_S = 60.0
"""Longest single figure played at full lean. Our assumption, no published source; replace it by a habit."""
STATURE_RANGE_MM = (1300.0, 2200.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far a player's hand gets from the body's centre line over a level surface, mm."""

    comfortable_mm: float
    full_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One member of the ensemble.

    `measured_reach_mm` (comfortable, full) replaces the estimate from stature. `skills` None means every technique.
    `sign` is the letter or shape that always stands beside the colour.
    """

    id: str
    name: str
    stature_mm: float
    measured_reach_mm: tuple[float, float] | None = None
    measured_breadth_mm: float | None = None
    colour: str
    colour_name: str
    sign: str
    skills: frozenset[Technique] | None = None
    colour_vision: str = "full"
    habits: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        low, high = STATURE_RANGE_MM
        if not low <= self.stature_mm <= high:
            raise BadInput(
                "stature_mm is outside the possible range",
                where=f"player {self.name}",
                value=self.stature_mm,
                allowed=f"{low:.0f} to {high:.0f}",
                hint="was it given in cm or m?",
            )

    @property
    def shoulder_height_mm(self) -> float:
        """Floor to shoulder, mm, standing upright in shoes."""
        return SHOULDER_HEIGHT_SHARE * self.stature_mm + SHOE_MM

    @property
    def shoulder_breadth_mm(self) -> float:
        """Breadth across the upper arms, mm, measured or from stature."""
        return self.measured_breadth_mm or SHOULDER_BREADTH_SHARE * self.stature_mm

    def plays(self, technique: Technique) -> bool:
        """Whether the player does this technique."""
        return self.skills is None or technique in self.skills

    def reach(self, surface_height_mm: float) -> Reach:
        """Reach over a level surface, measured or estimated from stature."""
        if self.measured_reach_mm is not None:
            return Reach(comfortable_mm=self.measured_reach_mm[0], full_mm=self.measured_reach_mm[1])
        comfortable, full = (
            lean_reach_mm(self.stature_mm, surface_height_mm, lean) for lean in (COMFORTABLE_LEAN_DEG, FULL_LEAN_DEG)
        )
        return Reach(comfortable_mm=comfortable, full_mm=max(comfortable, full))


def level_reach_mm(arm_mm: float, shoulder_height_mm: float, surface_height_mm: float) -> float:
    """Horizontal reach without leaning: sqrt(L^2 - (S - h)^2), 0 when the surface is out of arm's length.

    Source: Pheasant & Haslegrave, Bodyspace, zone of convenient reach; Armstrong, University of Michigan.
    """
    drop = shoulder_height_mm - surface_height_mm
    return math.sqrt(max(0.0, arm_mm**2 - drop**2))


def lean_reach_mm(stature_mm: float, surface_height_mm: float, lean_deg: float) -> float:
    """Reach with the trunk tipped forward about the hip; our own model (declared), fractions from ANSUR II."""
    hip = HIP_HEIGHT_SHARE * stature_mm + SHOE_MM
    shoulder = SHOULDER_HEIGHT_SHARE * stature_mm + SHOE_MM
    lean = math.radians(lean_deg)
    tipped = hip + (shoulder - hip) * math.cos(lean)
    level = level_reach_mm(ARM_SHARE * stature_mm, tipped, surface_height_mm)
    return level + (shoulder - hip) * math.sin(lean) if level > 0 else 0.0
