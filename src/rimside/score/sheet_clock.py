"""The clock of a figure sheet: its #tempo and #meter rows, and the way between bar:beat and seconds."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from rimside.errors import BadInput
from rimside.pitch import LabelScheme
from rimside.score.model import BarStart

SETTINGS: Mapping[str, str] = {
    "tempo": "#tempo,96 or #tempo,60,17 (quarters a minute, from bar 17 on)",
    "meter": "#meter,4/4 or #meter,3/4,17 (from bar 17 on)",
    "title": "#title,Name of the piece",
    "labels": f"#labels,{' or '.join(scheme.value for scheme in LabelScheme)}",
}
"""Rows that begin with # and a name without a space; "# " begins a comment."""
MOST_BARS = 100_000
_BAR_BEAT = re.compile(r"(\d+):(\d+(?:\.\d+)?(?:/\d+)?|\d+\+\d+/\d+)")
_SECONDS = re.compile(r"(\d+(?:\.\d+)?)\s*s(?:ec)?")
_GRAIN = 10_000_000
"""Seconds are turned into bars and beats to a tenth of a microsecond, so that float noise leaves no odd fractions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Bars from `first_bar` on at one tempo and in one meter; where it starts is counted from the sheet's start."""

    first_bar: int
    start_quarters: Fraction
    start_s: Fraction
    quarters_per_minute: Fraction
    bar_quarters: Fraction
    beat_quarters: Fraction

    def quarters_at(self, time_s: Fraction) -> Fraction:
        """Quarters from the start at a moment of this stretch."""
        return self.start_quarters + (time_s - self.start_s) * self.quarters_per_minute / 60

    def seconds_at(self, quarters: Fraction) -> Fraction:
        """The moment of a number of quarters from the start, s, exactly."""
        return self.start_s + (quarters - self.start_quarters) * 60 / self.quarters_per_minute


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Bars of a sheet, the first of which is bar 1 and begins at 0 s. `given` names the settings that it states."""

    stretches: tuple[Stretch, ...]
    given: frozenset[str]

    def start_s(self, text: str, where: str) -> float:
        """A start as seconds. Raises BadInput for anything but bar:beat or seconds with their s."""
        if (form := _SECONDS.fullmatch(text.strip().lower())) is not None:
            return float(form[1])
        form = _BAR_BEAT.fullmatch(text.strip())
        if form is None:
            hint = f"{text}s?" if re.fullmatch(r"\d+(\.\d+)?", text.strip()) else ""
            raise BadInput(
                "not a start", where=where, value=text, allowed="bar:beat (12:3) or seconds (83.5s)", hint=hint
            )
        self._needs_both(where, text)
        return float(self._moment(int(form[1]), form[2], where, text))

    def _needs_both(self, where: str, text: str) -> None:
        missing = [SETTINGS[name] for name in ("tempo", "meter") if name not in self.given]
        if missing:
            raise BadInput(
                "bars and beats need a tempo and a meter",
                where=where,
                value=text,
                allowed="; ".join(missing) + " above the rows",
            )

    def _moment(self, bar: int, beat_text: str, where: str, text: str) -> Fraction:
        if not 1 <= bar <= MOST_BARS:
            raise BadInput("no such bar", where=where, value=text, allowed=f"1 to {MOST_BARS}")
        stretch = next(one for one in reversed(self.stretches) if one.first_bar <= bar)
        offset = (_beat(beat_text) - 1) * stretch.beat_quarters
        if not 0 <= offset < stretch.bar_quarters:
            beats = stretch.bar_quarters / stretch.beat_quarters
            raise BadInput("the bar has no such beat", where=where, value=text, allowed=f"1 to before {beats + 1}")
        return stretch.seconds_at(stretch.start_quarters + (bar - stretch.first_bar) * stretch.bar_quarters + offset)

    def _at(self, time_s: Fraction) -> Stretch:
        return next(one for one in reversed(self.stretches) if one.start_s <= time_s)

    def quarters(self, time_s: float) -> Fraction:
        """Quarters from the start at a moment."""
        exact = Fraction(round(time_s * _GRAIN), _GRAIN)
        return self._at(exact).quarters_at(exact).limit_denominator(20_160)

    def bar_and_beat(self, time_s: float) -> tuple[str, Fraction]:
        """The bar and beat at a moment."""
        exact = Fraction(round(time_s * _GRAIN), _GRAIN)
        stretch, quarters = self._at(exact), self.quarters(time_s)
        bars, offset = divmod(quarters - stretch.start_quarters, stretch.bar_quarters)
        return str(stretch.first_bar + bars), 1 + offset / stretch.beat_quarters

    def length_s(self, start_s: float, amount: Fraction, unit: str) -> float:
        """Seconds in a number of "beats" or "bars" from a moment on, tempo changes in between counted."""
        left, here = amount, self.quarters(start_s)
        moment = Fraction(round(start_s * _GRAIN), _GRAIN)
        for stretch, following in zip(self.stretches, [*self.stretches[1:], None], strict=True):
            one = stretch.bar_quarters if unit == "bars" else stretch.beat_quarters
            room = None if following is None else (following.start_quarters - here) / one
            if room is not None and room <= 0:
                continue
            if room is None or left <= room:
                return float(stretch.seconds_at(here + left * one) - moment)
            left, here = left - room, following.start_quarters if following else here
        return 0.0

    def bars_until(self, end_s: float, sections: Iterable[tuple[float, str]]) -> tuple[BarStart, ...]:
        """Every bar that begins before a moment, with the section that rules there."""
        named = sorted(sections)
        found: list[BarStart] = []
        for stretch, following in zip(self.stretches, [*self.stretches[1:], None], strict=True):
            bar, start = stretch.first_bar, stretch.start_quarters
            while (following is None or bar < following.first_bar) and stretch.seconds_at(start) < end_s:
                start_s = float(stretch.seconds_at(start))
                section = next((name for at, name in reversed(named) if at <= start_s + 1e-6), "")
                found.append(
                    BarStart(bar=str(bar), pass_number=1, start_quarters=start, start_s=start_s, section=section)
                )
                bar, start = bar + 1, start + stretch.bar_quarters
        return tuple(found)


def _beat(text: str) -> Fraction:
    whole, _, part = text.partition("+")
    return Fraction(whole) + (Fraction(part) if part else 0)


def clock_from(
    settings: Sequence[tuple[str, tuple[str, ...], str]], scheme: LabelScheme
) -> tuple[Clock, str, LabelScheme]:
    """The clock, the title and the label scheme that a sheet's # rows state. Raises BadInput."""
    tempos: dict[int, Fraction] = {}
    meters: dict[int, tuple[Fraction, Fraction]] = {}
    title = ""
    for name, values, where in settings:
        if name not in SETTINGS or not values:
            raise BadInput(
                "unknown setting" if name not in SETTINGS else "the setting has no value",
                where=where,
                value=f"#{name}",
                allowed="; ".join(SETTINGS.values()),
                hint="a comment begins with # and a space",
            )
        match name:
            case "tempo":
                tempos[_from_bar(values, where)] = _tempo(values[0], where)
            case "meter":
                meters[_from_bar(values, where)] = _meter(values[0], where)
            case "title":
                title = ", ".join(values)
            case _:
                scheme = _scheme(values[0], where)
    given = frozenset(name for name, rows in (("tempo", tempos), ("meter", meters)) if 1 in rows)
    return Clock(stretches=_stretches(tempos, meters), given=given), title, scheme


def _from_bar(values: Sequence[str], where: str) -> int:
    if len(values) == 1:
        return 1
    if not values[1].isdecimal() or not 1 <= int(values[1]) <= MOST_BARS:
        raise BadInput("not a bar", where=where, value=values[1], allowed=f"1 to {MOST_BARS}")
    return int(values[1])


def _tempo(text: str, where: str) -> Fraction:
    value = Fraction(text) if re.fullmatch(r"\d{1,4}(\.\d{1,6})?", text) else Fraction(0)
    if not 1 <= value <= 1000:
        raise BadInput("not a tempo", where=where, value=text, allowed="1 to 1000 quarters a minute")
    return value


def _meter(text: str, where: str) -> tuple[Fraction, Fraction]:
    form = re.fullmatch(r"(\d{1,2})/(1|2|4|8|16|32)", text)
    if form is None or int(form[1]) == 0:
        raise BadInput("not a meter", where=where, value=text, allowed="for example 4/4 or 6/8")
    beat = Fraction(4, int(form[2]))
    return int(form[1]) * beat, beat


def _scheme(text: str, where: str) -> LabelScheme:
    try:
        return LabelScheme(text.strip().lower())
    except ValueError:
        raise BadInput(
            "unknown label scheme", where=where, value=text, allowed=", ".join(scheme.value for scheme in LabelScheme)
        ) from None


def _stretches(tempos: Mapping[int, Fraction], meters: Mapping[int, tuple[Fraction, Fraction]]) -> tuple[Stretch, ...]:
    """One stretch for each bar at which tempo or meter changes. Without rows: 60 a minute, 4/4, used only for names."""
    found = [
        Stretch(
            first_bar=1,
            start_quarters=Fraction(0),
            start_s=Fraction(0),
            quarters_per_minute=tempos.get(1, Fraction(60)),
            bar_quarters=meters.get(1, (Fraction(4), Fraction(1)))[0],
            beat_quarters=meters.get(1, (Fraction(4), Fraction(1)))[1],
        )
    ]
    for bar in sorted({*tempos, *meters} - {1}):
        last = found[-1]
        start = last.start_quarters + (bar - last.first_bar) * last.bar_quarters
        length, beat = meters.get(bar, (last.bar_quarters, last.beat_quarters))
        found.append(
            Stretch(
                first_bar=bar,
                start_quarters=start,
                start_s=last.seconds_at(start),
                quarters_per_minute=tempos.get(bar, last.quarters_per_minute),
                bar_quarters=length,
                beat_quarters=beat,
            )
        )
    return tuple(found)
