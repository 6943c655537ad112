"""The production file."""

from __future__ import annotations

import pytest

from rimside.cautions import CAUTIONS
from rimside.errors import BadInput
from rimside.files.schema_production import DEFAULT_SECONDS, facts_from_toml
from rimside.pitch import Key, LabelScheme

LEAST = 'format = "rimside-production/1"\ntitle = "Slow Water"\nscore = "score.csv"\npianos = ["hall", "studio"]\n'


def test_four_lines_are_a_production() -> None:
    """What is left out has a visible default; the first piano is the main one."""
    facts = facts_from_toml(LEAST.encode())
    assert (facts.labels, facts.seconds, facts.seed) == (LabelScheme.SCIENTIFIC, DEFAULT_SECONDS, 1)
    assert facts.piano == "hall"
    assert facts.cautions_unread == tuple(CAUTIONS)


def test_pitch_colours_are_read_in_the_productions_scheme() -> None:
    """440 Hz is key 49 (ISO 16:1975), "A5" in the ordinal scheme (docs/design.md, section 1)."""
    text = LEAST + 'labels = "ordinal"\n[pitch_colours]\nA5 = "#00aa00"\n'
    assert facts_from_toml(text.encode()).pitch_colours == {Key(49): "#00AA00"}


def test_cautions_that_were_read_are_no_longer_unread() -> None:
    """Acknowledged cautions leave the list of the unread, the others stay."""
    facts = facts_from_toml((LEAST + 'cautions_read = ["lid", "rosin"]\n').encode())
    assert set(facts.cautions_unread) == set(CAUTIONS) - {"lid", "rosin"}


@pytest.mark.parametrize(
    "old, new, says",
    [
        ('"Slow Water"', '""', "production.toml, title"),
        ('"Slow Water"', "7", "title: not a text in quotes: 7"),
        ("score.csv", "score.pdf", "not a kind of score: 'score.pdf'; allowed: .musicxml"),
        ("score.csv", "../score.csv", "the score lies inside the production folder"),
        ("score.csv", "/tmp/score.csv", "the score lies inside the production folder"),
        ('["hall", "studio"]', "[]", "pianos: too few entries"),
        ('["hall", "studio"]', '"hall"', "pianos: not a list: 'hall'"),
        ('["hall", "studio"]', "[1]", "pianos no. 1: not a text in quotes: 1"),
        ("studio", "hall", "one piano is listed twice"),
        ("studio", "pianos/studio.toml", "without its folder and .toml"),
        ("studio", "studio--without-bo", "not the name of a piano file"),
        ("title", "titel", "did you mean title?"),
        ("pianos =", 'labels = "scientifc"\npianos =', "did you mean 'scientific'?"),
        ("pianos =", 'cautions_read = ["lids"]\npianos =', "did you mean 'lid'?"),
        ("pianos =", "seconds = 0\npianos =", "0; allowed: 1.0 or more"),
        ('"studio"]', '"studio"]\n[pitch_colours]\nC4 = "red"', "pitch_colours, C4: not a colour: 'red'"),
        ('"studio"]', '"studio"]\n[pitch_colours]\nH4 = "#FF0000"', "pitch_colours: not a scientific label: 'H4'"),
        ("pianos =", "seed = -1\npianos =", "-1; allowed: 0 or more"),
    ],
)
def test_slips_are_told_where_they_stand(old: str, new: str, says: str) -> None:
    """Each slip names the file, the key, and what would be right."""
    with pytest.raises(BadInput) as slip:
        facts_from_toml(LEAST.replace(old, new).encode())
    assert str(slip.value).startswith("production.toml")
    assert says in str(slip.value)
