"""Points marked on a rectified picture become the piano that they were marked on."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files.measure_tape import Made, trace
from rimside.files.schema_piano import piano_from_toml
from rimside.files.schema_trace import picture_from_file
from rimside.piano.model import Point
from rimside.piano.shipped import SHIPPED
from tests.piano.example import piano, survey
from tests.piano.tape_example import counts_of

MM_PER_PIXEL, LEFT_MM, TAIL_MM = 1.5, -250.0, 2800.0
PICTURE = """format = "rimside-picture/1"
image = "hall-plan.png"
columns = 1200
rows = 2000
mm_per_pixel = 1.5
origin_mm = [-250.0, 2800.0]
string_plane_mm = 884
error_mm = 1.5
worst_mm = 4.0
left_over_px = 0.4

[[target]]
name = "1"
at = [0, 0]
"""


def pixel(point: Point, errors: random.Random | None = None) -> str:
    """Where the picture shows a point, with the hand's error, as a person writes it."""
    off = (0.0, 0.0) if errors is None else (errors.gauss(0.0, 1.5), errors.gauss(0.0, 1.5))
    column = (point.x_mm + off[0] - LEFT_MM) / MM_PER_PIXEL
    row = (TAIL_MM - point.y_mm - off[1]) / MM_PER_PIXEL
    return f"[{column:.1f}, {row:.1f}]"


def marks(name: str, seed: int | None = None) -> str:
    """A trace of a shipped piano: ends of all surveyed courses, struts, dampers, hammers, spots, outline, floor."""
    errors = None if seed is None else random.Random(seed)
    base, counts = survey(name), counts_of(name)
    assert base.dampers is not None
    courses = {int(course.key): course for course in piano(name).courses}
    lines = [
        'format = "rimside-trace/1"', 'picture = "hall-plan.toml"', 'name = "hall"', 'title = "Hall"',
        f"outline = [{', '.join(pixel(point) for point in base.outline[:-1])}]",
        "[counted]", f"last_keys = {list(counts.last_keys)}", f"last_single = {counts.last_single}",
        f"last_double = {counts.last_double}", f"first_plain = {counts.first_plain}",
        f"last_damper = {counts.last_damper}", "[readings]", f"rim_height = {base.rim_height_mm}",
    ]  # fmt: skip
    for section in base.sections:
        for point in section.points:
            near, far = pixel(point.near, errors), pixel(point.far, errors)
            lines += ["[[mark]]", f"key = {point.key}", f"near = {near}", f"far = {far}"]
    for damper in base.dampers.points:
        at = Point(x_mm=courses[damper.key].near.x_mm, y_mm=damper.y_mm)
        lines += ["[[damper]]", f"key = {damper.key}", f"at = {pixel(at)}"]
    for strike in base.strike:
        lines += ["[[strike]]", f"key = {strike.key}", f"at = {pixel(Point(x_mm=100.0, y_mm=strike.y_mm))}"]
    for strut in base.struts:
        lines += ["[[strut]]", f'name = "{strut.name}"', f"start = {pixel(strut.start)}", f"end = {pixel(strut.end)}",
                  f"width_mm = {strut.width_mm}", f"over_strings = {str(strut.over_strings).lower()}"]  # fmt: skip
    for spot in base.spots:
        lines += ["[[spot]]", f'name = "{spot.name}"', f'kind = "{spot.kind}"', f"at = {pixel(spot.at)}",
                  f"height_mm = {spot.height_mm}"]  # fmt: skip
    for leg in base.floor:
        lines += ["[[floor]]", f'name = "{leg.name}"', f"at = {pixel(leg.at)}", f"radius_mm = {leg.radius_mm}"]
    return "\n".join(lines) + "\n"


def made(folder: Path, text: str, picture: str = PICTURE) -> Made:
    (folder / "hall-plan.toml").write_text(picture, "utf-8")
    (folder / "marks.toml").write_text(text, "utf-8")
    return trace(str(folder / "marks.toml"), None)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_traced_piano_comes_back(name: str, tmp_path: Path) -> None:
    """Marks to a tenth of a pixel: every end of every course lies within 3 mm of the true one, the case within 0.1."""
    done = made(tmp_path, marks(name))
    assert done.surveyed.doubts == ()
    for course, true in zip(done.surveyed.piano.courses, piano(name).courses, strict=True):
        assert course.near.distance_mm(true.near) < 3.0, course.key
        assert course.far.distance_mm(true.far) < 3.0, course.key
    for point, corner in zip(done.surveyed.survey.outline, survey(name).outline, strict=True):
        assert point.distance_mm(corner) < 0.2
    assert {"struts", "spots", "floor", "outline", "strike", "near_x_1"} <= done.surveyed.survey.measured
    assert piano_from_toml(done.path.read_bytes(), "hall") == done.surveyed.piano


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shaky_hand_stays_within_the_stated_error(name: str, tmp_path: Path) -> None:
    """With 1.5 mm of error in each mark, at least 90 of 100 marked coordinates lie inside two standard errors."""
    inside = count = 0
    for seed in range(3):
        found = made(tmp_path, marks(name, seed)).surveyed.fit
        for section in survey(name).sections:
            for point in section.points:
                guess = found.course(point.key)
                for share, at, true in ((0.0, guess.near, point.near), (1.0, guess.far, point.far)):
                    for off, error in zip(
                        (at.x_mm - true.x_mm, at.y_mm - true.y_mm), found.axis_errors_mm(point.key, share), strict=True
                    ):
                        inside += abs(off) <= 2.0 * error
                        count += 1
    assert inside >= 0.9 * count


def test_section_ends_alone_are_enough(tmp_path: Path) -> None:
    """Only the first and last course of each section marked, nothing else: a whole piano, the rest told as assumed."""
    text = marks("grand_210")
    head = text[: text.index("[[mark]]")]
    head = re.sub(r"outline = .*\n", "", head)
    ends = {key for section in survey("grand_210").sections for key in (section.first_key, section.last_key)}
    kept = [part for part in re.findall(r"\[\[mark\]\]\n(?:.+\n){3}", text)
            if int(re.findall(r"key = (\d+)", part)[0]) in ends]  # fmt: skip
    head = head.replace("[counted]", 'like = "grand_170"\n[counted]')
    with pytest.raises(BadInput, match="give its length"):
        made(tmp_path, head + "".join(kept))
    done = made(tmp_path, head.replace("rim_height", "length = 2100\nrim_height") + "".join(kept))
    places = {one.place for one in done.surveyed.assumptions}
    assert {"outline", "struts", "spots", "floor", "strike"} <= places
    assert any("plane of the strings" in one.text for one in done.surveyed.assumptions)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (r"near = \[[\d.]+, ([\d.]+)\]", r"near = [1300, \1]", "course 1, near.*off the picture"),
        (r"start = \[[\d.]+, [\d.]+\]", "start = [300, 2100]", "strut bass strut, start.*off the picture"),
        (r"near = \[[\d.]+, [\d.]+\]", "near = [1500, 200]", "swapped"),
        (r"outline = \[\[[\d.]+, [\d.]+\]", "outline = [[-9, 3]", "outline, point no. 1"),
        (r"key = 5\n", "key = 1\n", "marked twice"),
        (r"over_strings = true", "over_strings = false", "strut bass strut.*run through"),
        (r'kind = "case"', 'kind = "lid"', "kind"),
        (r'picture = "hall-plan.toml"', 'picture = "other.toml"', "other.toml"),
        (r"mm_per_pixel", "mm_per_pixels", "mm_per_pixel is missing"),
    ],
)
def test_slips_name_the_marked_point(old: str, new: str, words: str, tmp_path: Path) -> None:
    """One clear message that names the point, the strut or the file; nothing is written."""
    text = marks("grand_210")
    picture = PICTURE.replace(old, new) if old == "mm_per_pixel" else PICTURE
    changed = re.sub(old, new, text, count=1)
    assert changed != text or picture != PICTURE
    with pytest.raises(BadInput, match=words):
        made(tmp_path, changed, picture)
    assert not (tmp_path / "hall.toml").exists()


def test_crossing_marks_are_named(tmp_path: Path) -> None:
    """The far ends of two courses exchanged: the message names the marks of the courses that cross."""
    text = marks("grand_210")
    fars = re.findall(r"key = (\d+)\nnear = .+\nfar = (\[.+\])", text)
    one, other = fars[0][1], fars[5][1]
    swapped = text.replace(one, "@").replace(other, one).replace("@", other)
    with pytest.raises(BadInput) as caught:
        made(tmp_path, swapped)
    assert re.search(r"course \d+, far|cross", str(caught.value))


def test_the_size_of_the_picture_may_stand_in_the_image(tmp_path: Path) -> None:
    """A report without columns and rows takes them from the picture; one without either is refused."""
    report = re.sub(r"(columns|rows) = \d+\n", "", PICTURE)
    (tmp_path / "hall-plan.toml").write_text(report, "utf-8")
    with pytest.raises(BadInput, match=r"hall-plan\.png"):
        picture_from_file(tmp_path / "hall-plan.toml")
    header = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + (1200).to_bytes(4, "big") + (2000).to_bytes(4, "big")
    (tmp_path / "hall-plan.png").write_bytes(header + b"\x08\x02\x00\x00\x00")
    found = picture_from_file(tmp_path / "hall-plan.toml")
    assert (found.columns, found.rows) == (1200, 2000)
    assert found.error_at_mm((599.5, 999.5)) < found.error_at_mm((0.0, 0.0))
