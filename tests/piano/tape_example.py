"""Readings as a person would take them of a shipped piano, with or without the tape's errors."""

from __future__ import annotations

import random
from dataclasses import replace

from rimside.piano.model import Strut
from rimside.piano.pattern import Pattern
from rimside.piano.readings import Counts, Reading, split, steps
from rimside.piano.shipped import SHIPPED
from rimside.piano.tape import Known
from tests.piano.example import piano, survey

NONE = Counts(last_keys=(88,), last_single=0, last_double=0, first_plain=1, last_damper=1, struts_after=())
EVERY = [survey(name) for name in SHIPPED]


def counts_of(name: str) -> Counts:
    return Pattern(survey=survey(name), counts=NONE, length_mm=survey(name).length_mm).own


def true_mm(name: str, reading: str) -> float:
    """What a reading is on a shipped piano, read off its survey and courses."""
    kind, key = split(reading)
    xs = [point.x_mm for point in survey(name).outline]
    if key is None:
        return {
            "length": survey(name).length_mm, "width": max(xs) - min(xs), "left_cheek": -min(xs),
            "right_cheek": max(xs) - 1225.0, "rim_height": survey(name).rim_height_mm,
            "key_height": survey(name).keyboard_height_mm, "string_height": height_mm(name, 40),
            "bass_height": height_mm(name, 10),
        }[kind]  # fmt: skip
    if kind == "damper_K":
        dampers = survey(name).dampers
        assert dampers is not None
        return next(point.y_mm for point in dampers.points if point.key == key)
    if kind.startswith("strut_K"):
        strut = strut_after(name, key)
        return {
            "near_x": strut.start.x_mm, "near_y": strut.start.y_mm, "far_x": strut.end.x_mm, "far_y": strut.end.y_mm,
            "width": strut.width_mm,
        }[kind.removeprefix("strut_K_")]  # fmt: skip
    course = next(course for course in piano(name).courses if course.key == key)
    return {
        "length_K": course.length_mm, "near_x_K": course.near.x_mm, "near_y_K": course.near.y_mm,
        "far_x_K": course.far.x_mm, "far_y_K": course.far.y_mm,
    }[kind]  # fmt: skip


def strut_after(name: str, key: int) -> Strut:
    """The bar of a shipped piano between a key and the next."""
    struts = sorted(survey(name).struts, key=lambda strut: strut.start.x_mm)
    return struts[counts_of(name).struts_after.index(key)]


def height_mm(name: str, key: int) -> float:
    return next(course.height_mm for course in piano(name).courses if course.key == key)


def known(name: str, like: str | None = None, seed: int | None = None, all_of_it: bool = False) -> Known:
    """The readings of the form's first part (or of all of it); with a seed each is off by its standard error."""
    counts, errors = counts_of(name), random.Random(seed)
    taken = []
    for step in steps(counts):
        if step.core or all_of_it:
            off = 0.0 if seed is None else errors.gauss(0.0, step.kind.plus_minus_mm)
            mm = true_mm(name, step.name) + off
            taken.append(Reading(name=step.name, mm=round(mm), plus_minus_mm=step.kind.plus_minus_mm))
    return Known(name="hall", title="The grand in the hall", counts=counts, readings=tuple(taken), like=like)


def with_reading(base: Known, name: str, mm: float, plus_minus_mm: float = 3.0) -> Known:
    """The same with one reading changed or added."""
    others = tuple(reading for reading in base.readings if reading.name != name)
    return replace(base, readings=(*others, Reading(name=name, mm=mm, plus_minus_mm=plus_minus_mm)))
