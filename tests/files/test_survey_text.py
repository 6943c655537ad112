"""Surveys written as files: what is read back is what was written."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimside.errors import BadInput
from rimside.files.schema_piano import survey_from_toml
from rimside.files.survey_text import survey_text
from rimside.kit import PERMISSIONS
from rimside.piano.geometry import FloorObstacle
from rimside.piano.model import Choir, Keyboard, Permissions, Point, Spot, Strut
from rimside.piano.shipped import SHIPPED, shipped_survey
from rimside.piano.survey import DamperPoint, Dampers, KeyPoint, Section, StrikePoint, Survey, WireRange
from rimside.score.model import Pedal

NAMES = st.text(st.characters(codec="utf-8"), min_size=1, max_size=12)
MM = st.floats(-3000, 3000)
ABOVE = st.floats(0.1, 20)
KEYS = st.integers(1, 88)
POINTS = st.builds(Point, x_mm=MM, y_mm=MM)
KEY_POINTS = st.builds(
    KeyPoint, key=KEYS, near=POINTS, far=POINTS, strings=st.integers(1, 3), spacing_mm=st.floats(0, 20), wire_mm=ABOVE,
    wrap_mm=st.none() | ABOVE, height_mm=st.floats(500, 1300),
)  # fmt: skip
WIRES = st.builds(WireRange, first_key=KEYS, last_key=KEYS, wire_mm=ABOVE)


def tuples(of: st.SearchStrategy[Any], least: int = 0) -> st.SearchStrategy[tuple[Any, ...]]:
    return st.lists(of, min_size=least, max_size=3).map(tuple)


@st.composite
def sections(draw: st.DrawFn) -> Section:
    first, last = sorted((draw(KEYS), draw(KEYS)))
    return Section(
        name=draw(NAMES), first_key=first, last_key=last, points=draw(tuples(KEY_POINTS, 1)), wires=draw(tuples(WIRES)),
        material=draw(st.sampled_from(["steel", "brass"])), choir=draw(st.integers(1, 3)),
    )  # fmt: skip


DAMPERS = st.builds(
    Dampers, last_key=KEYS, choirs=st.sampled_from([(1,), (2,), (1, 2)]),
    points=tuples(st.builds(DamperPoint, key=KEYS, y_mm=MM, felt_mm=st.floats(1, 120)), 1),
)  # fmt: skip
KINDS = ["frame", "case", "string ends", "soundboard"]
SURVEYS = st.builds(
    Survey,
    name=NAMES,
    title=NAMES,
    length_mm=st.floats(300, 3500),
    a4_hz=st.floats(380, 480),
    outline=tuples(POINTS),
    rim_height_mm=st.floats(600, 1400),
    keyboard_height_mm=st.floats(500, 1000),
    sections=st.lists(sections(), min_size=1, max_size=3, unique_by=lambda section: section.name).map(tuple),
    dampers=DAMPERS,
    strike=tuples(st.builds(StrikePoint, key=KEYS, y_mm=MM)),
    struts=tuples(
        st.builds(Strut, name=NAMES, start=POINTS, end=POINTS, width_mm=st.floats(1, 150), over_strings=st.booleans())
    ),
    spots=tuples(st.builds(Spot, name=NAMES, kind=st.sampled_from(KINDS), at=POINTS, height_mm=st.floats(300, 1300))),
    floor=tuples(
        st.builds(FloorObstacle, name=NAMES, at=POINTS, radius_mm=st.floats(0, 3000), to=st.none() | POINTS)
    ),
    pedals=st.frozensets(st.sampled_from(Pedal)),
    permissions=st.builds(
        Permissions, allowed=st.frozensets(st.sampled_from(sorted(PERMISSIONS))), note=NAMES,
        forbidden_spots=st.frozensets(NAMES, max_size=3),
    ),
    place_spacing_mm=st.floats(100, 1000),
    half_body_mm=st.floats(50, 500),
    measured=st.frozensets(NAMES, max_size=12),
    keyboard=st.builds(Keyboard, from_mm=st.floats(-500, 0), to_mm=st.floats(1, 2000), first_key=st.integers(1, 40),
                       last_key=st.integers(41, 88)),
    choirs=tuples(st.builds(Choir, number=st.integers(1, 3), name=NAMES, semitones_up=st.integers(-24, 24))),
)  # fmt: skip


@given(SURVEYS)
def test_what_is_written_is_read_back(survey: Survey) -> None:
    """Any survey, names with quotes, line ends and control characters among them, comes back equal."""
    text = survey_text(survey, {"head": ["A note."], "struts": ["Another # note."]})
    assert survey_from_toml(text.encode(), "written") == survey


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_pianos_come_back(name: str) -> None:
    """Each shipped survey written and read again, in about as many lines as its file has without comments."""
    survey = survey_from_toml(shipped_survey(name), name)
    text = survey_text(survey)
    assert survey_from_toml(text.encode(), name) == survey
    assert max(map(len, text.splitlines())) <= 140
    assert len(text.splitlines()) <= 1.05 * len(shipped_survey(name).splitlines())


def test_other_instruments_come_back() -> None:
    """A guitar without keyboard and dampers, and a choir, are written as what they are."""
    piano = survey_from_toml(shipped_survey("grand_210"), "grand_210")
    guitar = Survey(
        name="guitar", title="A guitar", length_mm=1000.0, outline=piano.outline, rim_height_mm=900.0,
        keyboard_height_mm=700.0, sections=piano.sections, dampers=None, instrument="guitar", keyboard=None,
    )  # fmt: skip
    assert survey_from_toml(survey_text(guitar).encode(), "guitar") == guitar


def test_notes_stand_as_comments_before_their_place() -> None:
    """A long note is wrapped, each line a comment, before the table it belongs to."""
    survey = survey_from_toml(shipped_survey("grand_170"), "grand_170")
    text = survey_text(survey, {"section bass": ["Wraps are assumed. " * 12]})
    lines = text.splitlines()
    at = lines.index('name = "bass"')
    assert lines[at - 1] == "[[sections]]"
    assert lines[at - 2].startswith("# ") and "Wraps are assumed." in lines[at - 2]
    assert all(len(line) <= 118 for line in lines if line.startswith("#"))
    assert tomllib.loads(text)["sections"][0]["name"] == "bass"


def test_what_the_format_cannot_say_is_refused() -> None:
    """A piano without dampers, and notes for a place that is not there."""
    survey = survey_from_toml(shipped_survey("grand_170"), "grand_170")
    with pytest.raises(BadInput, match="dampers"):
        survey_text(replace(survey, dampers=None))
    with pytest.raises(KeyError, match="section alto"):
        survey_text(survey, {"section alto": ["?"]})
