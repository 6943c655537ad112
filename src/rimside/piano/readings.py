"""What a person reads off an unknown grand with a tape and a gauge: which readings there are, how sure, what is a slip.

A reading has a name ("length_21": the speaking length of key 21), a value in mm and a standard error. Which twenty to
take, and in which order, is told by `steps`; any other of the names may be read besides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from rimside.errors import BadInput
from rimside.units import FIRST_KEY, LAST_KEY

STRUT_PARTS = ("near_x", "near_y", "far_x", "far_y", "width")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of reading: how it is taken, its usual standard error, and what is possible.

    `least_mm` and `most_mm` bound the value itself; with `about` they are what it may lie below and above (or, with
    `about` "share", times) the value expected. Errors and bounds are our assumptions.
    """

    name: str
    what: str
    how: str
    plus_minus_mm: float
    least_mm: float
    most_mm: float
    about: str = ""


KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            name="length",
            what="length of the piano",
            how="front edge of the case to the end of the tail, beside the straight side",
            plus_minus_mm=4.0,
            least_mm=1300,
            most_mm=3150,
        ),
        Kind(
            name="width",
            what="width of the case",
            how="outer side to outer side, across the arms, level with the keys",
            plus_minus_mm=3.0,
            least_mm=1300,
            most_mm=1700,
        ),
        Kind(
            name="left_cheek",
            what="key 1 to the straight side",
            how="bass edge of key 1 to the outer face of the straight side",
            plus_minus_mm=2.0,
            least_mm=40,
            most_mm=300,
        ),
        Kind(
            name="right_cheek",
            what="key 88 to the other side",
            how="treble edge of key 88 to the outer face of the case",
            plus_minus_mm=2.0,
            least_mm=40,
            most_mm=300,
        ),
        Kind(
            name="rim_height",
            what="height of the rim",
            how="floor to the top edge of the case, plumb",
            plus_minus_mm=3.0,
            least_mm=850,
            most_mm=1150,
        ),
        Kind(
            name="key_height",
            what="height of the keys",
            how="floor to the top of the white keys, plumb",
            plus_minus_mm=3.0,
            least_mm=600,
            most_mm=850,
        ),
        Kind(
            name="string_height",
            what="height of the strings",
            how="rim height less the depth of key 40's string under a straight edge on the rim",
            plus_minus_mm=4.0,
            least_mm=750,
            most_mm=1050,
        ),
        Kind(
            name="bass_height",
            what="height of the bass strings",
            how="rim height less the depth of key 10's string under a straight edge on the rim",
            plus_minus_mm=4.0,
            least_mm=750,
            most_mm=1080,
        ),
        Kind(
            name="length_K",
            what="speaking length of key {key}",
            how="agraffe or capo to the bridge pin, cloth or wooden tape just above the string",
            plus_minus_mm=2.0,
            least_mm=0.6,
            most_mm=1.6,
            about="share",
        ),
        Kind(
            name="near_x_K",
            what="near end of key {key}, from the bass end",
            how="bass edge of key 1 to the near end, along the keyboard",
            plus_minus_mm=3.0,
            least_mm=120,
            most_mm=120,
            about="expected",
        ),
        Kind(
            name="near_y_K",
            what="near end of key {key}, from the front",
            how="front edge of the white keys to the near end, at right angles to the keyboard",
            plus_minus_mm=3.0,
            least_mm=150,
            most_mm=150,
            about="expected",
        ),
        Kind(
            name="far_x_K",
            what="far end of key {key}, from the bass end",
            how="line of the bass edge of key 1 to the bridge pin, along the keyboard",
            plus_minus_mm=5.0,
            least_mm=350,
            most_mm=350,
            about="expected",
        ),
        Kind(
            name="far_y_K",
            what="far end of key {key}, from the front",
            how="front edge of the white keys to the bridge pin, at right angles to the keyboard",
            plus_minus_mm=5.0,
            least_mm=0.6,
            most_mm=1.5,
            about="share",
        ),
        Kind(
            name="damper_K",
            what="damper line at key {key}",
            how="front edge of the white keys to the middle of the felt, pedals at rest",
            plus_minus_mm=3.0,
            least_mm=150,
            most_mm=150,
            about="expected",
        ),
        Kind(
            name="strut_K_near_x",
            what="start of the strut after key {key}, from the bass end",
            how="bass edge of key 1 to the middle of the bar where it begins",
            plus_minus_mm=4.0,
            least_mm=-200,
            most_mm=1500,
        ),
        Kind(
            name="strut_K_near_y",
            what="start of the strut after key {key}, from the front",
            how="front edge of the white keys to where the bar begins",
            plus_minus_mm=4.0,
            least_mm=100,
            most_mm=900,
        ),
        Kind(
            name="strut_K_far_x",
            what="end of the strut after key {key}, from the bass end",
            how="line of the bass edge of key 1 to the middle of the bar's end towards the tail",
            plus_minus_mm=5.0,
            least_mm=-200,
            most_mm=1500,
        ),
        Kind(
            name="strut_K_far_y",
            what="end of the strut after key {key}, from the front",
            how="front edge of the white keys to the bar's end towards the tail",
            plus_minus_mm=5.0,
            least_mm=300,
            most_mm=3000,
        ),
        Kind(
            name="strut_K_width",
            what="width of the strut after key {key}",
            how="gauge across the bar",
            plus_minus_mm=1.0,
            least_mm=8,
            most_mm=120,
        ),
    )
}
"""Every reading by its name; K stands for a key number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One value read off the piano, mm, with its standard error, and how a message names it (its own name if empty)."""

    name: str
    mm: float
    plus_minus_mm: float
    told: str = ""

    @property
    def shown(self) -> str:
        """How a person knows it."""
        return self.told or self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """What is counted, not measured, all as key numbers.

    `last_keys` are the last key of each section from the bass, so the last of them is 88; `last_single` and
    `last_double` the last keys with one string and with two (0 when there is none), `first_plain` the first without
    copper. `struts_after` are the keys after which a bar of the plate stands.
    """

    last_keys: tuple[int, ...]
    last_single: int
    last_double: int
    first_plain: int
    last_damper: int
    struts_after: tuple[int, ...]

    @property
    def sections(self) -> tuple[tuple[int, int], ...]:
        """First and last key of each section."""
        firsts = (FIRST_KEY, *(last + 1 for last in self.last_keys[:-1]))
        return tuple(zip(firsts, self.last_keys, strict=True))

    @property
    def bass_last(self) -> int:
        """The last key of the bass, which passes over the others."""
        return self.last_keys[0]

    def strings(self, key: int) -> int:
        """How many strings a key has."""
        return 1 if key <= self.last_single else 2 if key <= self.last_double else 3


def checked_counts(counts: Counts) -> Counts:
    """The counts when they can be those of a grand.

    Raises
    ------
    BadInput : sections that do not rise to 88, strings, copper or dampers that end before they begin.
    """
    lasts = counts.last_keys
    if len(lasts) < 2 or list(lasts) != sorted(set(lasts)) or lasts[-1] != LAST_KEY or lasts[0] < 8:
        raise BadInput("the last keys of the sections do not rise to 88", where="last_keys", value=list(lasts),
                       allowed="rising key numbers, the bass first, 88 last, such as 20, 40, 53, 67, 88",
                       hint="are two of them swapped, or is 88 missing?")  # fmt: skip
    if lasts[0] > 45:
        raise BadInput("the bass ends higher than any known", where="last_keys", value=lasts[0], allowed="8 to 45")
    if not 0 <= counts.last_single <= counts.last_double <= 60:
        raise BadInput("two strings end before one string does", where="last_double", value=counts.last_double,
                       allowed=f"{counts.last_single} to 60",
                       hint="are last_single and last_double swapped?")  # fmt: skip
    if not counts.bass_last < counts.first_plain <= 50:
        raise BadInput("the first plain key does not lie above the bass", where="first_plain",
                       value=counts.first_plain, allowed=f"{counts.bass_last + 1} to 50",
                       hint="the first key without copper")  # fmt: skip
    if not 55 <= counts.last_damper <= 80:
        raise BadInput("no piano is known to end its dampers there", where="last_damper", value=counts.last_damper,
                       allowed="55 to 80", hint="key numbers, counted from the lowest A as 1")  # fmt: skip
    if strays := sorted(set(counts.struts_after) - set(lasts[:-1])):
        raise BadInput("a strut stands inside a section", where="struts_after", value=strays[0],
                       allowed=", ".join(map(str, lasts[:-1])),
                       hint="a strut ends a section; is one missing?")  # fmt: skip
    return counts


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of the printed form: a reading, `core` when a casting needs it, else when there is time."""

    name: str
    core: bool = True

    @property
    def kind(self) -> Kind:
        """What is read."""
        return KINDS[split(self.name)[0]]

    @property
    def key(self) -> int | None:
        """Of which key."""
        return split(self.name)[1]

    @property
    def what(self) -> str:
        """In words."""
        return self.kind.what.format(key=self.key)


def steps(counts: Counts) -> tuple[Step, ...]:
    """The readings in the order in which a person takes them: round the case, then from the bass to the treble.

    What varies most between pianos comes first: the case, the speaking lengths at the ends of the sections, where the
    bass and the tenor begin. After which keys struts stand is counted; how far they reach is read when there is time,
    of the one over strings also where it goes. What hardly varies (the keyboard's 1225 mm) is not asked. Our choice.
    """
    (_, bass), (tenor, top), *rest = counts.sections
    inner = (tenor + min(top, 41)) // 2
    core = [
        "length", "width", "rim_height", "string_height", "near_y_1", f"near_y_{bass}", f"near_y_{tenor}",
        f"near_y_{top}", "near_y_88", "damper_1", "near_x_1", "far_x_1", f"near_x_{tenor}", f"far_x_{tenor}",
        "length_1", f"length_{bass}", f"length_{tenor}", f"length_{inner}", f"length_{top}",
        "length_88",
    ]  # fmt: skip
    more = [
        "left_cheek", "right_cheek", "key_height", "bass_height", f"damper_{counts.last_damper}",
        *(f"near_x_{first}" for first, _ in rest), f"near_x_{bass}", f"far_x_{bass}", f"far_x_{top}",
        "far_y_1", f"far_y_{tenor}", f"length_{(1 + bass) // 2}",
        *(f"length_{last}" for _, last in rest if last < LAST_KEY),
        *(f"strut_{last}_far_x" for last in counts.struts_after if last == bass),
        *(f"strut_{last}_far_y" for last in counts.struts_after),
    ]  # fmt: skip
    return tuple(Step(name=name, core=True) for name in core) + tuple(Step(name=name, core=False) for name in more)


def role(counts: Counts, key: int) -> str:
    """What a key is to its section, for somebody who does not know its number yet."""
    number, (first, last) = next((i, ends) for i, ends in enumerate(counts.sections) if key <= ends[1])
    section = ("the bass", "the tenor")[number] if number < 2 else f"section {number + 1}"
    return f"first of {section}" if key == first else f"last of {section}" if key == last else f"inside {section}"


_KEYED = re.compile(r"^(length|near_x|near_y|far_x|far_y|damper)_(\d+)$")
_STRUT = re.compile(r"^strut_(\d+)_(near_x|near_y|far_x|far_y|width)$")


def split(name: str) -> tuple[str, int | None]:
    """Kind and key of a reading's name.

    Raises
    ------
    BadInput : there is no such reading.
    """
    if name in KINDS and "K" not in name:
        return name, None
    if found := _KEYED.match(name):
        return f"{found[1]}_K", _key(name, int(found[2]))
    if found := _STRUT.match(name):
        return f"strut_K_{found[2]}", _key(name, int(found[1]))
    near = get_close_matches(re.sub(r"\d+", "K", name), list(KINDS), n=1, cutoff=0.5)
    raise BadInput("there is no such reading", where="readings", value=name,
                   allowed=", ".join(KINDS) + "; K is a key number",
                   hint=f"did you mean {near[0]}?" if near else "")  # fmt: skip


def _key(name: str, key: int) -> int:
    if FIRST_KEY <= key <= LAST_KEY:
        return key
    raise BadInput("there is no such key", where="readings", value=name, allowed="key numbers 1 to 88")


def bounds_mm(name: str, expected_mm: float) -> tuple[float, float]:
    """The least and the most that a reading can be."""
    kind = KINDS[split(name)[0]]
    if kind.about == "share":
        return kind.least_mm * expected_mm, kind.most_mm * expected_mm
    if kind.about == "expected":
        return expected_mm - kind.least_mm, expected_mm + kind.most_mm
    return kind.least_mm, kind.most_mm


_UNITS: tuple[tuple[float, str], ...] = ((25.4, "inches"), (10.0, "cm"), (1000.0, "metres"))


def refuse_impossible(readings: Sequence[Reading], expected_mm: Mapping[str, float]) -> None:
    """Refuse the first reading that no grand has, with a guess at the slip.

    Parameters
    ----------
    readings : what was read.
    expected_mm : by name what a piano of this kind has there.

    Raises
    ------
    BadInput : as said.
    """
    bounds = {reading.name: bounds_mm(reading.name, expected_mm[reading.name]) for reading in readings}
    wrong = [one for one in readings if not bounds[one.name][0] <= one.mm <= bounds[one.name][1]]
    if not wrong:
        return
    first = wrong[0]
    low, high = bounds[first.name]
    raise BadInput(
        "no grand measures that, in mm", where=first.shown, value=first.mm, allowed=f"{low:.0f} to {high:.0f}",
        hint=_slip(first, readings, wrong, bounds),
    )  # fmt: skip


def _slip(
    first: Reading, readings: Sequence[Reading], wrong: Sequence[Reading], bounds: Mapping[str, tuple[float, float]]
) -> str:
    """A guess at why a reading is impossible: two swapped, other units (those that fit most), a digit."""
    others = [*_swapped(first, wrong, bounds), *_swapped(first, readings, bounds)]
    if others:
        return f"are {first.shown} and {others[0].shown} swapped?"
    fits = {
        unit: sum(_within(factor * one.mm, bounds[one.name]) for one in wrong)
        for factor, unit in _UNITS
        if _within(factor * first.mm, bounds[first.name])
    }
    if fits:
        unit = max(fits, key=lambda name: fits[name])
        digit = "is a digit missing, or " if unit == "cm" and fits[unit] == 1 else ""
        return f"{digit}was it given in {unit}?" if len(wrong) == 1 else f"were they given in {unit}?"
    return "is there a digit too many?" if _within(first.mm / 10.0, bounds[first.name]) else "is a digit wrong?"


def _swapped(
    first: Reading, readings: Sequence[Reading], bounds: Mapping[str, tuple[float, float]]
) -> Iterator[Reading]:
    for other in readings:
        same = split(other.name)[0] == split(first.name)[0] and other.name != first.name
        if same and _within(other.mm, bounds[first.name]) and _within(first.mm, bounds[other.name]):
            yield other


def _within(value: float, bounds: tuple[float, float]) -> bool:
    return bounds[0] <= value <= bounds[1]
