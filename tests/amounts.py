"""How many random cases a test tries: a few by default, many in the long runs (`make soak`)."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import settings

random_cases = pytest.mark.random_cases
"""Marks a test that takes its number of cases from `few_or_many`, so that the long runs choose it too."""


def few_or_many(few: int, many: int) -> int:
    """The number of cases for this run."""
    return many if settings.get_current_profile_name() == "soak" else few


def seeds(few: int, many: int) -> list[Any]:
    """The numbers up to `many` for a parametrized test; those from `few` on are for the long runs."""
    return [*range(few), *(pytest.param(seed, marks=pytest.mark.soak) for seed in range(few, many))]
