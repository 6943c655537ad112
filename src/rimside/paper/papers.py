"""Sizes of paper."""

from __future__ import annotations

from collections.abc import Mapping

PAPERS_MM: Mapping[str, tuple[float, float]] = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
"""Width and height, upright. Sources: ISO 216:2007; ANSI/ASME Y14.1 size A."""
