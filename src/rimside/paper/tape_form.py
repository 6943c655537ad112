"""The printed form for a survey with a tape: where each reading is taken, how, and room to write it down."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from rimside.errors import BadInput
from rimside.kit import PERMISSIONS
from rimside.paper import svg
from rimside.paper.lettering import FAMILIES, settable
from rimside.paper.papers import PAPERS_MM
from rimside.paper.plan_case import IVORY, WHITE_KEY_MM
from rimside.paper.typeset import typeset
from rimside.piano.model import Course, Piano, Point
from rimside.piano.readings import Counts, Step, role, split, steps

INK, PALE, CORE, MORE = "#1F1B18", "#B9B1A6", "#1F1B18", "#5C554D"
BUBBLE_MM, LETTER_MM, HEAD_MM = 25.0, 32.0, 24.0
_LEVEL_MM = 19.0
PAPERS = ("a4", "letter")


def tape_form(piano: Piano, counts: Counts, *, told: bool, paper: str = "a4") -> bytes:
    """The form as PDF.

    Parameters
    ----------
    piano : the piano drawn as an example; its sections are those of `counts`, or nearly.
    counts : the keys that the readings speak of.
    told : whether a person has counted those keys; if not, the form leaves room for them.

    Raises
    ------
    BadInput : unknown paper.
    """
    if paper not in PAPERS:
        raise BadInput("unknown paper", where="--paper", value=paper, allowed=", ".join(PAPERS))
    rows = list(enumerate(steps(counts), start=1))
    return typeset(
        "tape.typ",
        {
            "paper": list(PAPERS_MM[paper]),
            "fonts": list(FAMILIES),
            "piano": settable(piano.title),
            "told": told,
            "counts": _counts(counts),
            "permissions": [list(row) for row in PERMISSIONS.items()],
            "readings": list(_rows(rows, counts)),
        },
        {"tape": form_svg(piano, rows)},
    )


def _counts(counts: Counts) -> list[dict[str, object]]:
    return [
        {"name": "last_keys", "what": "the last key of each section, from the bass", "like": list(counts.last_keys)},
        {"name": "last_single", "what": "the last key with one string", "like": [counts.last_single]},
        {"name": "last_double", "what": "the last key with two strings", "like": [counts.last_double]},
        {"name": "first_plain", "what": "the first key without copper", "like": [counts.first_plain]},
        {"name": "last_damper", "what": "the last key with a damper", "like": [counts.last_damper]},
    ]


def _rows(rows: Sequence[tuple[int, Step]], counts: Counts) -> Iterator[dict[str, object]]:
    """The lines of the table; how to hold the tape is told once for each kind."""
    first: dict[str, int] = {}
    for number, step in rows:
        kind = split(step.name)[0]
        seen = first.setdefault(kind, number)
        yield {
            "number": number,
            "name": step.name,
            "what": re.sub(r" (of|at|after) key \{key\}", "", step.kind.what),
            "core": step.core,
            "key": step.key or 0,
            "role": "" if step.key is None else role(counts, step.key),
            "how": step.kind.how if seen == number else f"as {seen}",
            "error": step.kind.plus_minus_mm,
        }


# --- the picture ------------------------------------------------------------------------------------------------------


def form_svg(piano: Piano, rows: Sequence[tuple[int, Step]]) -> str:
    """The plan in lines, one unit a mm, keyboard at the left: each reading as an arrow with its number."""
    edge = piano.outline
    top, bottom = min(p.x_mm for p in edge), max(p.x_mm for p in edge)
    left, right = min(p.y_mm for p in edge), max(p.y_mm for p in edge)
    drawn = _Drawing(piano, rows)
    layers = [*drawn.instrument(), *drawn.side_view(), *drawn.arrows(), *drawn.bubbles]
    box = (left - 170.0, top - 60.0, right - left + 230.0, bottom - top + 190.0)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box[0]:.0f} {box[1]:.0f} {box[2]:.0f} {box[3]:.0f}" '
            f'width="{box[2]:.0f}" height="{box[3]:.0f}" font-family="{", ".join(FAMILIES)}">',
            *layers,
            "</svg>",
        ]
    )


class _Drawing:
    """The parts of the picture; bubbles are kept for last, so that no line crosses a number."""

    def __init__(self, piano: Piano, rows: Sequence[tuple[int, Step]]) -> None:
        self.piano, self.rows = piano, rows
        self.courses = {int(course.key): course for course in piano.courses}
        self.bubbles: list[str] = []
        self._taken: list[Point] = []
        self._level = 0

    def instrument(self) -> Iterator[str]:
        """Case, keys, strings, struts and dampers as thin lines; the strings that are read are darker."""
        read = {step.key for _, step in self.rows}
        yield svg.path(self.piano.outline, closed=True, fill="#FBF9F5", stroke=INK, stroke_width=7)
        keyboard = self.piano.keyboard
        if keyboard is not None:
            yield svg.rect(0.0, WHITE_KEY_MM, keyboard.from_mm, keyboard.to_mm, fill=IVORY, stroke=PALE, stroke_width=3)
            for number in range(1, 52):
                x_mm = keyboard.from_mm + number * (keyboard.to_mm - keyboard.from_mm) / 52
                yield svg.line(_at(x_mm, 0.0), _at(x_mm, WHITE_KEY_MM), stroke="#DDD6CA", stroke_width=2)
        for strut in self.piano.struts:
            yield svg.line(strut.start, strut.end, stroke="#E9DFC9", stroke_width=strut.width_mm)
        for course in self.piano.courses:
            colour, width = ("#6E665C", 4) if int(course.key) in read else ("#DDD6CA", 2)
            yield svg.line(course.near, course.far, stroke=colour, stroke_width=width)
        felts = [course.at((c.from_mm + c.to_mm) / 2) for course in self.piano.courses if (c := course.damper)]
        yield svg.path(felts, fill="none", stroke=MORE, stroke_width=7, stroke_dasharray="3 9")

    def arrows(self) -> Iterator[str]:
        """Every reading in turn."""
        for number, step in self.rows:
            kind, key = split(step.name)
            if kind in ("rim_height", "key_height", "string_height", "bass_height"):
                continue
            if key is None:
                yield from self._of_case(kind, number, step.core)
            elif kind.startswith("strut_"):
                yield from self._of_strut(kind, key, number, step.core)
            else:
                yield from self._of_course(kind, self.courses[key], number, step.core)

    def _of_case(self, kind: str, number: int, core: bool) -> Iterator[str]:
        edge, keyboard = self.piano.outline, self.piano.keyboard
        xs, ys = [point.x_mm for point in edge], [point.y_mm for point in edge]
        to_mm = 1225.0 if keyboard is None else keyboard.to_mm
        ends = {
            "length": (_at(max(xs) + 60, min(ys)), _at(max(xs) + 60, max(ys)), 0.5),
            "width": (_at(min(xs), min(ys) - 70), _at(max(xs), min(ys) - 70), 0.5),
            "left_cheek": (_at(min(xs), 75.0), _at(0.0, 75.0), 0.5),
            "right_cheek": (_at(to_mm, 75.0), _at(max(xs), 75.0), 0.5),
        }
        yield from self._arrow(*ends[kind], number, core)

    def _of_course(self, kind: str, course: Course, number: int, core: bool) -> Iterator[str]:
        near, far = course.near, course.far
        if kind == "length_K":
            yield from self._arrow(near, far, 0.62 if course.length_mm > 300 else 1.6, number, core)
        elif kind == "damper_K" and course.damper is not None:
            felt = course.at((course.damper.from_mm + course.damper.to_mm) / 2)
            yield from self._arrow(_at(felt.x_mm - 16, 0.0), _at(felt.x_mm - 16, felt.y_mm), 0.8, number, core)
        elif kind in ("near_y_K", "far_y_K"):
            end = near if kind == "near_y_K" else far
            share = 0.55 if kind == "near_y_K" else 0.9
            yield from self._arrow(_at(end.x_mm, 0.0), end, share, number, core)
        elif kind == "near_x_K":
            y_mm = WHITE_KEY_MM + 38.0 + _LEVEL_MM * self._level
            self._level += 1
            yield svg.line(_at(near.x_mm, y_mm), near, stroke=PALE, stroke_width=2.5)
            yield from self._arrow(_at(0.0, y_mm), _at(near.x_mm, y_mm), 0.75 if near.x_mm > 60 else 3.5, number, core)
        elif kind == "far_x_K":
            yield from self._to_the_bass_end(_at(far.x_mm, far.y_mm + 16.0), 0.5, number, core)

    def _of_strut(self, kind: str, after: int, number: int, core: bool) -> Iterator[str]:
        """To the end of the bar that is drawn where the one after a key stands."""
        gap_mm = (self.courses[after].near.x_mm + self.courses[after + 1].near.x_mm) / 2.0
        over = any(step.name == f"strut_{after}_far_x" for _, step in self.rows)
        alike = [strut for strut in self.piano.struts if strut.over_strings == over] or list(self.piano.struts)
        end = min(alike, key=lambda strut: abs(strut.start.x_mm - gap_mm)).end
        if kind == "strut_K_far_y":
            yield from self._arrow(_at(end.x_mm, 0.0), end, 1.0 + 36.0 / end.y_mm, number, core)
        else:
            yield from self._to_the_bass_end(_at(end.x_mm, end.y_mm + 10.0), 0.7, number, core)

    def _to_the_bass_end(self, point: Point, share: float, number: int, core: bool) -> Iterator[str]:
        yield svg.line(_at(0.0, point.y_mm - 30), _at(0.0, point.y_mm + 30), stroke=PALE, stroke_width=3)
        yield from self._arrow(_at(0.0, point.y_mm), point, share, number, core)

    def _arrow(self, start: Point, end: Point, share: float, number: int, core: bool) -> Iterator[str]:
        """A line with a head at each end and its number at a share of it, or beside that where it is taken."""
        dash = {} if core else {"stroke_dasharray": "14 9"}
        yield svg.line(start, end, stroke=CORE if core else MORE, stroke_width=5 if core else 4, **dash)
        yield from (_head(a, b, CORE if core else MORE) for a, b in ((start, end), (end, start)))
        self._bubble(start, end, share, number, core)

    def _bubble(self, start: Point, end: Point, share: float, number: int, core: bool) -> None:
        length_mm = max(start.distance_mm(end), 1.0)
        tries = (share + step * sign * 30.0 / length_mm for step in range(20) for sign in (1, -1))
        spots = (_along(start, end, at) for at in tries)
        at = next(
            (spot for spot in spots if all(spot.distance_mm(other) > 2.15 * BUBBLE_MM for other in self._taken)),
            _along(start, end, share),
        )
        self._taken.append(at)
        if max(at.distance_mm(start), at.distance_mm(end)) > length_mm:
            tip = min(start, end, key=at.distance_mm)
            self.bubbles.append(svg.line(at, tip, stroke=INK, stroke_width=2.5))
        fill, letters = (CORE, "#FFFFFF") if core else ("#FFFFFF", INK)
        self.bubbles.append(svg.circle(at, BUBBLE_MM, fill=fill, stroke=INK, stroke_width=4))
        self.bubbles.append(svg.text(at, str(number), LETTER_MM, fill=letters, font_weight="bold"))

    def side_view(self) -> Iterator[str]:
        """The heights: floor, case, keys and strings from the side, in the corner that the bent side leaves free."""
        edge = self.piano.outline
        floor = max(p.x_mm for p in edge) + 20.0
        left = max(p.y_mm for p in edge) - 690.0
        scale = 0.47

        def up(height_mm: float) -> float:
            return floor - scale * height_mm

        rim, keys = self.piano.rim_height_mm, self.piano.keyboard_height_mm
        plain, bass = self.courses[40].height_mm, self.courses[10].height_mm
        case = [_at(up(rim), left + 660), _at(up(rim), left + 120), _at(up(keys + 60), left + 60),
                _at(up(keys), left + 60), _at(up(keys), left), _at(up(keys - 70), left),
                _at(up(rim - 330), left + 660)]  # fmt: skip
        yield svg.path(case, closed=True, fill="#FBF9F5", stroke=INK, stroke_width=5)
        yield svg.line(_at(floor, left - 60), _at(floor, left + 700), stroke=INK, stroke_width=5)
        for height_mm, from_mm in ((plain, 150.0), (bass, 330.0)):
            yield svg.line(_at(up(height_mm), left + from_mm), _at(up(height_mm), left + 640), stroke=MORE,
                           stroke_width=4)  # fmt: skip
        tops = {"key_height": (keys, 20.0), "string_height": (plain, 190.0), "bass_height": (bass, 360.0),
                "rim_height": (rim, 520.0)}  # fmt: skip
        for number, step in self.rows:
            if step.name in tops:
                height_mm, at_mm = tops[step.name]
                yield from self._arrow(
                    _at(floor, left + at_mm), _at(up(height_mm), left + at_mm), 0.4, number, step.core
                )


def _at(x_mm: float, y_mm: float) -> Point:
    return Point(x_mm=x_mm, y_mm=y_mm)


def _along(start: Point, end: Point, share: float) -> Point:
    return _at(start.x_mm + share * (end.x_mm - start.x_mm), start.y_mm + share * (end.y_mm - start.y_mm))


def _head(tip: Point, other: Point, colour: str) -> str:
    """The head of an arrow at `tip`, coming from `other`; smaller on short lines."""
    length_mm = max(tip.distance_mm(other), 1.0)
    ux, uy = (other.x_mm - tip.x_mm) / length_mm, (other.y_mm - tip.y_mm) / length_mm
    size = min(HEAD_MM, 0.45 * length_mm)
    wings = [
        _at(tip.x_mm + size * (ux + side * 0.33 * uy), tip.y_mm + size * (uy - side * 0.33 * ux)) for side in (1, -1)
    ]
    return svg.path([tip, *wings], closed=True, fill=colour)
