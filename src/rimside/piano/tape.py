"""From tape readings (or points marked on a picture) to a whole survey: measured where measured, the rest from a known
piano stretched to fit, and every such assumption told."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rimside.errors import BadInput
from rimside.piano.geometry import FloorObstacle, crossing_shares, outline_polygon
from rimside.piano.model import Permissions, Piano, Point, Spot, Strut
from rimside.piano.pattern import KEYS, Expected, Pattern, Stretch, nearest
from rimside.piano.readings import Counts, Reading, checked_counts, refuse_impossible, steps
from rimside.piano.survey import DamperPoint, Dampers, KeyPoint, Section, StrikePoint, Survey, build
from rimside.piano.tape_fit import Doubt, TapeFit, expected_mm, fit
from rimside.score.model import Pedal
from rimside.units import A4_HZ, FIRST_KEY, LAST_KEY, key_hz

APART_KEYS = 5
"""Keys between two points of the written survey, at most."""
COUNTED = ("last_keys", "last_single", "last_double", "first_plain", "last_damper", "struts_after")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """What is known of one course besides where it lies; None is not known. `wrap_mm` 0 is plain wire."""

    key: int
    wire_mm: float | None = None
    wrap_mm: float | None = None
    spacing_mm: float | None = None
    height_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """All that a person knows of a piano. What is None is taken from the piano that it is like; `assumed` is what had
    to be assumed to know the rest."""

    name: str
    title: str
    counts: Counts
    readings: tuple[Reading, ...]
    like: str | None = None
    a4_hz: float = A4_HZ
    facts: tuple[Fact, ...] = ()
    pedals: frozenset[Pedal] | None = None
    permissions: Permissions | None = None
    outline: tuple[Point, ...] | None = None
    struts: tuple[Strut, ...] | None = None
    spots: tuple[Spot, ...] | None = None
    floor: tuple[FloorObstacle, ...] | None = None
    strike: tuple[StrikePoint, ...] | None = None
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """Something that nobody measured: its place in the survey file, and what was taken for it."""

    place: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionError:
    """How sure a section is, standard errors in mm: its ends and middles in the plan, and a node's place on its string.

    Of each the worst key counts.
    """

    name: str
    near_mm: float
    middle_mm: float
    far_mm: float
    along_mm: float


@dataclass(frozen=True, kw_only=True)
class Surveyed:
    """A survey with its piano, what is assumed in it from which piano, and what in the readings is in doubt."""

    known: Known
    like: str
    survey: Survey
    piano: Piano
    fit: TapeFit
    assumptions: tuple[Assumption, ...]
    errors: tuple[SectionError, ...]
    doubts: tuple[Doubt, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """Readings of the form's first part that were not taken, nor anything that says the same."""
        taken = {reading.name for reading in self.known.readings}
        if self.known.outline is not None:
            taken |= {"length", "width"}
        ends = ("near_x", "near_y", "far_x", "far_y")
        taken |= {f"length_{key}" for key in KEYS if all(f"{end}_{key}" in taken for end in ends)}
        return tuple(step.name for step in steps(self.known.counts) if step.core and step.name not in taken)


def surveyed(known: Known, shipped: Sequence[Survey]) -> Surveyed:
    """Make a whole piano of what is known and of the nearest shipped one.

    Raises
    ------
    BadInput : an impossible reading or count, a reading told twice, or a piano that cannot be (strings that cross, a
        strut through strings, an end outside the case).
    """
    counts = checked_counts(known.counts)
    names = [reading.name for reading in known.readings]
    if twice := [name for name, count in Counter((r.name, r.told) for r in known.readings).items() if count > 1]:
        raise BadInput("a reading is told twice", where="readings", value=twice[0][0])
    pattern = _pattern(known, shipped)
    _check_keys(known, counts)
    refuse_impossible(known.readings, expected_mm(pattern, names))
    found = fit(pattern, known.readings)
    maker = _Maker(known=known, fit=found)
    survey = maker.survey()
    try:
        piano = build(survey)
    except BadInput as error:
        raise _told(error, known) from None
    return Surveyed(
        known=known, like=pattern.survey.name, survey=survey, piano=piano, fit=found,
        assumptions=tuple(maker.assumptions()), errors=tuple(_errors(survey, found)),
        doubts=(*found.doubts, *_rising(known, found.doubts)),
    )  # fmt: skip


def _pattern(known: Known, shipped: Sequence[Survey]) -> Pattern:
    length = next((reading for reading in known.readings if reading.name == "length"), None)
    if length is not None:
        refuse_impossible([length, *(r for r in known.readings if r.name == "width")], {"length": 0.0, "width": 0.0})
    like = nearest(shipped, None if length is None else length.mm, known.like)
    return Pattern(survey=like, counts=known.counts, length_mm=like.length_mm if length is None else length.mm)


def _check_keys(known: Known, counts: Counts) -> None:
    """Readings of dampers and struts that are not there."""
    for reading in known.readings:
        if found := re.match(r"(damper|strut)_(\d+)", reading.name):
            key = int(found[2])
            if found[1] == "damper" and key > counts.last_damper:
                raise BadInput("that key has no damper", where=reading.shown, value=key,
                               allowed=f"1 to last_damper, {counts.last_damper}")  # fmt: skip
            if found[1] == "strut" and key not in counts.struts_after:
                raise BadInput("no strut stands after that key", where=reading.shown, value=key,
                               allowed=", ".join(map(str, counts.struts_after)))  # fmt: skip


def _told(error: BadInput, known: Known) -> BadInput:
    """A piano that cannot be, with the readings that speak of it, or with what nobody read."""
    keys = {int(found) for found in re.findall(r"(?:course|keys?|and) (\d+)", f"{error.where} {error.what}")}
    about = [r.shown for r in known.readings if any(re.search(rf"_{key}(_|$)", r.name) for key in keys)]
    if error.where.startswith("strut"):
        about += [r.shown for r in known.readings if r.name.startswith("strut_")]
    hint = error.hint
    if "outline" in error.what and known.outline is None and not any(r.name == "length" for r in known.readings):
        hint = "the case is that of the piano it is like; give its length, or mark its outline"
    elif about:
        hint = f"look again at {', '.join(dict.fromkeys(about))}"
    elif keys and not any(fact.key in keys for fact in known.facts):
        low = min(keys)
        hint = f"nobody measured key {low}: read length_{low} and far_x_{low}, and look again at [counted]"
    return BadInput(error.what, where=error.where, value=error.value, allowed=error.allowed, hint=hint)


def _rising(known: Known, doubts: Sequence[Doubt]) -> Iterator[Doubt]:
    """Measured lengths that do not fall from the bass to the treble, when nothing else has told them."""
    told = {name for doubt in doubts for name in (doubt.reading.shown, *doubt.partners)}
    lengths = sorted(
        (int(found[1]), reading)
        for reading in known.readings
        if (found := re.fullmatch(r"length_(\d+)", reading.name)) is not None
    )
    for (low, longer), (high, shorter) in pairwise(lengths):
        over_break = low <= known.counts.bass_last < high
        if over_break or shorter.mm < longer.mm or {longer.shown, shorter.shown} & told:
            continue
        sure = math.hypot(longer.plus_minus_mm, shorter.plus_minus_mm)
        yield Doubt(
            reading=shorter, expected_mm=longer.mm, sigmas=(shorter.mm - longer.mm) / sure, partners=(longer.shown,),
            note="lengths fall from the bass to the treble",
        )  # fmt: skip


def _errors(survey: Survey, found: TapeFit) -> Iterator[SectionError]:
    for section in survey.sections:
        keys = range(section.first_key, section.last_key + 1)
        near, middle, far = (max(found.error_mm(key, share) for key in keys) for share in (0.0, 0.5, 1.0))
        along = max(found.length_error_mm(key) for key in keys) / 2.0
        yield SectionError(name=section.name, near_mm=near, middle_mm=middle, far_mm=far, along_mm=along)


# --- the survey -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Maker:
    """Writes the parts of a survey from the fit, and tells for each what is assumed in it."""

    known: Known
    fit: TapeFit

    @property
    def like(self) -> Survey:
        return self.fit.pattern.survey

    @property
    def counts(self) -> Counts:
        return self.known.counts

    @property
    def taken(self) -> set[str]:
        return {reading.name for reading in self.known.readings}

    def survey(self) -> Survey:
        known, like = self.known, self.like
        stretch = self._stretch()
        outline = self._outline()
        ys = [point.y_mm for point in outline]
        rise = self._rise_mm()
        return Survey(
            name=known.name,
            title=known.title,
            length_mm=round(self.fit.scalar("length") if known.outline is None else max(ys) - min(ys), 1),
            a4_hz=known.a4_hz,
            outline=outline,
            rim_height_mm=round(self.fit.scalar("rim_height"), 1),
            keyboard_height_mm=round(self.fit.scalar("key_height"), 1),
            sections=tuple(self._section(number) for number in range(len(self.counts.sections))),
            dampers=self._dampers(),
            strike=self._strike() if known.strike is None else known.strike,
            struts=tuple(self._struts()) if known.struts is None else known.struts,
            spots=known.spots
            if known.spots is not None
            else tuple(
                Spot(name=s.name, kind=s.kind, at=stretch(s.at), height_mm=round(s.height_mm + rise, 1))
                for s in like.spots
            ),
            floor=known.floor
            if known.floor is not None
            else tuple(
                FloorObstacle(
                    name=f.name, at=stretch(f.at), radius_mm=f.radius_mm, to=None if f.to is None else stretch(f.to)
                )
                for f in like.floor
            ),
            pedals=like.pedals if known.pedals is None else known.pedals,
            permissions=known.permissions or Permissions(allowed=frozenset()),
            measured=frozenset(self._measured()),
        )

    def _measured(self) -> Iterator[str]:
        yield from self.taken
        yield from COUNTED
        for name in ("outline", "struts", "spots", "floor", "strike", "pedals", "permissions"):
            if getattr(self.known, name) is not None:
                yield name
        for fact in self.known.facts:
            yield from (
                f"{name}_{fact.key}" for name in ("wire", "wrap", "spacing", "height")
                if getattr(fact, f"{name}_mm") is not None
            )  # fmt: skip

    def _stretch(self) -> Stretch:
        xs, ys = [p.x_mm for p in self.like.outline], [p.y_mm for p in self.like.outline]
        keys_mm, front_mm = self.fit.scalar("keyboard"), min(ys)
        return Stretch(
            from_left_mm=min(xs),
            from_right_mm=max(xs),
            from_tail_mm=max(ys),
            to_left_mm=-self.fit.scalar("left_cheek"),
            to_right_mm=keys_mm + self.fit.scalar("right_cheek"),
            to_tail_mm=front_mm + self.fit.scalar("length"),
            keys_mm=keys_mm,
        )

    def _outline(self) -> tuple[Point, ...]:
        stretch = self._stretch()
        return self.known.outline or tuple(stretch(point) for point in self.like.outline)

    def _rise_mm(self) -> float:
        return self.fit.scalar("string_height") - self.fit.pattern.height_mm(40)

    def section_name(self, number: int) -> str:
        """The name of a section: as in the known piano when it has as many."""
        if len(self.like.sections) == len(self.counts.sections):
            return sorted(self.like.sections, key=lambda section: section.first_key)[number].name
        return ("bass", "tenor")[number] if number < 2 else f"section {number + 1}"

    def _section(self, number: int) -> Section:
        first, last = self.counts.sections[number]
        return Section(
            name=self.section_name(number),
            first_key=first,
            last_key=last,
            points=tuple(self._point(key) for key in self._keys(first, last)),
        )

    def _keys(self, first: int, last: int) -> list[int]:
        """Keys of a section to write down: its ends, where something changes, what was measured, and some between."""
        counts = self.counts
        changes = {counts.last_single, counts.last_double, counts.first_plain - 1}
        wanted = {first, last, *changes, *(key + 1 for key in changes), *(fact.key for fact in self.known.facts)}
        wanted |= {int(found[1]) for name in self.taken if (found := re.match(r"(?:length|near|far)\D*_(\d+)$", name))}
        keys = sorted(key for key in wanted if first <= key <= last)
        for low, high in list(pairwise(keys)):
            count = math.ceil((high - low) / APART_KEYS)
            keys += [low + round(step * (high - low) / count) for step in range(1, count)]
        return sorted(set(keys))

    def _point(self, key: int) -> KeyPoint:
        course, pattern = self.fit.course(key), self.fit.pattern
        fact = next((one for one in self.known.facts if one.key == key), Fact(key=key))
        strings = self.counts.strings(key)
        wire_mm, wrap_mm = pattern.wire(key, math.exp(course.log_length), key_hz(key, self.known.a4_hz))
        spacing_mm = pattern.spacing_mm(key) if fact.spacing_mm is None else fact.spacing_mm
        return KeyPoint(
            key=key,
            near=_tidy(course.near),
            far=_tidy(course.far),
            strings=strings,
            spacing_mm=round(spacing_mm, 1) if strings > 1 else 0.0,
            wire_mm=wire_mm if fact.wire_mm is None else fact.wire_mm,
            wrap_mm=wrap_mm if fact.wrap_mm is None else fact.wrap_mm or None,
            height_mm=round(self._height_mm(key) if fact.height_mm is None else fact.height_mm, 1),
        )

    def _height_mm(self, key: int) -> float:
        pattern = self.fit.pattern
        bass = self.fit.scalar("bass_rise") - (pattern.height_mm(10) - pattern.height_mm(40))
        return pattern.height_mm(key) + self._rise_mm() + (bass if key <= self.counts.bass_last else 0.0)

    def _dampers(self) -> Dampers:
        assert self.like.dampers is not None
        theirs = sorted(self.like.dampers.points, key=lambda point: point.key)
        bass, last = self.counts.bass_last, self.counts.last_damper
        keys = sorted({FIRST_KEY, bass, bass + 1, min(49, last), last})
        return Dampers(
            last_key=last,
            points=tuple(
                DamperPoint(key=key, y_mm=round(self.fit.damper_y_mm(key), 1), felt_mm=round(self._felt(theirs, key)))
                for key in keys
            ),
        )

    def _felt(self, theirs: Sequence[DamperPoint], key: int) -> float:
        at = self.fit.pattern.there(key)
        low = max((point for point in theirs if point.key <= at), key=lambda point: point.key)
        high = min((point for point in theirs if point.key >= at), key=lambda point: point.key, default=theirs[-1])
        share = 0.0 if high.key == low.key else (at - low.key) / (high.key - low.key)
        return low.felt_mm + share * (high.felt_mm - low.felt_mm)

    def _strike(self) -> tuple[StrikePoint, ...]:
        """The hammers as far before the first damper, and as far behind the last near end, as in the known piano."""
        theirs = {point.key: point.y_mm for point in self.like.strike}
        if FIRST_KEY not in theirs or LAST_KEY not in theirs or self.like.dampers is None:
            return ()
        courses = {int(course.key): course for course in self.fit.pattern.piano.courses}
        damper = min(self.like.dampers.points, key=lambda point: point.key)
        first = theirs[FIRST_KEY] + self.fit.damper_y_mm(FIRST_KEY) - damper.y_mm
        last = theirs[LAST_KEY] + self.fit.course(LAST_KEY).near.y_mm - courses[LAST_KEY].near.y_mm
        return (
            StrikePoint(key=FIRST_KEY, y_mm=round(first, 1)),
            StrikePoint(key=LAST_KEY, y_mm=round(last, 1)),
        )

    def _struts(self) -> Iterator[Strut]:
        read = {reading.name: reading.mm for reading in self.known.readings}
        for last in self.counts.struts_after:
            strut = self._assumed_strut(last)
            start, end = (self._strut_end(strut, last, which, read) for which in ("near", "far"))
            if f"strut_{last}_far_x" not in read:
                end = self._clear(start, end, strut.over_strings)
            yield Strut(
                name=strut.name,
                start=start,
                end=end,
                width_mm=read.get(f"strut_{last}_width", strut.width_mm),
                over_strings=strut.over_strings,
            )

    def _strut_end(self, strut: Strut, last: int, end: str, read: Mapping[str, float]) -> Point:
        """An end of a strut as read; where only its y was read, x is where the bar goes at that y."""
        assumed = strut.start if end == "near" else strut.end
        y_mm = read.get(f"strut_{last}_{end}_y", assumed.y_mm)
        x_mm = assumed.x_mm
        if y_mm != assumed.y_mm and strut.over_strings:
            x_mm = _x_at_mm(strut.start, strut.end, y_mm)
        elif y_mm != assumed.y_mm:
            beside = [self.fit.course(key) for key in (last, last + 1)]
            x_mm = sum(_x_at_mm(course.near, course.far, y_mm) for course in beside) / 2.0
        return _tidy(Point(x_mm=read.get(f"strut_{last}_{end}_x", x_mm), y_mm=y_mm))

    def _clear(self, start: Point, end: Point, over_strings: bool) -> Point:
        """The end of a strut whose way is assumed, drawn back until it lies in the case and crosses no string that it
        may not."""
        from shapely import Point as Dot

        polygon, courses = outline_polygon(self._outline()), [self.fit.course(key) for key in KEYS]
        for share in range(50, 9, -1):
            at = _tidy(Point(x_mm=start.x_mm + share / 50 * (end.x_mm - start.x_mm),
                             y_mm=start.y_mm + share / 50 * (end.y_mm - start.y_mm)))  # fmt: skip
            crossed = not over_strings and any(crossing_shares(c.near, c.far, start, at) for c in courses)
            if not crossed and polygon.contains(Dot(at.x_mm, at.y_mm)):
                return at
        return end

    def _assumed_strut(self, last: int) -> Strut:
        """The known piano's strut of the same gap, where it lies between its neighbours; one over strings along the
        last of the bass."""
        ours, theirs = self.counts.last_keys[:-1], self.fit.pattern.own.struts_after
        alike = len(ours) == len(theirs)
        at = theirs[ours.index(last)] if alike else min(theirs, key=lambda key: abs(key - last))
        if last == self.counts.bass_last:
            at = theirs[0]
        struts = sorted(self.like.struts, key=lambda strut: strut.start.x_mm)
        strut = struts[theirs.index(at)]
        courses = {int(course.key): course for course in self.fit.pattern.piano.courses}
        old = [_lying(courses[key].near, courses[key].far) for key in (at, at + 1)]
        new = [self.fit.course(key) for key in (last, last + 1)]
        if strut.over_strings:
            start, end = (_beside(point, old[0], new[0]) for point in (strut.start, strut.end))
        else:
            start, end = (_between(point, old, new) for point in (strut.start, strut.end))
        return replace(strut, name=strut.name if alike else f"strut after key {last}", start=start, end=end)

    # --- what nobody measured

    def assumptions(self) -> Iterator[Assumption]:
        """Everything that was taken from the known piano."""
        like, known = self.like.name, self.known
        for name, what in (
            ("rim_height", "rim height"), ("key_height", "height of the keys"),
            ("string_height", "height of the strings"),
            ("bass_height", "how far the bass lies above the other strings"),
        ):  # fmt: skip
            if name not in self.taken:
                yield Assumption(place="head", text=f"{what}: from {like}")
        if "length" not in self.taken and known.outline is None:
            yield Assumption(place="head", text=f"length: from {like}")
        yield Assumption(
            place="head", text=f"a4_hz: {known.a4_hz:g}, as told or the usual 440; the keyboard 1225 mm wide"
        )
        yield from (Assumption(place="head", text=text) for text in known.assumed)
        if known.pedals is None:
            yield Assumption(place="head", text=f"pedals: those of {like}")
        if known.permissions is None:
            yield Assumption(place="permissions", text="nobody was asked, so nothing is allowed")
        for place, text in (
            ("outline", f"the shape of the case: that of {like}, drawn out to the length and width"),
            ("struts", f"those of {like}, between the same sections; read off: {self._read('strut_')}"),
            ("spots", f"those of {like}, carried along with the case"),
            ("floor", f"legs and lyre of {like}, carried along with the case"),
            ("strike", f"as far before the dampers as in {like}"),
        ):
            if getattr(known, place) is None:
                yield Assumption(place=place, text=text)
        yield from self._drawn_back()
        yield Assumption(place="dampers", text=f"how long the felts are: from {like}; a straight line "
                                               f"of dampers, read at {self._read('damper_')}")  # fmt: skip
        for number, (first, last) in enumerate(self.counts.sections):
            yield Assumption(place=f"section {self.section_name(number)}", text=self._of_section(first, last))

    def _drawn_back(self) -> Iterator[Assumption]:
        """Bars that reach less far than was read, because where they go there is assumed."""
        read = {reading.name: reading.mm for reading in self.known.readings}
        struts = self._struts() if self.known.struts is None else ()
        for last, strut in zip(self.counts.struts_after, struts, strict=False):
            name = f"strut_{last}_far_y"
            if name in read and strut.end.y_mm < read[name] - 0.1:
                yield Assumption(
                    place="struts",
                    text=f"{strut.name} drawn to y {strut.end.y_mm:g} only, not {read[name]:g} as read: there it would "
                    f"meet strings or leave the case, as both are assumed; strut_{last}_far_x or an outline tells",
                )

    def _of_section(self, first: int, last: int) -> str:
        facts = [fact for fact in self.known.facts if first <= fact.key <= last]
        read = [
            name for name in sorted(self.taken, key=_by_key)
            if (found := re.match(r"(?:length|near|far)\D*_(\d+)$", name)) and first <= int(found[1]) <= last
        ]  # fmt: skip
        wires = f"wire and spacing from {self.like.name}" + (
            f", but for keys {', '.join(str(fact.key) for fact in facts)}" if facts else ""
        )
        if first < self.counts.first_plain:
            wires += "; wound strings as thick as gives its tensions"
        what = f"read off: {', '.join(read)}" if read else "nothing read off"
        return f"{what}; all else where {self.like.name} has it, moved to fit; {wires}"

    def _read(self, start: str) -> str:
        return ", ".join(sorted((name for name in self.taken if name.startswith(start)), key=_by_key)) or "nowhere"


def _by_key(name: str) -> tuple[int, str]:
    found = re.search(r"\d+", name)
    return (int(found[0]) if found else 0, name)


def _tidy(point: Point) -> Point:
    return Point(x_mm=round(point.x_mm, 1), y_mm=round(point.y_mm, 1))


def _x_at_mm(start: Point, end: Point, y_mm: float) -> float:
    """Where a line through two points is at a y."""
    return start.x_mm + (y_mm - start.y_mm) / (end.y_mm - start.y_mm) * (end.x_mm - start.x_mm)


def _lying(near: Point, far: Point) -> Expected:
    return Expected(
        near=near,
        log_length=math.log(near.distance_mm(far)),
        angle_rad=math.atan2(far.y_mm - near.y_mm, far.x_mm - near.x_mm),
    )


def _beside(point: Point, old: Expected, new: Expected) -> Point:
    """A point as far along and beside a course as it was along and beside another."""
    dx, dy = point.x_mm - old.near.x_mm, point.y_mm - old.near.y_mm
    cos, sin = math.cos(old.angle_rad), math.sin(old.angle_rad)
    along = (dx * cos + dy * sin) * math.exp(new.log_length - old.log_length)
    beside = dy * cos - dx * sin
    cos, sin = math.cos(new.angle_rad), math.sin(new.angle_rad)
    return Point(x_mm=new.near.x_mm + along * cos - beside * sin, y_mm=new.near.y_mm + along * sin + beside * cos)


def _between(point: Point, old: Sequence[Expected], new: Sequence[Expected]) -> Point:
    """The middle between two courses, as far along them as a point lies along two others."""
    start = sum(course.near.y_mm for course in old) / 2.0
    end = sum(course.far.y_mm for course in old) / 2.0
    share = (point.y_mm - start) / (end - start)
    ends = [
        Point(
            x_mm=course.near.x_mm + share * (course.far.x_mm - course.near.x_mm),
            y_mm=course.near.y_mm + share * (course.far.y_mm - course.near.y_mm),
        )
        for course in new
    ]
    return Point(x_mm=(ends[0].x_mm + ends[1].x_mm) / 2.0, y_mm=(ends[0].y_mm + ends[1].y_mm) / 2.0)
