"""What a person at the terminal sees of a survey made of tape readings or of a marked picture."""

from __future__ import annotations

from textwrap import fill

from rimside.files.measure_tape import Made, doubt_words
from rimside.piano.survey import remarks
from rimside.piano.tape import Surveyed
from rimside.say.terminal import columns, counted

WIDTH = 116


def tape_text(made: Made) -> str:
    """What is measured, how sure it is, what is assumed, what is in doubt, and what comes next."""
    done = made.surveyed
    blocks = [
        f"{done.survey.title}: {counted(len(done.known.readings), 'reading')}; "
        f"all else from {done.like}, stretched to fit",
        fill(f"Measured or told: {', '.join(_measured(done))}", WIDTH),
        _errors_text(done),
        "Assumed:\n" + "\n".join(_item(f"{one.place}: {one.text}") for one in done.assumptions),
    ]
    if done.missing:
        blocks.append(fill(f"Not read, and worth reading: {', '.join(done.missing)}", WIDTH))
    if done.doubts:
        blocks.append(
            "In doubt; measure these again, or take them out of the file. The errors above hold only then.\n"
            + "\n".join(_item(line) for line in map(doubt_words, done.doubts))
        )
    if strange := remarks(done.piano):
        blocks.append("Unlike published pianos; is the wire known?\n" + "\n".join(_item(line) for line in strange))
    blocks.append(f"Written: {made.path}\nNext: rimside inside {made.path}")
    return "\n\n".join(blocks)


def _errors_text(done: Surveyed) -> str:
    rows = [
        (one.name, f"{one.near_mm:.0f}", f"{one.middle_mm:.0f}", f"{one.far_mm:.0f}", f"{one.along_mm:.0f}")
        for one in done.errors
    ]
    heads = ("section", "near ends", "middles", "far ends", "a node on its string")
    return "How sure, standard errors in mm, worst key of each section:\n" + columns(heads, rows)


def _measured(done: Surveyed) -> list[str]:
    """What is not assumed: what was told, then the readings from the lowest key to the highest."""
    return sorted(done.survey.measured, key=lambda name: (int("0" + "".join(filter(str.isdecimal, name))), name))


def _item(line: str) -> str:
    return fill(line, WIDTH, initial_indent="  ", subsequent_indent="      ")


def tape_table(made: Made) -> dict[str, object]:
    """The same as a table for JSON."""
    done = made.surveyed
    return {
        "survey": str(made.path),
        "name": done.survey.name,
        "like": done.like,
        "measured": sorted(done.survey.measured),
        "missing": list(done.missing),
        "assumed": [{"place": one.place, "text": one.text} for one in done.assumptions],
        "errors_mm": [
            {"section": one.name, "near_mm": round(one.near_mm, 1), "middle_mm": round(one.middle_mm, 1),
             "far_mm": round(one.far_mm, 1), "along_mm": round(one.along_mm, 1)} for one in done.errors
        ],
        "doubts": [
            {"reading": one.reading.name, "mm": one.reading.mm, "expected_mm": round(one.expected_mm, 1),
             "sigmas": round(one.sigmas, 1), "or": list(one.partners), "note": one.note} for one in done.doubts
        ],
        "remarks": list(remarks(done.piano)),
    }  # fmt: skip
