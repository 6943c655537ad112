"""The vocabulary: its table, what a phrase means, and techniques.toml laid over it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.score import word_table
from rimside.score.instead import Because, Instead
from rimside.score.model import Mute, Pedal, Technique, Touch
from rimside.score.words import default_vocabulary, normal, template_toml, vocabulary_from

DEFAULTS = default_vocabulary()
DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.parametrize("technique", list(Technique))
def test_every_word_of_the_table_means_its_technique(technique: Technique) -> None:
    """Each row of the table is understood as it stands, in capitals, and with a full stop."""
    for word in word_table.TECHNIQUE_WORDS[technique]:
        for spelled in (word, word.upper(), f"{word}.", f" {word} "):
            meaning = DEFAULTS.meaning(spelled)
            assert meaning is not None and meaning.technique is technique, spelled


def test_no_phrase_has_two_meanings() -> None:
    """A phrase stands in one table only, so that no order of looking up decides."""
    tables = (
        DEFAULTS.techniques,
        DEFAULTS.touches,
        DEFAULTS.mutes,
        DEFAULTS.spots,
        DEFAULTS.essential,
        DEFAULTS.dry,
        DEFAULTS.cues,
        DEFAULTS.pedals,
        DEFAULTS.ignored,
        DEFAULTS.tempo,
    )
    phrases = [phrase for table in tables for phrase in table]
    assert sorted(phrases) == sorted(set(phrases))
    words = [normal(word) for rows in word_table.TECHNIQUE_WORDS.values() for word in rows]
    assert sorted(words) == sorted(set(words))


def test_every_part_name_decides_its_technique() -> None:
    """Part names of the table decide, with a number at their end or without."""
    for technique, names in word_table.PART_WORDS.items():
        for name in names:
            for spelled in (name, f"{name} 2", f"{name.title()} II", f"{name} (3)"):
                assert DEFAULTS.part_technique(spelled) is technique, spelled
    assert DEFAULTS.part_technique("Piano") is None


@pytest.mark.parametrize(
    ("phrase", "touch"),
    [
        ("touch 1/3", (1, 3)),
        ("Flageolett 1/2", (1, 2)),
        ("node 2/5", (2, 5)),
        ("harm. 3 / 4", (3, 4)),
        ("Armonico 1/16", (1, 16)),
    ],
)
def test_touches(phrase: str, touch: tuple[int, int]) -> None:
    """A touch word followed by a fraction in lowest terms."""
    meaning = DEFAULTS.meaning(phrase)
    assert meaning is not None and meaning.touch == Touch(k=touch[0], n=touch[1])


@pytest.mark.parametrize("phrase", ["touch", "touch 2/4", "touch 3/3", "touch 0/2", "touch 1/17", "1/3", "gong 1/2"])
def test_touches_that_are_none(phrase: str) -> None:
    """No node, a reducible one, one beyond 16, or no touch word: not understood."""
    assert DEFAULTS.meaning(phrase) is None


@pytest.mark.parametrize(
    ("phrase", "n"),
    [
        ("partial 3", 3),
        ("Partial 16.", 16),
        ("harmonic 5", 5),
        ("3rd partial", 3),
        ("2nd harmonic", 2),
        ("5e partiel", 5),
        ("3° armonico", 3),
        ("4. Teilton", 4),
        ("touch partial 7", 7),
        ("berühren 3. Teilton", 3),
        ("harm. 6", 6),
    ],
)
def test_partials_at_any_node(phrase: str, n: int) -> None:
    """A word for partials with a number after or before it leaves the node open."""
    meaning = DEFAULTS.meaning(phrase)
    assert meaning is not None and meaning.touch == Touch(k=1, n=n, loose=True)


@pytest.mark.parametrize(
    "phrase", ["partial", "partial 1", "partial 17", "touch 3", "node 3", "3 hammers", "partial 0", "3rd"]
)
def test_partials_that_are_none(phrase: str) -> None:
    """The first partial is no harmonic, a touch word with a mere number is a slip for k/n, others mean nothing."""
    assert DEFAULTS.meaning(phrase) is None


def test_a_touch_ends_a_partial_and_the_other_way_round() -> None:
    """Both are one kind: the later one holds, and "touch off" ends either."""
    ends = DEFAULTS.meaning("touch off")
    assert ends is not None and ends.touch_off
    vocabulary = vocabulary_from({"touches": {"glassy": "partial 5", "half": "1/2"}})
    glassy, half = vocabulary.meaning("glassy"), vocabulary.meaning("half")
    assert glassy is not None and glassy.touch == Touch(k=1, n=5, loose=True)
    assert half is not None and half.touch == Touch(k=1, n=2)


def test_other_kinds() -> None:
    """Mutes, spots, essential, cues, pedals, dynamics and known expression."""
    found = {
        text: DEFAULTS.meaning(text)
        for text in (
            "con sord.",
            "senza sord.",
            "auf den Rahmen",
            "essential",
            "essential off",
            "cue: all breathe",
            "una corda",
            "mf",
            "dolce",
            "rit.",
        )
    }
    assert all(found.values())
    assert [
        getattr(found[text], kind)
        for text, kind in (
            ("con sord.", "mute"),
            ("senza sord.", "mute"),
            ("auf den Rahmen", "spot"),
            ("essential", "essential"),
            ("essential off", "essential"),
            ("cue: all breathe", "cue"),
            ("una corda", "pedal"),
            ("mf", "dynamic"),
            ("dolce", "ignored"),
            ("rit.", "tempo"),
        )
    ] == [Mute.MOULDED, Mute.NONE, "frame", True, False, "all breathe", (Pedal.UNA_CORDA, True), "mf", True, True]


def test_a_direction_is_read_whole_or_piece_by_piece() -> None:
    """ "arco, moulded mute, p" is three phrases; an unknown piece stays alone."""
    found = DEFAULTS.meanings("arco, moulded mute; with a feather")
    assert [(text, meaning is not None) for text, meaning in found] == [
        ("arco", True),
        ("moulded mute", True),
        ("with a feather", False),
    ]
    assert [text for text, _ in DEFAULTS.meanings("poco a poco\nrit.")] == ["poco a poco rit."]


def test_nothing_is_matched_in_part() -> None:
    """A known word inside an unknown phrase decides nothing."""
    assert DEFAULTS.meaning("not arco but something else") is None


def test_the_template_changes_nothing() -> None:
    """The commented template is TOML and leaves the defaults as they are."""
    assert vocabulary_from(tomllib.loads(template_toml())) == DEFAULTS


def test_every_example_of_the_template_is_accepted() -> None:
    """With the comments taken off its examples, the template is read and each example works."""
    lines = template_toml().splitlines()
    shown = [
        line.removeprefix("# ") if number and lines[number - 1].startswith("[") else line
        for number, line in enumerate(lines)
    ]
    vocabulary = vocabulary_from(tomllib.loads("\n".join(shown)))
    found = vocabulary.meaning("with thread"), vocabulary.meaning("half-way"), vocabulary.meaning("like glass")
    assert [one is not None for one in found] == [True, True, True]
    assert vocabulary.part_technique("Low rubbers 2") is Technique.FRICTION_STRIP


def test_a_row_moves_a_phrase() -> None:
    """A phrase of the file means what the file says and nothing else; "forget" takes it away."""
    assert vocabulary_from({"spots": {"Bow": "bow rack"}}).meaning("bow") is not None
    moved = vocabulary_from({"spots": {"Bow": "bow rack"}}).meaning("bow")
    assert moved is not None and (moved.spot, moved.technique) == ("bow rack", None)
    assert vocabulary_from({"words": {"arco": "forget"}}).meaning("arco") is None
    ignored = vocabulary_from({"ignore": {"words": ["arco"]}}).meaning("arco")
    assert ignored is not None and ignored.ignored


@pytest.mark.parametrize(
    ("table", "value", "hint"),
    [
        ({"word": {}}, "word", "words"),
        ({"words": {"scrape": "line bwo"}}, "line bwo", "line bow"),
        ({"parts": {"Scrapers": "frictionstrip"}}, "frictionstrip", "friction strip"),
        ({"mutes": {"putty": "molded mute"}}, "molded mute", "moulded mute"),
        ({"pedals": {"soft": "una corda down"}}, "una corda down", "una-corda down"),
        ({"ignore": {"word": []}}, "word", "words"),
    ],
)
def test_unknown_names_get_the_nearest(table: dict[str, object], value: str, hint: str) -> None:
    """A slip is refused with the nearest known name as a question."""
    with pytest.raises(BadInput) as caught:
        vocabulary_from(table)
    assert caught.value.value == value
    assert caught.value.hint == f"did you mean {hint!r}?"
    assert "techniques.toml" in caught.value.where


@pytest.mark.parametrize(
    "table",
    [
        {"touches": {"half": "2/4"}},
        {"touches": {"half": "partial 17"}},
        {"touches": {"half": "some partial 3"}},
        {"essential": {"must": "yes"}},
        {"words": "arco"},
        {"ignore": {"words": "dolce"}},
        {"spots": {"here": 3}},
    ],
)
def test_wrong_values_are_refused(table: dict[str, object]) -> None:
    """A value of the wrong kind names its row."""
    with pytest.raises(BadInput, match=r"techniques\.toml"):
        vocabulary_from(table)


@pytest.mark.parametrize(
    ("phrase", "dry"), [("secco", True), ("Étouffé", True), ("dry.", True), ("l.v.", False), ("let ring", False)]
)
def test_dry_words(phrase: str, dry: bool) -> None:
    """Words that cut the sound off, and those that let it ring again; a finger mute is still a mute."""
    meaning = DEFAULTS.meaning(phrase)
    assert meaning is not None and meaning.dry is dry
    finger = DEFAULTS.meaning("étouffé avec le doigt")
    assert finger is not None and (finger.mute, finger.dry) == (Mute.FINGER, None)


def test_a_user_adds_dry_words() -> None:
    """[dry] in techniques.toml, true or false; anything else is refused with its place."""
    vocabulary = vocabulary_from({"dry": {"cut off": True, "secco": "forget"}})
    assert vocabulary.meaning("cut off") is not None
    assert vocabulary.meaning("secco") is None
    with pytest.raises(BadInput, match=r"\[dry\] 'cut off'"):
        vocabulary_from({"dry": {"cut off": "yes"}})


INSTEAD = {"technique": "line bow", "on": "wound", "use": "friction strip"}


def test_rows_of_what_may_stand_in() -> None:
    """[[instead]] rows are kept in their order; the example of the template is such a row."""
    row = Instead(technique=Technique.LINE_BOW, because=Because.WOUND, use=Technique.FRICTION_STRIP)
    assert vocabulary_from({"instead": [INSTEAD]}).instead == (row,)
    template = template_toml()
    example = "\n".join(line.removeprefix("# ") for line in template[template.index("# [[instead]]") :].splitlines())
    assert vocabulary_from(tomllib.loads(example)).instead == (row,)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([INSTEAD | {"on": "wond"}], "did you mean 'wound'"),
        ([INSTEAD | {"use": "friction"}], "row 1, use"),
        ([INSTEAD, INSTEAD | {"where": "G2"}], "row 2"),
        ([{"technique": "line bow", "use": "keys"}], "missing"),
        ([INSTEAD | {"use": "line bow"}], "itself"),
        (INSTEAD, "rows are needed"),
    ],
)
def test_rows_that_are_refused(rows: object, said: str) -> None:
    """A slip in a row is told with the row's number and what is allowed."""
    with pytest.raises(BadInput, match=r"techniques\.toml") as slip:
        vocabulary_from({"instead": rows})
    assert said in str(slip.value)


def test_the_documentation_lists_every_word() -> None:
    """docs/words.md shows each technique and each of its words."""
    text = (DOCS / "words.md").read_text(encoding="utf-8")
    for technique, words in word_table.TECHNIQUE_WORDS.items():
        assert technique.value in text
        assert [word for word in words if word not in text] == []
    assert [word for word in word_table.PARTIAL_WORDS if word not in text] == []
    for words in word_table.DRY_WORDS.values():
        assert [word for word in words if word not in text] == []
