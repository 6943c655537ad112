"""What the user's techniques.toml lets another technique stand in for, as rows `[[instead]]`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rimside.score.model import Technique


class Because(StrEnum):
    """Why a technique does not suit on a piano: its course is wound or plain, or the owner has not allowed it."""

    WOUND = "wound"
    PLAIN = "plain"
    FORBIDDEN = "not allowed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Instead:
    """On courses or pianos where `because` holds, `use` instead of the written `technique`."""

    technique: Technique
    because: Because
    use: Technique
