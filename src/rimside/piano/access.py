"""Where along a course a hand or a tool may touch it: what struts, dampers and ends leave open."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Where along the speaking length a technique works.

    Shares count from the near end (0) to the far end (1). `clear_of_near_mm` and `clear_of_far_mm` keep away from the
    two ends, `clear_of_damper` from the felt, `half_width_mm` is half of what the tool and hand cover along the course.
    """

    from_share: float = 0.0
    to_share: float = 1.0
    clear_of_near_mm: float = 0.0
    clear_of_far_mm: float = 0.0
    clear_of_damper: bool = True
    half_width_mm: float = 15.0
