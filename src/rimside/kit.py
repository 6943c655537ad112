"""With what: the table of techniques, the implements of the ensemble, and how long a change takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rimside.errors import BadInput
from rimside.making import Making
from rimside.piano.access import Window
from rimside.piano.access_map import Hand
from rimside.piano.nodes import FINGER
from rimside.pitch import Key
from rimside.score.model import Technique
from rimside.units import tmu_s

COMMON_PRACTICE = "common practice, no published source"

PERMISSIONS: Mapping[str, str] = {
    "rosin": "rosined lines or hair on plain strings",
    "rubber": "rubber strips on wound strings",
    "hammers": "soft or hard hammers on strings",
    "plectra": "fingers and plectra on strings",
    "touch": "fingers touching strings",
    "beaters": "beaters on frame, case or soundboard, spot by spot",
    "mutes": "moulded mutes on strings",
    "preparation": "objects laid on or between strings",
    "magnets": "electromagnets over the strings",
    "wedge": "a pedal held down by a wedge",
    "marks": "removable marks on dampers and struts",
}
"""What an owner may allow or forbid, and what it means."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TechniqueRow:
    """What one technique asks of hands, strings, tools and owners.

    `fits` is "plain", "wound" or "any" course, or "spot". `repeat_limit_hz` is for one hand. `neighbours` is how many
    neighbouring courses one hand sounds at once. `span_keys` is how far a hand stretches on the keyboard.
    """

    technique: Technique
    hands: int
    implement: bool
    fits: str
    window: Window = field(default_factory=Window)
    repeat_limit_hz: float
    neighbours: int = 1
    span_keys: int = 1
    damper_up: bool = True
    at_keyboard: bool = False
    put_down_noise: str = "soft"
    permission: str | None = None
    cautions: tuple[str, ...] = ()
    source: str = COMMON_PRACTICE


ROSIN_CLEAR_OF_NEAR_MM = 120.0
"""Rosined techniques stay this far from the near end: dust falls into the action below it.
Fact: a piano technicians' list, May 2000 (2000-May/002512); the distance itself is our assumption."""

_ROSIN = Window(clear_of_near_mm=ROSIN_CLEAR_OF_NEAR_MM, clear_of_far_mm=15.0)
_STRIKE = Window(clear_of_near_mm=15.0, clear_of_far_mm=30.0)
_PLUCK = Window(clear_of_near_mm=10.0, clear_of_far_mm=15.0)
_ROSIN_CAUTION = "Rosin only on the line or hair, never on the string; wipe the dust; no solvents."
_HAND_RATE_HZ = 6.0
"""Fast repeated strokes of one hand: 5 to 7 Hz. Source: Fujii, Kudo, Ohtsuki & Oda, Neurosci. Lett. 459 (2009)."""
_RATE_SOURCE = f"hands and fit: {COMMON_PRACTICE}; rate: Fujii, Kudo, Ohtsuki & Oda 2009"

TECHNIQUES: Mapping[Technique, TechniqueRow] = {
    row.technique: row
    for row in (
        TechniqueRow(
            technique=Technique.LINE_BOW,
            hands=2,
            implement=True,
            fits="plain",
            window=_ROSIN,
            repeat_limit_hz=4.0,
            permission="rosin",
            cautions=(_ROSIN_CAUTION, "Pull upward gently: a line under tension can cut a hand."),
        ),
        TechniqueRow(
            technique=Technique.STICK_BOW,
            hands=1,
            implement=True,
            fits="plain",
            window=_ROSIN,
            repeat_limit_hz=4.0,
            neighbours=2,
            permission="rosin",
            cautions=(_ROSIN_CAUTION,),
        ),
        TechniqueRow(
            technique=Technique.FRICTION_STRIP,
            hands=2,
            implement=True,
            fits="wound",
            window=Window(clear_of_near_mm=ROSIN_CLEAR_OF_NEAR_MM, clear_of_far_mm=40.0, half_width_mm=20.0),
            repeat_limit_hz=4.0,
            permission="rubber",
            cautions=("No rosin and no damp hands on wound strings.",),
        ),
        TechniqueRow(
            technique=Technique.FELT_HAMMER,
            hands=1,
            implement=True,
            fits="any",
            window=_STRIKE,
            repeat_limit_hz=_HAND_RATE_HZ,
            permission="hammers",
            source=_RATE_SOURCE,
        ),
        TechniqueRow(
            technique=Technique.WOOD_HAMMER,
            hands=1,
            implement=True,
            fits="any",
            window=_STRIKE,
            repeat_limit_hz=_HAND_RATE_HZ,
            put_down_noise="loud",
            permission="hammers",
            cautions=("Nothing harder than the string touches it; never strike dampers or plate.",),
            source=_RATE_SOURCE,
        ),
        TechniqueRow(
            technique=Technique.BEATER,
            hands=1,
            implement=True,
            fits="spot",
            repeat_limit_hz=_HAND_RATE_HZ,
            damper_up=False,
            permission="beaters",
            cautions=("Strike only the spots that the owner allowed.",),
            source=_RATE_SOURCE,
        ),
        TechniqueRow(
            technique=Technique.FINGER_PLUCK,
            hands=1,
            implement=False,
            fits="any",
            window=_PLUCK,
            repeat_limit_hz=5.0,
            put_down_noise="silent",
            permission="plectra",
            cautions=("Dry hands or gloves: skin oil marks strings.",),
        ),
        TechniqueRow(
            technique=Technique.PLECTRUM,
            hands=1,
            implement=True,
            fits="any",
            window=_PLUCK,
            repeat_limit_hz=5.0,
            permission="plectra",
        ),
        TechniqueRow(
            technique=Technique.HANDLED_PLECTRUM,
            hands=1,
            implement=True,
            fits="any",
            window=_PLUCK,
            repeat_limit_hz=10.0,
            permission="plectra",
        ),
        TechniqueRow(
            technique=Technique.KEYS,
            hands=1,
            implement=False,
            fits="any",
            repeat_limit_hz=_HAND_RATE_HZ,
            neighbours=5,
            span_keys=14,
            damper_up=False,
            at_keyboard=True,
            put_down_noise="silent",
            source=_RATE_SOURCE,
        ),
        TechniqueRow(
            technique=Technique.MAGNET_DRIVE,
            hands=0,
            implement=True,
            fits="any",
            repeat_limit_hz=1.0,
            put_down_noise="silent",
            permission="magnets",
            cautions=("Hot coils and mains: a licensed electrician checks the set-up.",),
        ),
    )
}
"""Every technique's row. Trade facts are common practice, no published source, unless a row says otherwise."""

TOUCH = "touch"
"""A finger on a string, where a technique is asked for."""
HANDS: Mapping[str, Hand] = {
    **{
        technique.value: Hand(name=technique.value, window=row.window, fits=row.fits)
        for technique, row in TECHNIQUES.items()
        if row.fits != "spot" and not row.at_keyboard
    },
    TOUCH: Hand(name=TOUCH, window=FINGER),
}
"""What works on strings, by the technique's name, and a finger that touches them."""
MAPPED = ("line bow", "stick bow", "friction strip", "felt hammer", TOUCH)
"""Those that a map of access shows; the others' windows are alike or nearly so."""

HAND_CLEARANCE_MM = 96.0
"""Between hands of two players. Source: hand breadth, 95th percentile of men, ANSUR II."""
OWN_HANDS_CLEARANCE_MM = 45.0
"""Between the two hands of one player, who can nest them. Our assumption."""
TARGET_WIDTH_MM = 14.0
"""Width of one course as a target for a hand: mean pitch per key at the hammers, 1225/88 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """What the ensemble owns of one kind of implement.

    `serves` are the techniques it plays. For kinds that belong to one pitch (`per_pitch`), `count` is how many there
    are for each pitch in `pitches`, or for every pitch when `pitches` is None. Times in s are None until measured,
    `fails_per_show` until it was counted, `unit_cost` (in the user's money) until somebody writes it.
    """

    kind: str
    serves: frozenset[Technique]
    count: int
    per_pitch: bool = False
    pitches: frozenset[Key] | None = None
    sides: int = 1
    fails_per_show: float | None = None
    unit_cost: float | None = None
    pick_s: float | None = None
    put_s: float | None = None

    def __post_init__(self) -> None:
        if self.count < 0:
            raise BadInput("count cannot be negative", where=f"implement {self.kind}", value=self.count)


@dataclass(frozen=True, slots=True, kw_only=True)
class Implement:
    """One thing with its own rest: where it lives inside the piano, in plan mm.

    A line bow lives threaded at its course: `key` and `from_near_end_mm` say where.
    """

    id: str
    kind: str
    rest_x_mm: float
    rest_y_mm: float
    key: Key | None = None
    from_near_end_mm: float | None = None


ALLOWANCE = 1.5
"""On motion-time values, which hold for trained repetitive work: our stated allowance for a concert in dim light."""
DEFAULT_PICK_S = ALLOWANCE * tmu_s(7.3 + 12.9 + 2.0)
"""Eye focus, reach 12 in (case B), grasp G1A. Source: MTM-1 values, Maynard et al. 1948 (see tests/outside)."""
DEFAULT_PUT_S = ALLOWANCE * tmu_s(12.9 + 2.0)
"""Reach 12 in (case B) as the way back, release RL1. Source: MTM-1 values, Maynard et al. 1948."""
DEFAULT_TURN_S = ALLOWANCE * tmu_s(18.6)
"""Turn the body 45 to 90 degrees, case 1. Source: MTM-1 data card."""
DEFAULT_SETTLE_S = 0.2
"""Coming to rest before the first stroke. Our assumption; measure it."""
DEFAULT_WALK_MM_PER_S = 1350.0 / ALLOWANCE
"""Unloaded walking 1.35 m/s (published studies), slowed by the allowance for a crowded rim."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """How long a change takes. `measured` names the entries that a rehearsal replaced.

    `chore_s` holds the kinds of chore that were measured; the others keep their defaults (`casting/allowances.py`).
    """

    walk_mm_per_s: float = DEFAULT_WALK_MM_PER_S
    turn_s: float = DEFAULT_TURN_S
    settle_s: float = DEFAULT_SETTLE_S
    pick_s: Mapping[str, float] = field(default_factory=dict)
    put_s: Mapping[str, float] = field(default_factory=dict)
    chore_s: Mapping[str, float] = field(default_factory=dict)
    measured: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """All implements of the ensemble and the times that go with them.

    `line_bow_hands` may be 1 for ensembles whose players draw a line with one hand.
    """

    stock: tuple[Stock, ...]
    times: Times = field(default_factory=Times)
    line_bow_hands: int = 2
    rows: Mapping[Technique, TechniqueRow] = field(default_factory=lambda: dict(TECHNIQUES))
    making: Making = field(default_factory=Making)

    def serving(self, technique: Technique) -> tuple[Stock, ...]:
        """The kinds that can play a technique, in the order of the kit file."""
        return tuple(stock for stock in self.stock if technique in stock.serves)

    def pick_s(self, kind: str) -> float:
        """Time to pick up a kind, s: measured for the kind, else of the times table, else the default."""
        own = [stock.pick_s for stock in self.stock if stock.kind == kind]
        return self._time_s(own, self.times.pick_s.get(kind), DEFAULT_PICK_S)

    def put_s(self, kind: str) -> float:
        """Time to put down a kind, s, found likewise."""
        own = [stock.put_s for stock in self.stock if stock.kind == kind]
        return self._time_s(own, self.times.put_s.get(kind), DEFAULT_PUT_S)

    @staticmethod
    def _time_s(of_stock_s: list[float | None], of_times_s: float | None, default_s: float) -> float:
        return next((value for value in (*of_stock_s, of_times_s) if value is not None), default_s)
