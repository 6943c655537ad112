"""From a file of tape readings to a survey file, and the empty files and forms to begin with."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from rimside.errors import BadInput
from rimside.files.atomic import read_file, write_file
from rimside.files.schema_piano import survey_from_toml
from rimside.files.schema_tape import FORMAT, tape_from_toml
from rimside.files.schema_trace import trace_from_file
from rimside.files.survey_text import survey_text
from rimside.paper.tape_form import tape_form
from rimside.piano.pattern import Pattern, nearest
from rimside.piano.readings import Counts, Step, checked_counts, steps
from rimside.piano.shipped import shipped_surveys
from rimside.piano.survey import Survey, build
from rimside.piano.tape import Surveyed, surveyed
from rimside.piano.tape_fit import Doubt
from rimside.piano.trace import known_of

DEFAULT_LIKE = "grand_210"
"""Whose keys a form shows when nothing is told."""


@dataclass(frozen=True, kw_only=True)
class Made:
    """What became of the readings, and where the survey was written."""

    path: Path
    source: str
    surveyed: Surveyed

    @property
    def whole(self) -> bool:
        """Whether nothing of the form is missing and nothing is in doubt."""
        return not self.surveyed.doubts and not self.surveyed.missing


def measure(file: str, out: str | None) -> Made:
    """Make a survey file of a file of readings.

    Parameters
    ----------
    file : the readings.
    out : where to write the survey, NAME.toml beside the readings when None.

    Raises
    ------
    BadInput : a slip in the readings, a piano that cannot be, a survey that would overwrite the readings.
    """
    known = tape_from_toml(read_file(Path(file), file), file)
    try:
        done = surveyed(known, shipped())
    except BadInput as error:
        raise error.at(file) from None
    return written(done, file, out)


def trace(file: str, out: str | None) -> Made:
    """Make a survey file of points marked on a picture; parameters and errors as for `measure`."""
    return written(traced(file), file, out)


def traced(file: str) -> Surveyed:
    """The survey that points marked on a picture make; nothing is written."""
    marked = trace_from_file(file)
    try:
        return surveyed(known_of(marked), shipped())
    except BadInput as error:
        raise error.at(file) from None


def written(done: Surveyed, file: str, out: str | None) -> Made:
    """Write the survey beside what it was made of, or where a person says."""
    path = Path(out) if out else Path(file).with_name(f"{done.survey.name}.toml")
    if path.resolve() == Path(file).resolve():
        raise BadInput("the survey would overwrite what it is made of", where=str(path),
                       hint="say with --out where the survey goes")  # fmt: skip
    write_file(path, survey_bytes(done, file), str(path))
    return Made(path=path, source=file, surveyed=done)


def survey_bytes(done: Surveyed, file: str) -> bytes:
    """The survey file, with comments on where it is from and what is assumed."""
    return survey_text(done.survey, _notes(done, Path(file).name)).encode()


def doubt_words(doubt: Doubt) -> str:
    """A reading that is in doubt: what it says, what all else says, and what else may be wrong instead."""
    text = (
        f"{doubt.reading.shown}: {doubt.reading.mm:g}, all else says {doubt.expected_mm:.0f}; "
        f"{doubt.sigmas:.1f} standard errors off"
    )
    if doubt.partners:
        text += f"; or it is {' or '.join(doubt.partners)}"
    return f"{text}; {doubt.note}" if doubt.note else text


def shipped() -> tuple[Survey, ...]:
    """The surveys that come with Rimside."""
    return tuple(survey_from_toml(data, name) for name, data in shipped_surveys().items())


def _notes(done: Surveyed, source: str) -> Mapping[str, list[str]]:
    """Comments of the survey: where it is from, what is in doubt, and what is assumed, each before its place."""
    notes: dict[str, list[str]] = defaultdict(list)
    notes["head"] = [
        f"Made from {source}. What nobody measured is from {done.like}, stretched to fit, and told before each part; "
        "mend by hand whatever you know better.",
        *(f"In doubt: {doubt.reading.shown}, {doubt.reading.mm:g} mm." for doubt in done.doubts),
    ]
    for assumption in done.assumptions:
        notes[assumption.place].append(f"Assumed: {assumption.text}.")
    for error in done.errors:
        notes[f"section {error.name}"].append(
            f"Standard errors, mm: near ends {error.near_mm:.0f}, far ends {error.far_mm:.0f}; a node on its string "
            f"{error.along_mm:.0f}."
        )
    return notes


def counts_for(like: str | None, last_keys: str | None) -> Counts:
    """The counts that a form is made for: the last keys of the sections as told, all else as on a shipped piano.

    Raises
    ------
    BadInput : no such piano, or keys that cannot end sections.
    """
    pattern = nearest(shipped(), None, like or DEFAULT_LIKE)
    own = Pattern(survey=pattern, counts=_NONE, length_mm=pattern.length_mm).own
    if last_keys is None:
        return own
    try:
        lasts = tuple(int(word) for word in last_keys.split(","))
    except ValueError:
        raise BadInput("not key numbers", where="--sections", value=last_keys,
                       allowed="the last key of each section, such as 20,40,53,67,88") from None  # fmt: skip
    return checked_counts(
        Counts(
            last_keys=lasts,
            last_single=min(own.last_single, lasts[0]),
            last_double=own.last_double,
            first_plain=max(own.first_plain, lasts[0] + 1),
            last_damper=own.last_damper,
            struts_after=lasts[:-1],
        )
    )


_NONE = Counts(last_keys=(88,), last_single=0, last_double=0, first_plain=1, last_damper=1, struts_after=())


def empty_text(like: str | None, last_keys: str | None) -> str:
    """The file of readings to fill in, each reading on its line with how to take it."""
    counts, lean = counts_for(like, last_keys), like or DEFAULT_LIKE
    rows = list(enumerate(steps(counts), start=1))
    width = max(len(step.name) for _, step in rows) + 6
    return "\n".join(
        [
            "# Tape readings of one grand. All lengths in mm; keys are numbers, 1 (lowest A) to 88.",
            "# Take away the # before a reading and write its value; what stays out comes from the piano it is like.",
            "# A reading may have its own standard error: length_1 = { mm = 1500, plus_minus_mm = 5 }",
            "",
            f'format = "{FORMAT}"',
            'name = "hall"                  # letters, digits, - and _',
            'title = "The grand in the hall"',
            f'# like = "{lean}"          # left out: the shipped piano nearest in length',
            "# a4_hz = 440",
            '# pedals = ["damper", "sostenuto", "una-corda"]',
            "",
            f"# Count these, do not keep those of {lean}; then put your keys into the names of the readings below.",
            "[counted]",
            f"last_keys = {list(counts.last_keys)}   # the last key of each section, from the bass",
            f"last_single = {counts.last_single}     # the last key with one string, 0 when there is none",
            f"last_double = {counts.last_double}     # the last key with two strings",
            f"first_plain = {counts.first_plain}     # the first key without copper",
            f"last_damper = {counts.last_damper}     # the last key with a damper",
            f"# struts_after = {list(counts.struts_after)}   # left out: after each section but the last",
            "",
            "[readings]",
            *(_row(number, step, width) for number, step in rows if step.core),
            "",
            "# When there is time:",
            *(_row(number, step, width) for number, step in rows if not step.core),
            "",
            "# Wire as painted on the plate or measured with a gauge, where you know it:",
            "# [[course]]",
            "# key = 40",
            "# wire_mm = 1.0          # plain wire or core; wrap_mm = outer diameter of a wound string",
            "",
            "# Ask the owner; what is not named is forbidden.",
            "# [permissions]",
            '# allowed = ["rosin", "hammers", "touch"]',
            "",
        ]
    )


def _row(number: int, step: Step, width: int) -> str:
    return f"{f'# {step.name} = ':<{width}} # {number}. {step.what}: {step.kind.how}"


def write_form(file: str, like: str | None, last_keys: str | None, paper: str) -> Path:
    """Write the printed form (FILE.pdf) or the file of readings to fill in (FILE.toml).

    Raises
    ------
    BadInput : another kind of file, unknown paper or piano, keys that cannot end sections.
    """
    path = Path(file)
    if path.suffix == ".toml":
        return write_empty(file, like, last_keys)
    if path.suffix != ".pdf":
        raise BadInput("a form is printed or filled in", where=file, allowed="a name that ends in .pdf or .toml")
    write_file(path, form(like, last_keys, paper), file)
    return path


def form(like: str | None = None, last_keys: str | None = None, paper: str = "a4") -> bytes:
    """The printed form as PDF."""
    counts = counts_for(like, last_keys)
    drawn = build(nearest(shipped(), None, like or DEFAULT_LIKE))
    return tape_form(drawn, counts, told=last_keys is not None, paper=paper)


def write_empty(file: str, like: str | None, last_keys: str | None) -> Path:
    """Write the file of readings to fill in; one that is there already is not touched."""
    path = Path(file)
    if path.exists():
        raise BadInput(
            "there is a file already", where=file, hint="give another name: filled-in readings are not replaced"
        )
    write_file(path, empty_text(like, last_keys).encode(), file)
    return path
