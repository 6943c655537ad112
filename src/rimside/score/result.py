"""What reading a score gives: notes and figures."""

from __future__ import annotations

from dataclasses import dataclass

from rimside.score.instead import Instead
from rimside.score.model import Figure, Score


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A score and the figures made of it. What stayed unused is listed in `score.not_understood`.

    `instead` is the user's table of techniques that may stand in for others; it is applied on each piano anew.
    """

    score: Score
    figures: tuple[Figure, ...]
    instead: tuple[Instead, ...] = ()
