"""The piece of the demonstration: read by our own reader, it is what docs/demo.md says it is."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from collections import Counter
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from examples.compose import PARTS, SECTIONS, score_text
from rimside.files.schema_piano import piano_from_toml
from rimside.kit import TARGET_WIDTH_MM, TECHNIQUES
from rimside.people import fitts_s
from rimside.piano.model import Piano
from rimside.piano.shipped import shipped_surveys
from rimside.score.model import Figure, Mute, Technique
from rimside.score.reading import Reading, read
from rimside.score.words import default_vocabulary

ROOT = Path(__file__).parents[2]


@cache
def reading() -> Reading:
    return read(score_text().encode("utf-8"), "score.musicxml", default_vocabulary())


@cache
def pianos() -> dict[str, Piano]:
    return {name: piano_from_toml(survey, name) for name, survey in shipped_surveys().items()}


def figures(*techniques: Technique) -> list[Figure]:
    return [figure for figure in reading().figures if figure.technique in techniques]


def together(a: Figure, b: Figure) -> bool:
    return a.start_s < b.end_s - 1e-6 and b.start_s < a.end_s - 1e-6


def hands(figure: Figure) -> int:
    extra = (figure.touch is not None) + (figure.mute is Mute.FINGER)
    return TECHNIQUES[figure.technique].hands + extra


def test_the_reader_understands_everything() -> None:
    """Nothing in the score is listed as not understood, and every note has its technique."""
    assert reading().score.not_understood == ()
    assert {note.technique for note in reading().score.notes} >= {Technique.LINE_BOW, Technique.KEYS}
    assert all(note.technique is not None for note in reading().score.notes)


def test_it_lasts_six_to_eight_minutes() -> None:
    """From the first downbeat to the last bar line."""
    assert 360.0 <= reading().score.end_s <= 480.0


def test_it_uses_at_least_ten_techniques() -> None:
    """Ten ways of making sound, and touch, finger mute and moulded mute on top."""
    used = {figure.technique for figure in reading().figures}
    assert used == set(Technique) - {Technique.MAGNET_DRIVE}
    assert {figure.mute for figure in reading().figures} == set(Mute)
    assert {(figure.touch.k, figure.touch.n) for figure in reading().figures if figure.touch} == {
        (1, 2),
        (1, 3),
        (1, 4),
        (1, 5),
    }


def test_marks_repeats_and_cues_come_through() -> None:
    """Marks A to H in order; D is played four times, B and G twice with two endings; all cues are read."""
    passes: dict[str, int] = {}
    for bar in reading().score.bars:
        passes[bar.section] = max(passes.get(bar.section, 1), bar.pass_number)
    assert passes == {"A": 1, "B": 2, "C": 1, "D": 4, "E": 1, "F": 1, "G": 2, "H": 1}
    played = Counter(bar.bar for bar in reading().score.bars if bar.section == "B")
    assert sorted(played.values()) == [1, 1, 1, 1, 2, 2, 2, 2, 2, 2]
    assert [cue.text for cue in reading().score.cues] == [
        "the wheel",
        "all breathe",
        "hammers off",
        "one breath, then the lines",
    ]


def test_there_are_as_many_figures_as_eight_people_can_learn() -> None:
    """Between 120 and 220 figures, each with an id of its own."""
    ids = [figure.id for figure in reading().figures]
    assert 120 <= len(ids) <= 220
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize("section", ["D", "G"])
def test_the_wheel_turns_faster_than_any_hand(section: str) -> None:
    """Three hammer parts together exceed seven strokes a second; each part alone could be played by one hand."""
    wheel = [figure for figure in figures(Technique.FELT_HAMMER) if figure.section == section]
    onsets = sorted(onset for figure in wheel for onset in figure.onsets_s)
    best = max(sum(1 for onset in onsets if start <= onset < start + 2.0) / 2.0 for start in onsets)
    assert best > 7.0
    assert {figure.part for figure in wheel} == {"Felt hammer I", "Felt hammer II", "Felt hammer III"}
    limit_s = 1.0 / TECHNIQUES[Technique.FELT_HAMMER].repeat_limit_hz
    for figure in wheel:
        for a, b in pairwise(sorted(figure.strokes, key=lambda stroke: stroke.onset_s)):
            assert a.key is not None and b.key is not None
            leap_s = fitts_s(abs(a.key - b.key) * TARGET_WIDTH_MM, TARGET_WIDTH_MM) if a.key != b.key else 0.0
            assert b.onset_s - a.onset_s >= max(limit_s, leap_s) - 1e-6, (figure.id, a, b)
        assert len(figure.onsets_s) / (figure.end_s - figure.start_s) <= 5.0


def test_no_course_carries_two_figures_at_one_time() -> None:
    """Figures that sound together share no course and no spot."""
    for a, b in combinations(reading().figures, 2):
        if together(a, b):
            assert not set(a.keys) & set(b.keys), (a.id, b.id)
            assert a.spot is None or a.spot != b.spot, (a.id, b.id)


def test_sixteen_hands_are_enough() -> None:
    """At every start of a figure the hands in use are at most sixteen, and at most six lines sound together."""
    for moment in {figure.start_s for figure in reading().figures}:
        now = [figure for figure in reading().figures if figure.start_s <= moment < figure.end_s]
        assert sum(map(hands, now)) <= 16
        assert sum(figure.technique is Technique.LINE_BOW for figure in now) <= 6


def test_the_mute_of_one_course_comes_off_for_high_water() -> None:
    """The courses under moulded mutes are played by no other figure, but D3 in section G."""
    muted = {key for figure in reading().figures if figure.mute is Mute.MOULDED for key in figure.keys}
    others = (figure for figure in reading().figures if figure.mute is not Mute.MOULDED)
    bare = [(figure.part, figure.section, muted & set(figure.keys)) for figure in others if muted & set(figure.keys)]
    assert bare == [("Keys", "G", {30})]


def test_one_knock_of_the_keys_must_fall_silent() -> None:
    """The dry figure stands where nothing rings, so that the dampers can come down."""
    (dry,) = (figure for figure in reading().figures if figure.dry)
    others = (figure for figure in reading().figures if figure.keys and figure is not dry)
    sounding = [figure.id for figure in others if figure.start_s <= dry.end_s < figure.end_s]
    assert (dry.part, dry.section, sounding) == ("Keys", "E", [])


def test_g_sharp_is_kept_back_for_high_water() -> None:
    """No string tuned to G sharp is played outside G; the last figure is the fifth partial of an E."""
    g_sharp_keys = set(range(12, 89, 12))
    heard = {figure.section for figure in reading().figures if g_sharp_keys & set(figure.keys)}
    assert heard == {"G"}
    last = max(reading().figures, key=lambda figure: figure.end_s)
    assert last.touch is not None and (last.touch.k, last.touch.n) == (1, 5)
    assert (last.keys[0] - 20) % 12 == 0


def test_the_theme_comes_back() -> None:
    """The question's first bow, B over two bars, is heard in B (twice), F and H."""
    question = [
        figure for figure in figures(Technique.STICK_BOW) if figure.part == "Stick bow I" and figure.keys == (51,)
    ]
    heard = [figure.section for figure in question if len(figure.strokes) == 2]
    assert heard == ["B", "B", "F", "H"]


def test_each_technique_fits_its_courses_on_every_piano() -> None:
    """Lines and stick bows meet plain strings, strips wound ones, beaters spots that are there and allowed."""
    for name, piano in pianos().items():
        for figure in reading().figures:
            fits = TECHNIQUES[figure.technique].fits
            wound = {piano.course(key).wound for key in figure.keys}
            assert fits in ("any", "spot") or wound == {fits == "wound"}, (name, figure.id)
            if figure.spot is not None:
                assert piano.spot(figure.spot) is not None, (name, figure.spot)
                assert figure.spot not in piano.permissions.forbidden_spots, (name, figure.spot)


def test_every_part_has_something_to_play_and_every_section_is_filled() -> None:
    """Each part has figures; no section names a part that is not in the score."""
    names = {part.name for part in PARTS}
    assert {figure.part for figure in reading().figures} == names
    assert all(set(section.voices) <= names for section in SECTIONS)


def test_the_same_music_gives_the_same_file() -> None:
    """Two runs with different hash seeds write the same bytes."""
    sums = set()
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", "from examples.compose import score_text; print(score_text())"],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONIOENCODING": "utf-8"},
            capture_output=True,
            check=True,
        )
        sums.add(hashlib.sha256(done.stdout).hexdigest())
    assert len(sums) == 1


def test_the_file_keeps_to_the_musicxml_schema() -> None:
    """Checked against the schema of MusicXML 2.0 that the music21 wheel carries, with the one attribute newer than it.

    `rest measure="yes"` came after 2.0, so it is taken off first; all else that we write is in both versions.
    """
    root = etree.fromstring(score_text().encode("utf-8"), etree.XMLParser(no_network=True, load_dtd=False))
    for rest in root.iter("rest"):
        rest.attrib.pop("measure", "")
    schema = musicxml_2_schema()
    schema.validate(root)
    assert str(schema.error_log) == ""
    root.find(".//note/duration").tag = "length"  # type: ignore[union-attr]
    assert not schema.validate(root)


def musicxml_2_schema() -> etree.XMLSchema:
    """The schema with stand-ins for the two small schemas that it would fetch from the network."""
    music21 = pytest.importorskip("music21")
    path = Path(music21.__file__).parent / "musicxml" / "musicxml.xsd"
    head = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{0}">{1}</xs:schema>'
    attribute = '<xs:attribute name="{0}" type="xs:string"/>'
    links = "".join(attribute.format(name) for name in ("href", "type", "role", "title", "show", "actuate"))
    plain = "".join(attribute.format(name) for name in ("lang", "space"))

    class Local(etree.Resolver):
        def resolve(self, system_url: str, public_id: str, *context: Any) -> Any:
            spaces = {"xlink.xsd": ("http://www.w3.org/1999/xlink", links)}
            spaces["xml.xsd"] = ("http://www.w3.org/XML/1998/namespace", plain)
            space = spaces.get(system_url.rpartition("/")[2])
            return self.resolve_string(head.format(*space), *context, base_url=system_url) if space else None

    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local())
    return etree.XMLSchema(etree.parse(str(path), parser))


def test_the_page_about_the_piece_tells_its_form() -> None:
    """Marks, names, starting times and tempi in the table of docs/demo.md are those of the score."""
    page = (ROOT / "docs" / "demo.md").read_text("utf-8")
    rows = re.findall(r"^\| ([A-H]) \| (\d):(\d\d) \| ([^|]+) \| (\d+) \|", page, re.MULTILINE)
    told = [(mark, 60 * int(minutes) + int(seconds), name, int(tempo)) for mark, minutes, seconds, name, tempo in rows]
    starts: dict[str, float] = {}
    for bar in reading().score.bars:
        starts.setdefault(bar.section, bar.start_s)
    assert told == [(one.mark, round(starts[one.mark]), one.name, one.tempo) for one in SECTIONS]
    minutes, seconds = divmod(round(reading().score.end_s), 60)
    assert f"lasts {minutes} minutes {seconds} seconds: {len(reading().score.bars)} bars as played" in page
