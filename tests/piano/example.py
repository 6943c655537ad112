"""Shipped pianos and surveys that several tests start from, read once."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from rimside.files.schema_piano import survey_from_toml
from rimside.piano.model import Piano, Point
from rimside.piano.shipped import shipped_survey
from rimside.piano.survey import KeyPoint, Section, Survey, build


@cache
def survey(name: str = "grand_275") -> Survey:
    return survey_from_toml(shipped_survey(name), f"{name}.toml")


@cache
def piano(name: str = "grand_275") -> Piano:
    return build(survey(name))


def with_point(base: Survey, key: int, **changes: object) -> Survey:
    """The survey with one measured key changed."""

    def changed(point: KeyPoint) -> KeyPoint:
        return replace(point, **changes) if point.key == key else point  # type: ignore[arg-type]

    sections = tuple(
        replace(section, points=tuple(changed(point) for point in section.points)) for section in base.sections
    )
    return replace(base, sections=sections)


def with_section(base: Survey, name: str, **changes: object) -> Survey:
    """The survey with one section changed."""

    def changed(section: Section) -> Section:
        return replace(section, **changes) if section.name == name else section  # type: ignore[arg-type]

    return replace(base, sections=tuple(changed(section) for section in base.sections))


def point(x_mm: float, y_mm: float) -> Point:
    return Point(x_mm=x_mm, y_mm=y_mm)
