"""Runs of keys, as people write them."""

from __future__ import annotations

import pytest

from rimside.errors import BadInput
from rimside.pitch import Key, LabelScheme, parse_spans, spans

KEYS = tuple(Key(key) for key in (1, 40, 41, 42, 88))


def test_runs_are_read_and_written() -> None:
    """A single key, a run, another key; in any order, each once."""
    assert parse_spans("C8, C4-D4 A0;C4") == KEYS
    assert spans(reversed(KEYS)) == "A0, C4–D4, C8"
    assert parse_spans(spans(KEYS)) == KEYS
    assert spans([]) == ""


@pytest.mark.parametrize("scheme", list(LabelScheme))
def test_every_scheme_reads_its_own_runs(scheme: LabelScheme) -> None:
    """What is written with semicolons and blanks comes back in every scheme, commas of Helmholtz labels included."""
    text = spans(KEYS, scheme).replace(", ", " ")
    assert parse_spans(text, scheme) == KEYS


def test_choirs_stand_apart() -> None:
    """Courses of a second choir follow the first, with the choir's number at both ends of a run."""
    keys = tuple(Key(key) for key in (40, 41, 140, 141, 142))
    assert spans(keys) == "C4–C♯4, C4.2–D4.2"
    assert parse_spans(spans(keys)) == keys


@pytest.mark.parametrize("text", ["", " ", "C4-", "-C4", "D4-C4", "C4-C5-C6", "C4-C5.2"])
def test_what_is_no_run(text: str) -> None:
    """Nothing, half a run, a run downwards, three ends, a run to another choir."""
    with pytest.raises(BadInput):
        parse_spans(text)
