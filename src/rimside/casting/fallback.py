"""Technique fallback: a course that the written technique does not suit gets the one that the user's table names.

Which courses are wound, and what the owner allows, differs from piano to piano, so this is done for each piano anew.
Without a row for it nothing is changed and the figure stays uncast with its reason.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rimside.casting.rules import h06_tools, h11_permission
from rimside.kit import Kit
from rimside.piano.model import Piano
from rimside.score.instead import Because, Instead
from rimside.score.model import Figure, Technique


def with_fallback(figures: Iterable[Figure], piano: Piano, kit: Kit, table: tuple[Instead, ...]) -> tuple[Figure, ...]:
    """The figures with every technique that a row of the table replaces; `written` tells what the score asks for.

    The first row that fits the figure, and whose other technique suits all its courses and is allowed, counts. Motif
    and cut stay those of the written figure.
    """
    return tuple(_with_row(figure, piano, kit, table) for figure in figures)


def _with_row(figure: Figure, piano: Piano, kit: Kit, table: tuple[Instead, ...]) -> Figure:
    there = {course.key for course in piano.courses}
    if figure.spot is not None or not there.issuperset(figure.keys):
        return figure
    for row in table:
        if row.technique is figure.technique and _meant(row.because, figure, piano, kit):
            other = replace(figure, technique=row.use, written=figure.technique)
            if _suits(other, piano, kit):
                return other
    return figure


def _meant(because: Because, figure: Figure, piano: Piano, kit: Kit) -> bool:
    wound = [piano.course(key).wound for key in figure.keys]
    match because:
        case Because.WOUND:
            return any(wound)
        case Because.PLAIN:
            return not all(wound)
        case Because.FORBIDDEN:
            return h11_permission.forbidden(figure, kit.rows[figure.technique], piano.permissions) is not None


def _suits(figure: Figure, piano: Piano, kit: Kit) -> bool:
    row = kit.rows[figure.technique]
    alike = len(figure.keys) <= _MOST_COURSES.get(figure.technique, len(figure.keys))
    return (
        alike
        and h06_tools.misfit(figure, row, piano) is None
        and h11_permission.forbidden(figure, row, piano.permissions) is None
    )


_MOST_COURSES = {Technique.LINE_BOW: 1, Technique.FRICTION_STRIP: 1, Technique.STICK_BOW: 2}
"""Courses of one figure that one tool of these can have: see the table of techniques in docs/design.md."""
