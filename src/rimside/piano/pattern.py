"""A known piano stretched over an unknown one: what to expect of each course before anything is read off.

Bass lies on bass, section on section where there are as many of them, and plain strings on plain strings of the same
key, because pitch and wire fix their lengths. The longer case has the longer bass.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from rimside.errors import BadInput
from rimside.piano import strings
from rimside.piano.model import Course, Piano, Point
from rimside.piano.readings import Counts
from rimside.piano.survey import Survey, build
from rimside.units import FIRST_KEY, LAST_KEY, key_hz

KEYS = range(FIRST_KEY, LAST_KEY + 1)
STEP_MM = 12.6
"""From course to course inside a section. Our assumption, as in the shipped pianos."""
ALIKE_KEY = 38
"""From here up all grands have much the same lengths. Our assumption, after the published lengths in tests/outside."""
LEAST_PLAIN_N = 400.0
"""Looser plain strings are not expected. Our assumption; small pianos come near it at their lowest plain keys."""
LEAST_WRAP = 1.05
"""A wound string weighs at least this many times its core. Our assumption."""
FRONT_MM = 500.0
"""Behind this the case is drawn out with the length; before it all grands are alike. Our assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """One course as expected: near end, logarithm of its length in mm, direction."""

    near: Point
    log_length: float
    angle_rad: float

    @property
    def far(self) -> Point:
        """The far end."""
        length_mm = math.exp(self.log_length)
        return Point(
            x_mm=self.near.x_mm + length_mm * math.cos(self.angle_rad),
            y_mm=self.near.y_mm + length_mm * math.sin(self.angle_rad),
        )


def nearest(surveys: Sequence[Survey], length_mm: float | None, like: str | None) -> Survey:
    """The survey to lean on: the one named, else the one nearest in length.

    Raises
    ------
    BadInput : no such piano, or neither a name nor a length.
    """
    names = [survey.name for survey in surveys]
    if like is not None:
        if like not in names:
            raise BadInput("no such piano comes with Rimside", where="like", value=like, allowed=", ".join(names))
        return surveys[names.index(like)]
    if length_mm is None:
        raise BadInput("which piano is it like?", where="like", allowed=", ".join(names),
                       hint="give its length, or name the nearest of these")  # fmt: skip
    return min(surveys, key=lambda survey: abs(survey.length_mm - length_mm))


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """A known piano, and the counts and length of the unknown one that it is stretched over."""

    survey: Survey
    counts: Counts
    length_mm: float

    @cached_property
    def piano(self) -> Piano:
        """The known piano, built."""
        return build(self.survey)

    @cached_property
    def _courses(self) -> Mapping[int, Course]:
        return {int(course.key): course for course in self.piano.courses}

    @cached_property
    def own(self) -> Counts:
        """The counts of the known piano."""
        sections = sorted(self.survey.sections, key=lambda section: section.first_key)
        courses = self._courses
        lasts = tuple(section.last_key for section in sections)
        return Counts(
            last_keys=lasts,
            last_single=max((key for key in KEYS if courses[key].strings == 1), default=0),
            last_double=max((key for key in KEYS if courses[key].strings <= 2), default=0),
            first_plain=min(key for key in KEYS if not courses[key].wound),
            last_damper=max(key for key in KEYS if courses[key].damper),
            struts_after=lasts[: min(len(lasts) - 1, len(self.survey.struts))],
        )

    def there(self, key: int) -> float:
        """The key of the known piano on which a key lies, not always whole."""
        theirs, ours = self.own.sections, self.counts.sections
        if len(theirs) != len(ours):
            theirs = ((1, self.own.bass_last), (self.own.bass_last + 1, LAST_KEY))
            ours = ((1, self.counts.bass_last), (self.counts.bass_last + 1, LAST_KEY))
        for (first, last), (low, high) in zip(ours, theirs, strict=True):
            if key <= last:
                return low + (key - first) / max(last - first, 1) * (high - low)
        raise KeyError(key)

    def course(self, key: int) -> Expected:
        """What to expect of a key."""
        at = self.there(key)
        low, high = self._courses[math.floor(at)], self._courses[math.ceil(at)]
        share = at - math.floor(at)

        def between(a: float, b: float) -> float:
            return a + share * (b - a)

        near = Point(x_mm=self._near_x_mm(key), y_mm=between(low.near.y_mm, high.near.y_mm))
        return Expected(
            near=near, log_length=self._log_length(key), angle_rad=between(_angle_rad(low), _angle_rad(high))
        )

    def _near_x_mm(self, key: int) -> float:
        """Near ends lie over their keys, but for the gaps between sections, which stand where this piano has them."""
        gaps, ours = self._gaps_mm, self.counts.last_keys[:-1]
        if len(gaps) != len(ours):
            rest = sum(list(gaps.values())[1:]) / max(len(ours) - 1, 1)
            gaps = dict(zip(ours, [gaps[self.own.bass_last], *(rest for _ in ours[1:])], strict=True))
        without = self._courses[key].near.x_mm - sum(gap for last, gap in self._gaps_mm.items() if last < key)
        return without + sum(gap for last, gap in zip(ours, gaps.values(), strict=True) if last < key)

    @cached_property
    def _gaps_mm(self) -> Mapping[int, float]:
        """How much wider than a step the known piano's gaps are, by the key before them."""
        near = {key: course.near.x_mm for key, course in self._courses.items()}
        return {last: near[last + 1] - near[last] - STEP_MM for last in self.own.last_keys[:-1]}

    def _log_length(self, key: int) -> float:
        """In the bass and low tenor by place in the section and with the case; above by pitch, as wire demands."""
        at = self.there(key) if key <= self.counts.bass_last else self._tenor_there(key)
        low, high = self._courses[math.floor(at)].length_mm, self._courses[math.ceil(at)].length_mm
        grown = math.log((self.length_mm - FRONT_MM) / (self.survey.length_mm - FRONT_MM))
        log_length = math.log(low) + (at - math.floor(at)) * math.log(high / low) + self.grows(key) * grown
        if key < self.counts.first_plain:
            return min(log_length, math.log(self._most_wound_mm(key)))
        least, most = self._plain_range_mm(key)
        return min(max(log_length, math.log(least)), math.log(most))

    def _plain_range_mm(self, key: int) -> tuple[float, float]:
        """Lengths at which plain wire of this key has a tension that a string bears and keeps its tone at."""
        usual, density = strings.published_range(key), strings.plain_linear_density_kg_per_m(self._plain_wire_mm(key))
        least, most = (
            1000.0 * math.sqrt(tension_n / density) / (2.0 * key_hz(key))
            for tension_n in (LEAST_PLAIN_N, usual.most_tension_n)
        )
        return least, most

    def _most_wound_mm(self, key: int) -> float:
        """The length at which a wound string with the least wrap has the most tension published."""
        core = strings.plain_linear_density_kg_per_m(self._wound_like(key).wire_mm)
        tension_n = strings.published_range(key).most_tension_n
        return 1000.0 * math.sqrt(tension_n / (LEAST_WRAP * core)) / (2.0 * key_hz(key))

    def _plain_wire_mm(self, key: int) -> float:
        return self._courses[max(key, self.own.first_plain)].wire_mm

    def _tenor_there(self, key: int) -> float:
        ours, theirs = self.counts.bass_last + 1, self.own.bass_last + 1
        if key >= ALIKE_KEY or ours >= ALIKE_KEY or theirs >= ALIKE_KEY:
            return key
        return theirs + (key - ours) / (ALIKE_KEY - ours) * (ALIKE_KEY - theirs)

    def grows(self, key: int) -> float:
        """How much of the growth of the case a length takes part in: all in the bass, less above, then none."""
        first = self.counts.bass_last + 1
        return 1.0 if key < first else max(0.0, (ALIKE_KEY - key) / max(ALIKE_KEY - first, 1))

    def height_mm(self, key: int) -> float:
        """Height of a key's strings over the floor."""
        return self._courses[round(self.there(key))].height_mm

    def spacing_mm(self, key: int) -> float:
        """Centre to centre inside a key's course, of the nearest course with as many strings."""
        return self._with_as_many(key, range(FIRST_KEY, LAST_KEY + 1)).spacing_mm

    def wire(self, key: int, length_mm: float, frequency_hz: float) -> tuple[float, float | None]:
        """Plain wire, or core and wrap, of a key: the wrap so that the tension is that of the known piano."""
        if key >= self.counts.first_plain:
            return self._plain_wire_mm(key), None
        course = self._wound_like(key)
        density = course.tension_n / (2.0 * frequency_hz * length_mm / 1000.0) ** 2
        core = strings.plain_linear_density_kg_per_m(course.wire_mm)
        one = strings.wound_linear_density_kg_per_m(course.wire_mm, 2.0 * course.wire_mm) - core
        square = 1.0 + 3.0 * max(density - core, (LEAST_WRAP - 1.0) * core) / one
        return course.wire_mm, round(course.wire_mm * math.sqrt(square), 2)

    def _wound_like(self, key: int) -> Course:
        return self._with_as_many(key, range(FIRST_KEY, self.own.first_plain))

    def _with_as_many(self, key: int, among: Sequence[int]) -> Course:
        count, at = self.counts.strings(key), self.there(key)
        return min(
            (self._courses[other] for other in among),
            key=lambda course: (abs(course.strings - count), abs(int(course.key) - at)),
        )


def _angle_rad(course: Course) -> float:
    return math.atan2(course.far.y_mm - course.near.y_mm, course.far.x_mm - course.near.x_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """How points of the known case lie in the unknown one: sides moved, everything behind the front drawn out."""

    from_left_mm: float
    from_right_mm: float
    from_tail_mm: float
    to_left_mm: float
    to_right_mm: float
    to_tail_mm: float
    keys_mm: float

    def __call__(self, point: Point) -> Point:
        """Where a point goes, to a tenth of a mm."""
        x_mm, y_mm = point.x_mm, point.y_mm
        if x_mm < 0.0:
            x_mm *= self.to_left_mm / self.from_left_mm
        elif x_mm > self.keys_mm:
            share = (x_mm - self.keys_mm) / (self.from_right_mm - self.keys_mm)
            x_mm = self.keys_mm + share * (self.to_right_mm - self.keys_mm)
        if y_mm > FRONT_MM:
            y_mm = FRONT_MM + (y_mm - FRONT_MM) * (self.to_tail_mm - FRONT_MM) / (self.from_tail_mm - FRONT_MM)
        return Point(x_mm=round(x_mm, 1), y_mm=round(y_mm, 1))
