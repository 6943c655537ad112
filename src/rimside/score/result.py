"""What reading a score gives: notes and figures."""

from __future__ import annotations

from dataclasses import dataclass

from rimside.score.model import Figure, Score


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A score and the figures made of it. What stayed unused is listed in `score.not_understood`."""

    score: Score
    figures: tuple[Figure, ...]
