"""What the words in a score mean: the vocabulary, its defaults, and the user's techniques.toml laid over them."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, TypeVar

from rimside.errors import BadInput
from rimside.pitch import MOST_CHOIRS
from rimside.score import word_table
from rimside.score.harmonics import MAX_NODE, partial_of, touch_of
from rimside.score.instead import Because, Instead
from rimside.score.model import Mute, Pedal, Technique, Touch

T = TypeVar("T")
_END_MARKS = re.compile(r"[\s.:;,!]+$")
_NUMBER_AT_END = re.compile(r"[\s(]*(?:\d+|[ivx]+)\)?$")
_NODE = re.compile(r"(.*?)\s*(\d+)\s*/\s*(\d+)")
_PARTIAL = re.compile(r"(?P<word>.*\D)\s+(?P<n>\d+)|(?P<nth>\d+)(?:st|nd|rd|th|[.°eo])?\s+(?P<what>\D+)")
_PIECES = re.compile(r"\s*(?:[,;+\n]|\s/\s)\s*")
_DYNAMIC = re.compile(r"p{1,6}|f{1,6}|m[pf]|fp|pf|s?f+z|sfp{0,2}|rfz?|n")


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What one phrase sets; a field that is None (or empty) is left as it was. `touch_off` ends a touch."""

    technique: Technique | None = None
    touch: Touch | None = None
    touch_off: bool = False
    choir: int | None = None
    mute: Mute | None = None
    spot: str | None = None
    essential: bool | None = None
    dry: bool | None = None
    dynamic: str = ""
    cue: str = ""
    pedal: tuple[Pedal, bool] | None = None
    ignored: bool = False
    tempo: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """Words of a score and names of parts, in normal form (see `normal`), and what they mean.

    `touch_words` are those that take a node after them ("touch 1/3"); a phrase in `touches` with None ends a touch.
    `partial_words` take the number of a partial at any of its nodes ("partial 3", "3rd partial").
    `pedals` hold a pedal and whether it goes down. `ignored` is expression; `tempo` needs a metronome value.
    `dry` words ask for silence at a figure's end, or take that back. `instead` says what may stand in for what.
    """

    techniques: Mapping[str, Technique]
    touch_words: frozenset[str]
    partial_words: frozenset[str]
    touches: Mapping[str, Touch | None]
    mutes: Mapping[str, Mute]
    spots: Mapping[str, str]
    essential: Mapping[str, bool]
    dry: Mapping[str, bool]
    choirs: Mapping[str, int]
    cues: Mapping[str, str]
    pedals: Mapping[str, tuple[Pedal, bool]]
    parts: Mapping[str, Technique]
    ignored: frozenset[str] = field(default=frozenset())
    tempo: frozenset[str] = field(default=frozenset())
    instead: tuple[Instead, ...] = ()

    def meaning(self, phrase: str) -> Meaning | None:
        """What one phrase sets, or None when it is not understood. Nothing is matched in part."""
        if phrase.strip().casefold().startswith("cue:"):
            return Meaning(cue=phrase.strip()[4:].strip())
        word = normal(phrase)
        if _DYNAMIC.fullmatch(word):
            return Meaning(dynamic=word)
        for kind, make in _MAKERS:
            found = getattr(self, kind)
            if word in found:
                return make(found[word])
        if word in self.ignored or word in self.tempo:
            return Meaning(ignored=word in self.ignored, tempo=word in self.tempo)
        touch = self._node(word) or self._partial(word)
        return Meaning(touch=touch) if touch else None

    def _node(self, word: str) -> Touch | None:
        form = _NODE.fullmatch(word)
        if form is None or form[1].rstrip(" .") not in self.touch_words:
            return None
        return touch_of(int(form[2]), int(form[3]))

    def _partial(self, word: str) -> Touch | None:
        """ "partial 3", "3rd partial", with or without a word for touching before it."""
        if (form := _PARTIAL.fullmatch(self._untouched(word))) is None:
            return None
        named = (form["word"] or form["what"]).strip(" .")
        return partial_of(int(form["n"] or form["nth"])) if named in self.partial_words else None

    def _untouched(self, word: str) -> str:
        head, _, rest = word.partition(" ")
        return rest if head in self.touch_words - self.partial_words else word

    def meanings(self, text: str) -> tuple[tuple[str, Meaning | None], ...]:
        """The phrases of a direction with their meanings: the whole first, else piece by piece at , ; + and lines."""
        text = text.strip()
        if not text:
            return ()
        if (whole := self.meaning(text)) is not None:
            return ((" ".join(text.split()), whole),)
        pieces = [piece for piece in _PIECES.split(text) if piece]
        return tuple((piece, self.meaning(piece)) for piece in pieces)

    def part_technique(self, name: str) -> Technique | None:
        """The technique that a part's name decides, a number at its end aside."""
        word = normal(name)
        bare = _END_MARKS.sub("", _NUMBER_AT_END.sub("", word))
        return self.parts.get(word) or self.parts.get(bare)

    def spot_named(self, *names: str) -> str | None:
        """The spot that the first known of these names stands for."""
        return next((self.spots[word] for word in map(normal, names) if word in self.spots), None)


_MAKERS: tuple[tuple[str, Callable[[Any], Meaning]], ...] = (
    ("techniques", lambda value: Meaning(technique=value)),
    ("touches", lambda value: Meaning(touch=value, touch_off=value is None)),
    ("mutes", lambda value: Meaning(mute=value)),
    ("spots", lambda value: Meaning(spot=value)),
    ("essential", lambda value: Meaning(essential=value)),
    ("dry", lambda value: Meaning(dry=value)),
    ("choirs", lambda value: Meaning(choir=value)),
    ("cues", lambda value: Meaning(cue=value)),
    ("pedals", lambda value: Meaning(pedal=value)),
)


def normal(phrase: str) -> str:
    """A phrase as the tables hold it: case and accents folded, single spaces, no marks at its end."""
    plain = "".join(each for each in unicodedata.normalize("NFKD", phrase) if not unicodedata.combining(each))
    folded = " ".join(plain.replace("’", "'").casefold().split())
    return _END_MARKS.sub("", folded.strip('()[]"“”„'))


def default_vocabulary() -> Vocabulary:
    """The defaults in English, Italian, French and German, from `rimside.score.word_table`."""
    return Vocabulary(
        techniques=_turned(word_table.TECHNIQUE_WORDS),
        touch_words=frozenset(map(normal, word_table.TOUCH_WORDS)),
        partial_words=frozenset(map(normal, word_table.PARTIAL_WORDS)),
        touches=MappingProxyType({normal(word): None for word in word_table.TOUCH_OFF_WORDS}),
        mutes=_turned({_MUTES[name]: words for name, words in word_table.MUTE_WORDS.items()}),
        spots=_turned(word_table.SPOT_WORDS),
        essential=_turned(word_table.ESSENTIAL_WORDS),
        dry=_turned(word_table.DRY_WORDS),
        choirs=_turned(word_table.CHOIR_WORDS),
        cues=MappingProxyType({normal(word): word for word in word_table.CUE_WORDS}),
        pedals=_turned({_PEDALS[name]: words for name, words in word_table.PEDAL_WORDS.items()}),
        parts=_turned(word_table.PART_WORDS),
        ignored=frozenset(map(normal, word_table.IGNORED_WORDS)),
        tempo=frozenset(map(normal, word_table.TEMPO_WORDS)),
    )


def _turned(words: Mapping[T, Iterable[str]]) -> Mapping[str, T]:
    return MappingProxyType({normal(word): value for value, group in words.items() for word in group})


_MUTES: Mapping[str, Mute] = {mute.value or "none": mute for mute in Mute}
_PEDALS: Mapping[str, tuple[Pedal, bool]] = {
    f"{pedal.value} {way}": (pedal, way == "down") for pedal in Pedal for way in ("down", "up")
}
_TECHNIQUES: Mapping[str, Technique] = {technique.value: technique for technique in Technique}
_EXCLUSIVE = (
    "techniques",
    "touches",
    "mutes",
    "spots",
    "essential",
    "dry",
    "choirs",
    "cues",
    "pedals",
    "ignored",
    "tempo",
)
_FORGET = "forget"
INSTEAD = "instead"
_INSTEAD_KEYS = ("technique", "on", "use")


def vocabulary_from(table: Mapping[str, Any]) -> Vocabulary:
    """The parsed techniques.toml laid over the defaults.

    Each section maps a phrase to its meaning (`template_toml` shows them all); `ignore.words` lists phrases to pass
    over; the meaning "forget" takes a default away. `[[instead]]` tables say which technique may stand in for which.

    Raises
    ------
    BadInput : an unknown section, technique, mute, pedal or node, with the nearest known one.
    """
    vocabulary = default_vocabulary()
    for section, rows in table.items():
        _known(section, {**SECTIONS, INSTEAD: None}, "techniques.toml", "section")
        if section == INSTEAD:
            vocabulary = replace(vocabulary, instead=_instead(rows))
            continue
        if not isinstance(rows, Mapping):
            raise BadInput("a section holds phrases", where=f"techniques.toml, [{section}]", value=rows)
        for phrase, value in rows.items():
            vocabulary = _with_row(vocabulary, section, phrase, value)
    return vocabulary


def _with_row(vocabulary: Vocabulary, section: str, phrase: str, value: Any) -> Vocabulary:
    where = f"techniques.toml, [{section}] {phrase!r}"
    if section == "ignore":
        _known(phrase, {"words": None}, where, "key")
        if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
            raise BadInput("a list of phrases is needed", where=where, value=value)
        for word in value:
            vocabulary = _forget(vocabulary, normal(word))
        return replace(vocabulary, ignored=vocabulary.ignored | set(map(normal, value)))
    field_name, read = SECTIONS[section]
    word = normal(phrase)
    forgotten = _forget(vocabulary, word)
    kept = replace(vocabulary, parts=_without(vocabulary.parts, word)) if section == "parts" else forgotten
    if value == _FORGET:
        return kept
    rows = {**getattr(kept, field_name), word: read(value, where)}
    changes: dict[str, Any] = {field_name: MappingProxyType(rows)}
    return replace(kept, **changes)


def _forget(vocabulary: Vocabulary, word: str) -> Vocabulary:
    changes: dict[str, Any] = {}
    for name in _EXCLUSIVE:
        held = getattr(vocabulary, name)
        if word in held:
            changes[name] = held - {word} if isinstance(held, frozenset) else _without(held, word)
    return replace(vocabulary, **changes) if changes else vocabulary


def _without(rows: Mapping[str, T], word: str) -> Mapping[str, T]:
    return MappingProxyType({key: value for key, value in rows.items() if key != word})


def _instead(rows: Any) -> tuple[Instead, ...]:
    where = f"techniques.toml, [[{INSTEAD}]]"
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise BadInput("rows are needed", where=where, value=rows, allowed=f"[[{INSTEAD}]] before each row")
    return tuple(_instead_row(row, f"{where} row {number}") for number, row in enumerate(rows, start=1))


def _instead_row(row: Mapping[str, Any], where: str) -> Instead:
    for name in row:
        _known(name, dict.fromkeys(_INSTEAD_KEYS), where, "key")
    missing = [name for name in _INSTEAD_KEYS if name not in row]
    if missing:
        raise BadInput("keys are missing", where=where, value=", ".join(missing), allowed=", ".join(_INSTEAD_KEYS))
    because: Mapping[str, Because] = {one.value: one for one in Because}
    made = Instead(
        technique=_known(row["technique"], _TECHNIQUES, f"{where}, technique", "technique"),
        because=_known(row["on"], because, f"{where}, on", "reason"),
        use=_known(row["use"], _TECHNIQUES, f"{where}, use", "technique"),
    )
    if made.technique is made.use:
        raise BadInput("a technique cannot stand in for itself", where=where, value=made.use.value)
    return made


def _known(value: Any, known: Mapping[str, T], where: str, what: str) -> T:
    if isinstance(value, str) and value in known:
        return known[value]
    near = difflib.get_close_matches(str(value), list(known), n=1)
    hint = f"did you mean {near[0]!r}?" if near else ""
    raise BadInput(f"unknown {what}", where=where, value=value, allowed=", ".join(known), hint=hint)


def _text(value: Any, where: str) -> str:
    if isinstance(value, str) and value.strip():
        return value.strip()
    raise BadInput("a text is needed", where=where, value=value)


def _flag(value: Any, where: str) -> bool:
    if isinstance(value, bool):
        return value
    raise BadInput("true or false is needed", where=where, value=value, allowed="true, false")


def _choir(value: Any, where: str) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= MOST_CHOIRS:
        return value
    raise BadInput("not a choir", where=where, value=value, allowed=f"1 to {MOST_CHOIRS}")


def _touch(value: Any, where: str) -> Touch | None:
    if value == "off":
        return None
    text = value if isinstance(value, str) else ""
    touch = None
    if (form := _NODE.fullmatch(text)) is not None and not form[1]:
        touch = touch_of(int(form[2]), int(form[3]))
    elif (form := re.fullmatch(r"partial (\d+)", text)) is not None:
        touch = partial_of(int(form[1]))
    if touch is None:
        allowed = f"k/n in lowest terms up to n = {MAX_NODE}, partial 2 to partial {MAX_NODE}, off"
        raise BadInput("not a node", where=where, value=value, allowed=allowed)
    return touch


SECTIONS: Mapping[str, tuple[str, Callable[[Any, str], Any]]] = {
    "words": ("techniques", lambda value, where: _known(value, _TECHNIQUES, where, "technique")),
    "parts": ("parts", lambda value, where: _known(value, _TECHNIQUES, where, "technique")),
    "touches": ("touches", _touch),
    "mutes": ("mutes", lambda value, where: _known(value, _MUTES, where, "mute")),
    "spots": ("spots", _text),
    "essential": ("essential", _flag),
    "dry": ("dry", _flag),
    "choirs": ("choirs", _choir),
    "cues": ("cues", _text),
    "pedals": ("pedals", lambda value, where: _known(value, _PEDALS, where, "pedal")),
    "ignore": ("ignored", _text),
}

_EXAMPLES: Mapping[str, tuple[str, str]] = {
    "words": ("Words that say how to sound a string, until the next such word.", '"with thread" = "line bow"'),
    "parts": ("Part names that decide the technique, a trailing number aside.", '"low rubbers" = "friction strip"'),
    "touches": (
        'Phrases that touch a node or any node of a partial ("partial 3"), or "off".',
        '"half-way" = "1/2"',
    ),
    "mutes": ('Words for mutes; "none" lifts.', '"putty" = "moulded mute"'),
    "spots": ("Words and instrument names that mean a spot of the piano file.", '"wood block" = "case"'),
    "essential": ("Words that mark music that must not be left out.", '"sine qua non" = true'),
    "dry": ("Words that ask for silence right after a figure; false lets it ring again.", '"cut off" = true'),
    "choirs": ("Which course of a key that has several (harpsichord), until the next such word.", '"lute side" = 2'),
    "cues": ('Signs for the players. Words that start with "cue:" are signs already.', '"breathe" = "all breathe"'),
    "pedals": ("Words for pedals.", '"soft pedal" = "una-corda down"'),
    "ignore": ("Expression that changes nothing here.", 'words = ["like glass"]'),
}


def template_toml() -> str:
    """A commented techniques.toml in which nothing is switched on, so that it changes nothing until edited."""
    lines = [
        "# What the words of this score mean. Rows here are laid over the built-in ones (docs/words.md lists those).",
        '# Capitals and a full stop at the end do not matter. The meaning "forget" takes a built-in row away.',
        f"# Techniques: {', '.join(_TECHNIQUES)}.",
        f"# Mutes: {', '.join(_MUTES)}. Pedals: {', '.join(_PEDALS)}.",
    ]
    for section, (comment, example) in _EXAMPLES.items():
        lines += ["", f"# {comment}", f"[{section}]", f"# {example}"]
    lines += [
        "",
        "# What may stand in for a technique that does not suit: on wound or plain courses, or where the owner has",
        "# not allowed it. Without such a row nothing is replaced. One [[instead]] for each row; the first that suits.",
        f"# [[{INSTEAD}]]",
        '# technique = "line bow"',
        f'# on = "wound"   # {", ".join(Because)}',
        '# use = "friction strip"',
    ]
    return "\n".join(lines) + "\n"
