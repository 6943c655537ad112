"""Survey files: what is read, and how each slip is told."""

from __future__ import annotations

import time

import pytest

from rimside.errors import BadInput
from rimside.files.schema_piano import SurveyTable, piano_from_toml, survey_from_toml
from rimside.files.toml import Table, read_toml, validate
from rimside.kit import PERMISSIONS
from rimside.piano.shipped import SHIPPED, shipped_survey, shipped_surveys
from rimside.score.model import Pedal
from tests.piano.example import piano

TEXT = shipped_survey("grand_275").decode()


def refused(text: str | bytes) -> BadInput:
    data = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(BadInput) as caught:
        piano_from_toml(data, "hall.toml")
    return caught.value


def changed(old: str, new: str) -> str:
    assert old in TEXT
    return TEXT.replace(old, new, 1)


def test_shipped_pianos() -> None:
    """Three, named after their lengths."""
    assert tuple(shipped_surveys()) == SHIPPED
    assert [piano(name).length_mm for name in SHIPPED] == [2750, 2100, 1700]
    with pytest.raises(KeyError):
        shipped_survey("grand_400")


def test_what_the_owners_allow() -> None:
    """The longest forbids magnets and preparation; the middle one bars two spots; the smallest has no sostenuto."""
    long, middle, small = (piano(name) for name in SHIPPED)
    assert set(PERMISSIONS) - long.permissions.allowed == {"magnets", "preparation"}
    assert middle.permissions.forbidden_spots == {"soundboard edge", "treble frame"}
    assert Pedal.SOSTENUTO not in small.pedals
    assert Pedal.SOSTENUTO in long.pedals


def test_the_same_spots_on_every_piano() -> None:
    """A piece for one shipped piano finds its spots on the others."""
    names = [{spot.name for spot in piano(name).spots} for name in SHIPPED]
    assert names[0] == names[1] == names[2]
    assert len(names[0]) == 6


def test_one_piano_has_a_short_strut() -> None:
    """The middle piano's short bar is less than half as long as its other bars."""
    lengths = {strut.name: strut.start.distance_mm(strut.end) for strut in piano("grand_210").struts}
    short = lengths.pop("short strut")
    assert short < min(lengths.values()) / 2


def test_reading_a_survey_is_quick() -> None:
    """Survey to piano within half a second (target), here with twice that for a busy machine."""
    start = time.perf_counter()
    piano_from_toml(TEXT.encode(), "hall.toml")
    assert time.perf_counter() - start < 1.0


def test_syntax_error_names_line_and_column() -> None:
    """A missing bracket: file, line and column."""
    error = refused(changed("[permissions]", "[permissions"))
    assert error.where.startswith("hall.toml, line ")
    assert "column" in error.where
    assert "not valid TOML" in error.what


def test_wrong_encoding_names_the_line() -> None:
    """A Latin-1 letter in a title."""
    error = refused(changed("concert grand, invented", "concert grand, invent\xe9").encode("latin-1"))
    assert error.where == "hall.toml, line 6"
    assert "UTF-8" in error.what


def test_utf16_is_guessed() -> None:
    """A file saved as UTF-16."""
    assert "UTF-16" in refused(TEXT.encode("utf-16")).hint


def test_byte_order_mark_is_allowed() -> None:
    """Some editors write one."""
    assert read_toml(b"\xef\xbb\xbfa = 1", "x.toml") == {"a": 1}


def test_misspelt_key_is_guessed() -> None:
    """The nearest known key is offered, and the missing key behind it is not told first."""
    error = refused(changed("rim_height_mm", "rim_hight_mm"))
    assert (error.what, error.value) == ("unknown key", "rim_hight_mm")
    assert "did you mean rim_height_mm?" in error.hint
    assert "1 more" in error.hint
    assert "rim_height_mm" in error.allowed


def test_misspelt_key_deep_inside() -> None:
    """The path names the section and the point."""
    error = refused(changed("wire_mm = 1.6", "wire = 1.6"))
    assert error.where == "hall.toml, sections no. 1 (name bass), points no. 1 (key 1), wire"
    assert "did you mean wire_mm?" in error.hint


def test_missing_key() -> None:
    """What is missing and where."""
    error = refused(changed("length_mm = 2750", ""))
    assert str(error) == "hall.toml, length_mm: length_mm is missing"


@pytest.mark.parametrize(
    ("old", "new", "what", "allowed"),
    [
        ("a4_hz = 440", 'a4_hz = "440"', "not a number", "a number"),
        ("a4_hz = 440", "a4_hz = nan", "not a finite number", "an ordinary number"),
        ("last_key = 70\npoints", "last_key = 70.5\npoints", "not a whole number", "a whole number"),
        ("over_strings = true", "over_strings = 1", "not true or false", "true or false"),
        ('name = "grand_275"', "name = 275", "not a text in quotes", "a text in quotes"),
        ("[dampers]", "[[dampers]]", "not a table", "a table"),
        ("strings = 1,", "strings = 4,", "too large", "3 or less"),
        ('kind = "case"', 'kind = "cas"', "not one of the choices", "'frame', 'case', 'string ends' or 'soundboard'"),
    ],
)  # fmt: skip
def test_values_of_the_wrong_kind(old: str, new: str, what: str, allowed: str) -> None:
    """Each says what is wrong and what is allowed."""
    error = refused(changed(old, new))
    assert (error.what, error.allowed) == (what, allowed)
    assert error.where.startswith("hall.toml, ")


def test_length_in_metres_or_cm_is_guessed() -> None:
    """2.75 and 275 where mm are meant."""
    assert refused(changed("length_mm = 2750", "length_mm = 2.75")).hint == "was it given in m?"
    assert refused(changed("length_mm = 2750", "length_mm = 275")).hint == "was it given in cm?"


def test_unknown_permission() -> None:
    """Permissions are those of the kit; a misspelt one would silently forbid."""
    error = refused(changed('"rosin"', '"rosins"'))
    assert (error.where, error.value) == ("hall.toml, permissions, allowed", "rosins")


def test_unknown_format() -> None:
    """A file of another version is not guessed at."""
    assert refused(changed("rimside-survey/1", "rimside-survey/2")).value == "rimside-survey/2"


def test_last_key_below_first() -> None:
    """A section upside down."""
    assert refused(changed("first_key = 21\nlast_key = 37", "first_key = 37\nlast_key = 21")).value == 21


def test_errors_of_the_piano_name_the_file() -> None:
    """What only building finds is told with the file in front."""
    error = refused(changed("wire_mm = 0.775", "wire_mm = 0.0305"))
    assert error.where == "hall.toml, course 88"
    assert "inches" in error.hint


def test_too_large_a_file() -> None:
    """A file of many megabytes is not parsed."""
    assert "too large" in refused(b"#" * 5_000_000).what


def test_deep_nesting_is_told() -> None:
    """Thousands of brackets are an error, not a crash."""
    with pytest.raises(BadInput):
        read_toml(b"a = " + b"[" * 20_000, "x.toml")


def test_extra_keys_are_refused_even_by_a_lax_model() -> None:
    """A schema that forgot to forbid extra keys is still strict here."""
    from pydantic import BaseModel

    class Lax(BaseModel):
        a: int

    with pytest.raises(BadInput, match="unknown key"):
        validate(Lax, {"a": 1, "b": 2}, "x.toml")
    with pytest.raises(BadInput, match="not a whole number"):
        validate(Lax, {"a": "1"}, "x.toml")


def test_message_of_a_validator_is_passed_on() -> None:
    """What a schema's own check says reaches the reader."""
    from pydantic import field_validator

    class Even(Table):
        a: int

        @field_validator("a")
        @classmethod
        def _even(cls, value: int) -> int:
            if value % 2:
                raise ValueError("must be even")
            return value

    with pytest.raises(BadInput, match="must be even"):
        validate(Even, {"a": 3}, "x.toml")


def test_unknown_key_in_a_table_of_tables() -> None:
    """Known keys are found through dictionaries and optional tables too."""

    class Inner(Table):
        count: int = 0

    class Outer(Table):
        kinds: dict[str, Inner]
        extra: Inner | None = None

    with pytest.raises(BadInput, match="did you mean count"):
        validate(Outer, {"kinds": {"bow": {"cuont": 1}}}, "x.toml")
    with pytest.raises(BadInput, match="did you mean count"):
        validate(Outer, {"kinds": {}, "extra": {"coun": 1}}, "x.toml")


def test_read_survey_is_the_file() -> None:
    """Spot checks of values read from the longest piano's file."""
    read = survey_from_toml(TEXT.encode(), "hall.toml")
    assert (read.name, read.length_mm, len(read.sections), len(read.spots)) == ("grand_275", 2750, 5, 6)
    assert read.outline[0] == read.outline[-1]
    assert len(read.outline) >= 31
    assert isinstance(validate(SurveyTable, read_toml(TEXT.encode(), "x"), "x"), SurveyTable)
