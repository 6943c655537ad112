"""What strings are made of: one row a material."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rimside.units import STEEL_KG_PER_M3, STEEL_YOUNG_PA


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One string material; `magnetic` tells whether a magnet pulls it. `strength_pa` None: by diameter, see strings."""

    name: str
    density_kg_per_m3: float
    young_pa: float
    strength_pa: float | None
    magnetic: bool
    source: str


MATERIALS: Mapping[str, Material] = {
    row.name: row
    for row in (
        Material(
            name="steel",
            density_kg_per_m3=STEEL_KG_PER_M3,
            young_pa=STEEL_YOUNG_PA,
            strength_pa=None,
            magnetic=True,
            source="music wire, see units; strength by diameter: ASTM A228",
        ),
        Material(
            name="iron",
            density_kg_per_m3=7850.0,
            young_pa=200.0e9,
            strength_pa=1.0e9,
            magnetic=True,
            source="drawn iron wire of old harpsichords; from memory, low end",
        ),
        Material(
            name="brass",
            density_kg_per_m3=8500.0,
            young_pa=105.0e9,
            strength_pa=0.75e9,
            magnetic=False,
            source="drawn yellow brass wire; from memory, low end",
        ),
        Material(
            name="nylon",
            density_kg_per_m3=1140.0,
            young_pa=4.5e9,
            strength_pa=0.3e9,
            magnetic=False,
            source="polyamide guitar strings; from memory, low end",
        ),
    )
}
"""Rows by name. What rests on memory says so."""
