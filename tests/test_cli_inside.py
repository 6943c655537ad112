"""The command `inside` as a person meets it."""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path
from typing import Any

import pytest

from rimside import cli
from rimside.piano.shipped import SHIPPED, shipped_survey
from rimside.say import inside as say_inside

EXAMPLES = Path(__file__).parents[1] / "examples"
Run = tuple[int, str, str]


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> Run:
    capsys.readouterr()
    status = cli.main(["inside", *map(str, arguments)])
    told = capsys.readouterr()
    return status, told.out, told.err


def table(capsys: pytest.CaptureFixture[str], *arguments: object) -> Any:
    status, out, err = run(capsys, *arguments, "--json")
    assert (status, err) == (0, "")
    return json.loads(out)


def test_the_command_line_offers_what_can_be_told() -> None:
    """The choices of --of are the topics, which the command line names without loading them."""
    parser = argparse.ArgumentParser()
    cli._add_inside(parser)
    (of,) = (action for action in parser._actions if "--of" in action.option_strings)
    assert of.choices is not None
    assert tuple(of.choices) == say_inside.topics()


@pytest.mark.parametrize("name", SHIPPED)
def test_the_overview_of_every_shipped_piano(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Sections, courses and strings that add up, places with who reaches what, and that nothing is unusual."""
    status, out, err = run(capsys, name)
    assert (status, err) == (0, "")
    assert "88 courses" in out and "No course is unusual." in out
    found = table(capsys, name)
    assert sum(row["strings"] for row in found["courses"]) == int(out.split(" strings")[0].split()[-1])
    assert {place["id"] for place in found["places"]} == {
        line.split()[0] for line in out.split("place  courses")[1].splitlines()[1:] if line.startswith("  ")
    }
    for place in found["places"]:
        assert set(place["keys_in_comfort"]) <= set(place["keys_at_full_lean"])


@pytest.mark.parametrize("topic", say_inside.topics())
def test_every_topic_says_the_same_in_both_ways(topic: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each topic as text and as JSON, with the label of every key asked for and of no other."""
    status, out, _ = run(capsys, "grand_210", "--of", topic, "--keys", "C3,C4")
    assert status == 0
    found = table(capsys, "grand_210", "--of", topic, "--keys", "C3,C4")
    assert found["piano"] == "grand_210"
    if topic != "places":
        assert {row["label"] for row in found[topic]} == {"C3", "C4"}
        assert "C3" in out and "C4" in out and "C♯4 " not in out.split("cents:")[0].split("octave")[0]


def test_nodes_as_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    """Twenty-one nodes a course; the best of each partial at most once, and usable; positions at k/n."""
    rows = table(capsys, "grand_275", "--of", "nodes", "--keys", "28,40", "--labels", "key number")["nodes"]
    assert len(rows) == 42
    lengths = {row["key"]: row["length_mm"] for row in table(capsys, "grand_275")["courses"]}
    for row in rows:
        assert row["from_near_mm"] == pytest.approx(lengths[row["key"]] * row["k"] / row["n"], abs=0.02)
        assert row["usable"] or not row["best"]
    best = [(row["key"], row["n"]) for row in rows if row["best"]]
    assert len(best) == len(set(best))


def test_notes_above_the_piano_are_counted_on(capsys: pytest.CaptureFixture[str]) -> None:
    """Partial 8 of C7 lies far above the highest C: so many semitones over it, its stiffness counted in."""
    rows = table(capsys, "grand_275", "--of", "nodes", "--keys", "C7")["nodes"]
    (eighth,) = {(row["note"], row["sounding_hz"]) for row in rows if row["n"] == 8}
    # ISO 16:1975, A4 440 Hz, key 49; C8 is key 88.
    assert eighth[0] == f"C8+{round(49 + 12 * math.log2(eighth[1] / 440.0)) - 88}"
    assert eighth[1] > 8 * 2093.0


def test_strings_name_their_assumptions(capsys: pytest.CaptureFixture[str]) -> None:
    """Speed, friction and bridge stand under the table; wound strings are bowed with a strip, the top not at all."""
    _, out, _ = run(capsys, "grand_275", "--of", "strings", "--keys", "A0,C8")
    assert "0.2 m/s" in out and "assumed" in out and "technician" in out
    low, high = table(capsys, "grand_275", "--of", "strings", "--keys", "A0,C8")["strings"]
    assert low["bow"]["with"] == "friction strip"
    assert high["bow"] is None and high["pull_limit_n"] is None
    assert low["course_tension_n"] == pytest.approx(low["strings"] * low["tension_n"], abs=0.2)


def test_what_a_partial_tells(capsys: pytest.CaptureFixture[str]) -> None:
    """The survey's own eighth partial of C4 gives its B, wire and tension again; a wound string gives B alone."""
    row = table(capsys, "grand_275", "--of", "strings", "--keys", "C4")["strings"][0]
    sounding = next(
        node["sounding_hz"]
        for node in table(capsys, "grand_275", "--of", "nodes", "--keys", "C4")["nodes"]
        if node["n"] == 8
    )
    found = table(capsys, "grand_275", "--heard", "C4", 8, sounding, row["frequency_hz"])
    assert found["inharmonicity"] == pytest.approx(row["inharmonicity"], rel=0.01)
    assert found["wire_mm"] == pytest.approx(row["wire_mm"], rel=0.01)
    assert found["tension_n"] == pytest.approx(row["tension_n"], rel=0.02)
    _, out, _ = run(capsys, "grand_275", "--heard", "A0", 20, 560, 27.5)
    assert "do not follow" in out and "wire" not in out.splitlines()[1]


def test_a_survey_file_is_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file is taken as such, and a slip in it is told with its name."""
    survey = tmp_path / "hall.toml"
    survey.write_bytes(shipped_survey("grand_170"))
    assert table(capsys, survey)["piano"] == "grand_170"
    survey.write_bytes(shipped_survey("grand_170").replace(b"length_mm", b"lenght_mm", 1))
    status, _, err = run(capsys, survey)
    assert status == 2 and "hall.toml" in err and "length_mm" in err


@pytest.mark.parametrize("survey", sorted(EXAMPLES.glob("*/pianos/*.toml")), ids=lambda path: path.stem)
def test_other_instruments_are_told_of_too(survey: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A harpsichord's choirs and a guitar's six strings: every topic has a row for each course, by its own label."""
    found = table(capsys, survey)
    labels = {row["label"] for row in found["courses"]}
    assert len(labels) == len(found["courses"])
    for topic in ("strings", "nodes", "access", "magnets"):
        assert {row["label"] for row in table(capsys, survey, "--of", topic)[topic]} == labels
    driven = {row["label"] for row in table(capsys, survey, "--of", "magnets")["magnets"] if row["drivable"]}
    assert driven == {row["label"] for row in found["courses"] if row["material"] in ("steel", "iron")}


def test_sheets_are_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Strips and plans as PDF, a plan as SVG; without a topic only their names are told, with one that too."""
    strips, plan, drawing = (tmp_path / name for name in ("strips.pdf", "access.pdf", "access.svg"))
    status, out, err = run(capsys, "grand_170", "--strip", "C4,C5", strips, "--access", "line bow", plan)
    assert (status, out, err) == (0, f"Written to {strips}\nWritten to {plan}\n", "")
    assert strips.read_bytes().startswith(b"%PDF") and plan.read_bytes().startswith(b"%PDF")
    status, out, _ = run(capsys, "grand_170", "--access", "touch", drawing, "--of", "places")
    assert status == 0 and out.lstrip().startswith("place")
    assert drawing.read_text("utf-8").startswith("<svg")
    assert table(capsys, "grand_170", "--strip", "C4", strips) == {"files": [str(strips)]}
    assert (tmp_path / "earlier" / "strips.pdf").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("grand_21",), "grand_210"),
        (("missing.toml",), "there is no such file"),
        (("grand_210", "--keys", "H4"), "--keys: not a scientific label"),
        (("grand_210", "--keys", "C4-A3"), "a run of keys goes upwards"),
        (("grand_210", "--keys", ""), "--keys"),
        (("grand_210", "--labels", "english"), "unknown label scheme"),
        (("grand_210", "--access", "touhc", "x.pdf"), "did you mean 'touch'?"),
        (("grand_210", "--access", "touch", "x.png"), "another kind of file"),
        (("grand_210", "--strip", "C4", "x.svg"), "another kind of file"),
        (("grand_210", "--heard", "C4-C5", "2", "3", "4"), "one string is heard at a time"),
        (("grand_210", "--heard", "C4", "8", "high", "4"), "not a number"),
        (("grand_210", "--heard", "C4", "8", "2000", "261.6"), "no partial of this number sounds there"),
        (("grand_210", "--heard", "C4", "8", "-1", "261.6"), "no such partial or pitch"),
        (("grand_210", "--heard", "C4", "2.5", "700", "261.6"), "the number of a partial is whole"),
    ],
)
def test_slips_are_told_in_one_line(arguments: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 2, nothing on standard output, one line that names the slip, no file."""
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (2, "")
    assert words in err and err.count("\n") == 1
    assert not Path("x.pdf").exists()


def test_quiet_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    """--quiet prints nothing but problems."""
    assert run(capsys, "grand_210", "--quiet") == (0, "", "")
