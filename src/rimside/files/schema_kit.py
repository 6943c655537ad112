"""kit.toml: the implements, the measured times, and what this ensemble does otherwise than the technique table."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pydantic import Field

from rimside.casting.allowances import CHORE_S
from rimside.errors import BadInput
from rimside.files.names import checked, technique_named, unknown
from rimside.files.toml import Table
from rimside.kit import DEFAULT_PICK_S, DEFAULT_PUT_S, PERMISSIONS, TECHNIQUES, Kit, Stock, TechniqueRow, Times
from rimside.making import Making
from rimside.piano.access import Window
from rimside.pitch import Key, LabelScheme, parse
from rimside.score.model import Technique

FORMAT = "rimside-kit/1"
LONGEST_S = 120.0
"""A longer time for one pick-up, put-down, turn or settle is a slip (ms written for s). Our assumption."""


class ImplementTable(Table):
    """One [[implement]] of the file: a kind, how many, for what."""

    kind: str = Field(min_length=1)
    serves: list[str] = Field(min_length=1)
    count: int = Field(ge=0, le=1000)
    per_pitch: bool = False
    pitches: list[str] | None = None
    sides: int = Field(default=1, ge=1, le=2)
    fails_per_show: float | None = Field(default=None, ge=0.0, le=20.0)
    unit_cost: float | None = Field(default=None, ge=0.0)
    pick_s: float | None = Field(default=None, ge=0.0, le=LONGEST_S)
    put_s: float | None = Field(default=None, ge=0.0, le=LONGEST_S)


class TimesTable(Table):
    """[times]: what a rehearsal measured; anything absent keeps its default."""

    walk_mm_per_s: float | None = Field(default=None, ge=50.0, le=4000.0)
    turn_s: float | None = Field(default=None, ge=0.0, le=LONGEST_S)
    settle_s: float | None = Field(default=None, ge=0.0, le=LONGEST_S)
    chores: dict[str, float] = Field(default_factory=dict)


class BuildTable(Table):
    """[build]: the workshop's measures; anything absent keeps its default (`rimside.making`)."""

    hands_apart_mm: float | None = Field(default=None, gt=0.0, le=1000.0)
    working_height_mm: float | None = Field(default=None, gt=0.0, le=1000.0)
    stroke_mm: float | None = Field(default=None, ge=0.0, le=2000.0)
    handle_mm: float | None = Field(default=None, ge=0.0, le=500.0)
    strands: int | None = Field(default=None, ge=1, le=100)
    cut_mm: float | None = Field(default=None, gt=0.0, le=1000.0)
    stick_mm: float | None = Field(default=None, gt=0.0, le=1000.0)
    hair_mm: float | None = Field(default=None, gt=0.0, le=50.0)
    strip_width_mm: float | None = Field(default=None, gt=0.0, le=100.0)
    strip_mm: float | None = Field(default=None, gt=0.0, le=2000.0)
    hammer_mm: float | None = Field(default=None, gt=0.0, le=1000.0)
    clear_of_rim_mm: float | None = Field(default=None, ge=0.0, le=500.0)
    mute_over_mm: float | None = Field(default=None, ge=0.0, le=50.0)
    mute_along_mm: float | None = Field(default=None, gt=0.0, le=300.0)
    mute_thick_mm: float | None = Field(default=None, gt=0.0, le=100.0)
    putty_g_per_cm3: float | None = Field(default=None, gt=0.2, le=10.0)
    putty_waste: float | None = Field(default=None, ge=0.0, le=2.0)
    spare_risk: float | None = Field(default=None, gt=0.0, lt=1.0)


class WindowTable(Table):
    """Where along a string a technique works; anything absent keeps the technique table's value."""

    from_share: float | None = Field(default=None, ge=0.0, le=1.0)
    to_share: float | None = Field(default=None, ge=0.0, le=1.0)
    clear_of_near_mm: float | None = Field(default=None, ge=0.0, le=2500.0)
    clear_of_far_mm: float | None = Field(default=None, ge=0.0, le=2500.0)
    clear_of_damper: bool | None = None
    half_width_mm: float | None = Field(default=None, ge=0.0, le=200.0)


class RowTable(Table):
    """[technique."..."]: fields of the technique table that this ensemble replaces."""

    hands: int | None = Field(default=None, ge=0, le=2)
    fits: str | None = None
    window: WindowTable | None = None
    repeat_limit_hz: float | None = Field(default=None, gt=0.0, le=30.0)
    neighbours: int | None = Field(default=None, ge=1, le=10)
    span_keys: int | None = Field(default=None, ge=1, le=20)
    damper_up: bool | None = None
    put_down_noise: str | None = None
    permission: str | None = None
    cautions: list[str] | None = None
    source: str = "this ensemble's kit file"


class KitTable(Table):
    """The whole file."""

    format: str
    line_bow_hands: int = Field(default=2, ge=1, le=2)
    times: TimesTable = Field(default_factory=TimesTable)
    implement: list[ImplementTable] = Field(default_factory=list)
    technique: dict[str, RowTable] = Field(default_factory=dict)
    build: BuildTable = Field(default_factory=BuildTable)


def kit_from_toml(data: bytes, where: str = "kit.toml", scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> Kit:
    """The kit of a kit file; pitches are read in the production's label scheme.

    Times that nobody measured are the defaults of `rimside.kit`; `Kit.times.measured` names the others
    ("turn_s", "pick_s of stick bow").

    Raises
    ------
    BadInput : a slip in the file, a kind listed twice, an unknown technique, a pitch that is no label of the scheme.
    """
    table = checked(KitTable, data, where, FORMAT)
    stock = tuple(_stock(row, f"{where}, implement {row.kind}", scheme) for row in table.implement)
    kinds = [row.kind for row in stock]
    for kind in kinds:
        if kinds.count(kind) > 1:
            raise BadInput("one kind of implement is listed twice", where=where, value=kind, hint="add up the counts")
    return Kit(
        stock=stock,
        times=_times(table.times, stock, where),
        line_bow_hands=table.line_bow_hands,
        rows=_rows(table.technique, where),
        making=_making(table.build),
    )


def _making(table: BuildTable) -> Making:
    given = table.model_dump(exclude_none=True)
    return Making(**given, given=frozenset(given))


def _stock(row: ImplementTable, where: str, scheme: LabelScheme) -> Stock:
    serves = frozenset(technique_named(text, f"{where}, serves") for text in row.serves)
    bare = next((technique.value for technique in sorted(serves) if not TECHNIQUES[technique].implement), None)
    if bare is not None:
        raise BadInput("this technique uses no implement", where=f"{where}, serves", value=bare)
    if row.pitches is not None and not row.per_pitch:
        raise BadInput("pitches only go with per_pitch = true", where=where)
    return Stock(
        kind=row.kind,
        serves=serves,
        count=row.count,
        per_pitch=row.per_pitch,
        pitches=None if row.pitches is None else frozenset(_key(text, scheme, where) for text in row.pitches),
        sides=row.sides,
        fails_per_show=row.fails_per_show,
        unit_cost=row.unit_cost,
        pick_s=row.pick_s,
        put_s=row.put_s,
    )


def _key(text: str, scheme: LabelScheme, where: str) -> Key:
    try:
        return parse(text, scheme)
    except BadInput as slip:
        raise slip.at(f"{where}, pitches") from slip


def _times(table: TimesTable, stock: tuple[Stock, ...], where: str) -> Times:
    general = table.model_dump(exclude_none=True, exclude={"chores"})
    measured = {*general, *(f"chore_s of {kind}" for kind in table.chores)}
    _check_chores(table.chores, f"{where}, times.chores")
    for name in ("pick_s", "put_s"):
        measured |= {f"{name} of {row.kind}" for row in stock if getattr(row, name) is not None}
    return Times(
        **general,
        pick_s={row.kind: DEFAULT_PICK_S if row.pick_s is None else row.pick_s for row in stock},
        put_s={row.kind: DEFAULT_PUT_S if row.put_s is None else row.put_s for row in stock},
        chore_s=dict(table.chores),
        measured=frozenset(measured),
    )


def _check_chores(chores: dict[str, float], where: str) -> None:
    timed = [kind.value for kind in CHORE_S]
    for kind, time_s in chores.items():
        if kind not in timed:
            raise unknown("kind of chore", kind, timed, where)
        if not 0.0 < time_s <= LONGEST_S:
            allowed = f"more than 0, up to {LONGEST_S:g} s"
            raise BadInput("a chore cannot take so long", where=f"{where}, {kind}", value=time_s, allowed=allowed)


def _rows(tables: dict[str, RowTable], where: str) -> dict[Technique, TechniqueRow]:
    rows = dict(TECHNIQUES)
    for name, table in tables.items():
        technique = technique_named(name, f"{where}, technique")
        rows[technique] = _row(rows[technique], table, f"{where}, technique {name}")
    return rows


_CHOICES = {
    "fits": ("plain", "wound", "any", "spot"),
    "put_down_noise": ("silent", "soft", "loud"),
    "permission": tuple(PERMISSIONS),
}


def _row(row: TechniqueRow, table: RowTable, where: str) -> TechniqueRow:
    """A row of the technique table with the fields that the ensemble replaced."""
    changes: dict[str, Any] = table.model_dump(exclude_none=True, exclude={"window"})
    for name, allowed in _CHOICES.items():
        if changes.get(name, allowed[0]) not in allowed:
            raise unknown(name, changes[name], allowed, where)
    if "cautions" in changes:
        changes["cautions"] = (*row.cautions, *changes["cautions"])
    if table.window is not None:
        changes["window"] = _window(row.window, table.window, f"{where}, window")
    return replace(row, **changes)


def _window(window: Window, table: WindowTable, where: str) -> Window:
    changed = replace(window, **table.model_dump(exclude_none=True))
    if changed.from_share >= changed.to_share:
        raise BadInput(
            "the window is empty", where=where, value=changed.from_share, allowed="from_share below to_share"
        )
    return changed
