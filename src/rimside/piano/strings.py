"""Published formulas of strings: mass, tension, inharmonicity, partials, impedance; wire sizes; published ranges."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rimside.errors import BadInput
from rimside.units import COPPER_KG_PER_M3, MM_PER_INCH, STEEL_KG_PER_M3, STEEL_YOUNG_PA

WRAP_PACKING = math.pi / 4.0
"""How much of the wrap's ring is copper: round wire laid turn by turn fills pi/4 of its square.
The same factor stands in the Fairchild hand-out (0.89 = 8960/7850 * pi/4), technicians' list, 2000-March/060485."""
_YOUNG_1952 = 3.4e13


def plain_linear_density_kg_per_m(wire_mm: float, density_kg_per_m3: float = STEEL_KG_PER_M3) -> float:
    """Mass of plain wire of a diameter, kg for each metre; steel unless another density is given."""
    return density_kg_per_m3 * math.pi * (wire_mm / 1000.0) ** 2 / 4.0


def wound_linear_density_kg_per_m(
    core_mm: float, wrap_mm: float, packing: float = WRAP_PACKING, core_kg_per_m3: float = STEEL_KG_PER_M3
) -> float:
    """Mass of a copper-wound string, kg for each metre.

    Parameters
    ----------
    core_mm : diameter of the core.
    wrap_mm : outer diameter of the wound string.
    packing : share of the ring between core and outer diameter that is copper.
    core_kg_per_m3 : density of the core, steel unless given.
    """
    ring_m2 = math.pi * (wrap_mm**2 - core_mm**2) / 4.0e6
    return plain_linear_density_kg_per_m(core_mm, core_kg_per_m3) + packing * COPPER_KG_PER_M3 * ring_m2


def tension_n(frequency_hz: float, length_mm: float, linear_density_kg_per_m: float) -> float:
    """Tension of one string, N: T = mu (2 L f)^2; for plain wire this is 24662 f^2 L^2 d^2 (Mas Cabre 2000)."""
    return linear_density_kg_per_m * (2.0 * frequency_hz * length_mm / 1000.0) ** 2


def inharmonicity_fletcher_1964(
    wire_mm: float, tension_n: float, length_mm: float, young_pa: float = STEEL_YOUNG_PA
) -> float:
    """The coefficient B of a pinned plain string, pi^3 E d^4 / (64 T L^2).

    For a wound string give the core's diameter and the real tension: the wrap adds mass and almost no stiffness.
    Bare ends of the core raise B above this. Source: H. Fletcher, JASA 36 (1964) 203.
    """
    return math.pi**3 * young_pa * (wire_mm / 1000.0) ** 4 / (64.0 * tension_n * (length_mm / 1000.0) ** 2)


def inharmonicity_young_1952_cents(partial: int, wire_mm: float, frequency_hz: float, length_mm: float) -> float:
    """How far a partial of plain wire lies above its harmonic, cents: 3.4e13 n^2 d^2 / (f^2 L^4), d and L in cm.

    Source: R. W. Young, JASA 24(3), May 1952, abstract. Small deviations only.
    """
    wire_cm, length_cm = wire_mm / 10.0, length_mm / 10.0
    return _YOUNG_1952 * (partial * wire_cm / (frequency_hz * length_cm**2)) ** 2


def partial_hz(flexible_hz: float, partial: int, inharmonicity: float) -> float:
    """Frequency of a partial, n f0 sqrt(1 + B n^2); f0 is the fundamental that a flexible string would have.

    Source: H. Fletcher, JASA 36 (1964) 203.
    """
    return partial * flexible_hz * math.sqrt(1.0 + inharmonicity * partial**2)


def flexible_hz(sounding_hz: float, inharmonicity: float) -> float:
    """The fundamental a flexible string would have, from the sounding first partial."""
    return sounding_hz / math.sqrt(1.0 + inharmonicity)


def inharmonicity_of_partial(partial: int, partial_hz: float, first_hz: float) -> float:
    """The coefficient B that one measured partial tells, from the first partial measured with it.

    The law of `partial_hz` turned round: with r = f_n / (n f_1), B = (r^2 - 1) / (n^2 - r^2).

    Raises
    ------
    BadInput : the first partial itself, or a pitch that no partial of this number can have.
    """
    if partial < 2:
        raise BadInput("a partial above the first is needed", value=partial, allowed="2 or more")
    ratio = partial_hz / (partial * first_hz)
    if not 1.0 <= ratio < partial:
        raise BadInput(
            "no partial of this number sounds there, Hz",
            where=f"partial {partial} over {first_hz:g} Hz",
            value=partial_hz,
            allowed=f"{partial * first_hz:g} or a little more",
            hint="is it another partial?",
        )
    return (ratio**2 - 1.0) / (partial**2 - ratio**2)


def plain_wire_mm(
    inharmonicity: float,
    flexible_hz: float,
    length_mm: float,
    density_kg_per_m3: float = STEEL_KG_PER_M3,
    young_pa: float = STEEL_YOUNG_PA,
) -> float:
    """The diameter of plain wire that has this B at this pitch and length, mm: B = pi^2 E d^2 / (64 rho f0^2 L^4)."""
    stiff_m = flexible_hz * (length_mm / 1000.0) ** 2
    return 1000.0 * 8.0 * stiff_m * math.sqrt(density_kg_per_m3 * inharmonicity / young_pa) / math.pi


def plain_length_mm(
    inharmonicity: float,
    flexible_hz: float,
    wire_mm: float,
    density_kg_per_m3: float = STEEL_KG_PER_M3,
    young_pa: float = STEEL_YOUNG_PA,
) -> float:
    """The length at which plain wire has this B at this pitch, mm: the same law, solved for the length."""
    square_m2 = math.pi * wire_mm / 8000.0 * math.sqrt(young_pa / (density_kg_per_m3 * inharmonicity)) / flexible_hz
    return 1000.0 * math.sqrt(square_m2)


def longitudinal_hz(young_pa: float, core_mm: float, linear_density_kg_per_m: float, length_mm: float) -> float:
    """The first mode along the string, Hz: sqrt(E S / mu) / (2 L), S of the core, which alone is stiff.

    About 2500 Hz over the length in m for plain steel (Conklin 1996). The winding's own stiffness is left out.
    """
    stiff_n = young_pa * math.pi * (core_mm / 1000.0) ** 2 / 4.0
    return math.sqrt(stiff_n / linear_density_kg_per_m) / (2.0 * length_mm / 1000.0)


def wave_impedance_kg_per_s(tension_n: float, linear_density_kg_per_m: float) -> float:
    """Wave impedance sqrt(T mu), kg/s (the same as N s/m)."""
    return math.sqrt(tension_n * linear_density_kg_per_m)


def young_pa_of_fairchild() -> float:
    """Young's modulus, Pa, that the American core formula Dc^4 / (81 L^2 T) cents implies (mils, inches, lbf).

    Source: the Fairchild hand-out, technicians' list, 2000-March/060485; about 203 GPa.
    """
    cents_of_b = 600.0 / math.log(2.0)
    pound_n, mil_m, inch_m = 4.4482216, MM_PER_INCH * 1e-6, MM_PER_INCH * 1e-3
    return 64.0 * pound_n * inch_m**2 / (math.pi**3 * mil_m**4 * 81.0 * cents_of_b)


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSize:
    """One size of music wire: the gauge number, and its diameter in the American and in the metric series."""

    gauge: float
    us_inch: float
    metric_mm: float

    @property
    def us_mm(self) -> float:
        """The American diameter, mm."""
        return self.us_inch * MM_PER_INCH


_SIZES = (
    (12, 0.029, 0.725),
    (12.5, 0.030, 0.750),
    (13, 0.031, 0.775),
    (13.5, 0.032, 0.800),
    (14, 0.033, 0.825),
    (14.5, 0.034, 0.850),
    (15, 0.035, 0.875),
    (15.5, 0.036, 0.900),
    (16, 0.037, 0.925),
    (16.5, 0.038, 0.950),
    (17, 0.039, 0.975),
    (17.5, 0.040, 1.000),
    (18, 0.041, 1.025),
    (18.5, 0.042, 1.050),
    (19, 0.043, 1.075),
    (19.5, 0.044, 1.100),
    (20, 0.045, 1.125),
    (20.5, 0.046, 1.150),
    (21, 0.047, 1.175),
    (21.5, 0.048, 1.200),
    (22, 0.049, 1.225),
    (23, 0.051, 1.300),
    (24, 0.055, 1.400),
    (25, 0.059, 1.500),
    (26, 0.063, 1.600),
)
WIRE_SIZES = tuple(WireSize(gauge=gauge, us_inch=inch, metric_mm=metric) for gauge, inch, metric in _SIZES)
"""Half gauges of music wire. Source: technicians' list, 2003-June/136827 (American and metric series side by side)."""


def nearest_wire_mm(wire_mm: float) -> float:
    """The metric size of music wire nearest to a diameter, mm."""
    return min((size.metric_mm for size in WIRE_SIZES), key=lambda metric_mm: abs(metric_mm - wire_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedRange:
    """Between which values published strings of a key lie: tension of one string (N) and B."""

    least_tension_n: float
    most_tension_n: float
    least_inharmonicity: float
    most_inharmonicity: float


PUBLISHED_MARGIN = 1.25
"""Our stated allowance on both ends: few pianos are published, and publications differ among themselves."""
_CHABASSIER = "Chabassier, Chaigne & Joly, JASA 134 (2013) 648 (274 cm)"
_WOODHOUSE = "Woodhouse, Euphonics 12.2.1, table 1 (an old grand)"
_RIGAUD = "Rigaud, David & Daudet, DAFx-11 (2011) 393"

_TENSIONS_N = (
    (1, 819.0, 1773.0, f"{_WOODHOUSE} C1; {_CHABASSIER} D#1"),
    (7, 819.0, 1773.0, f"{_WOODHOUSE} C1; {_CHABASSIER} D#1"),
    (16, 819.0, 1155.0, f"{_CHABASSIER} C2 915; {_WOODHOUSE} C1 and C2"),
    (24, 783.0, 1155.0, f"{_CHABASSIER} G#2; {_WOODHOUSE} C2"),
    (28, 755.0, 872.0, f"{_CHABASSIER} A3; {_WOODHOUSE} C3"),
    (40, 670.0, 766.0, f"Chaigne & Askenfelt, JASA 95 (1994) 1112, C4; {_CHABASSIER} F3"),
    (52, 627.0, 755.0, f"{_WOODHOUSE} C5; {_CHABASSIER} A3"),
    (64, 634.0, 757.0, f"{_WOODHOUSE} C6; Delacour, technicians' list 2002-May/108449, C6"),
    (76, 645.0, 757.0, f"{_WOODHOUSE} C7; Delacour 2002, C6"),
    (88, 631.0, 863.0, f"{_CHABASSIER} F#7; Fandrich, technicians' list 1998-June/000540, C8"),
)
_INHARMONICITIES = (
    (1, 7.0e-5, 5.3e-4, f"{_CHABASSIER} D#1; Fletcher, Blackham & Stratton, JASA 34 (1962) 749, A0"),
    (7, 7.0e-5, 4.0e-4, f"{_CHABASSIER} D#1; {_RIGAUD} C1"),
    (16, 5.0e-5, 2.2e-4, f"{_CHABASSIER} C2; {_WOODHOUSE} C2"),
    (24, 5.0e-5, 2.3e-4, f"{_CHABASSIER} C2; {_WOODHOUSE} C3"),
    (28, 7.0e-5, 2.3e-4, f"{_CHABASSIER} G#2; {_WOODHOUSE} C3"),
    (33, 1.66e-4, 2.3e-4, f"{_CHABASSIER} F3; {_WOODHOUSE} C3"),
    (37, 2.39e-4, 3.0e-4, f"{_CHABASSIER} A3; {_RIGAUD}"),
    (40, 3.27e-4, 3.77e-4, f"{_RIGAUD} C4; Chaigne & Askenfelt 1994 C4"),
    (52, 9.44e-4, 1.21e-3, f"{_RIGAUD} C5; {_WOODHOUSE} C5"),
    (60, 1.87e-3, 1.98e-3, f"{_CHABASSIER} G#5; {_RIGAUD}"),
    (64, 1.9e-3, 2.85e-3, f"a measured 211 cm grand (third party) C6; {_RIGAUD} C6"),
    (71, 4.9e-3, 5.0e-3, f"{_RIGAUD}; {_CHABASSIER} G6"),
    (76, 7.64e-3, 8.66e-3, f"{_CHABASSIER} C7; Bensa et al., JASA 114 (2003) 1095 C7"),
    (88, 2.0e-2, 2.63e-2, f"{_WOODHOUSE} C8; {_RIGAUD} C8"),
)


def published_range(key: int) -> PublishedRange:
    """The range of published strings near a key, log-interpolated between published keys, with `PUBLISHED_MARGIN`."""
    least_t, most_t = _between(_TENSIONS_N, key)
    least_b, most_b = _between(_INHARMONICITIES, key)
    return PublishedRange(
        least_tension_n=least_t / PUBLISHED_MARGIN,
        most_tension_n=most_t * PUBLISHED_MARGIN,
        least_inharmonicity=least_b / PUBLISHED_MARGIN,
        most_inharmonicity=most_b * PUBLISHED_MARGIN,
    )


def _between(rows: tuple[tuple[int, float, float, str], ...], key: int) -> tuple[float, float]:
    if not rows[0][0] <= key <= rows[-1][0]:
        raise ValueError(f"key {key} is outside 1..88")
    lower = max((row for row in rows if row[0] <= key), key=lambda row: row[0])
    upper = min((row for row in rows if row[0] >= key), key=lambda row: row[0])
    share = 0.0 if upper[0] == lower[0] else (key - lower[0]) / (upper[0] - lower[0])
    return _log_between(lower[1], upper[1], share), _log_between(lower[2], upper[2], share)


def _log_between(start: float, end: float, share: float) -> float:
    return math.exp((1.0 - share) * math.log(start) + share * math.log(end))
