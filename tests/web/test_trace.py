"""Marks on a picture: written beside what people wrote, read back, told by their slips, and made into a piano."""

from __future__ import annotations

import random
import re
import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from rimside.errors import BadInput
from rimside.files import project, tracing
from rimside.files.history import History
from rimside.files.schema_piano import piano_from_toml
from rimside.piano.model import Point
from tests.files.test_measure_trace import PICTURE, marks
from tests.piano.example import piano
from tests.web.serving import Served, serve

NAME = "grand_210"


def blank_png(columns: int, rows: int) -> bytes:
    """A grey picture of this size."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", columns, rows, 8, 0, 0, 0, 0)
    body = zlib.compress((b"\0" + b"\xb0" * columns) * rows)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.fixture
def pictured(folder: Path) -> Path:
    """A production with a rectified picture and no marks on it yet."""
    survey = folder / "survey"
    survey.mkdir(exist_ok=True)
    (survey / "hall-plan.toml").write_text(PICTURE, "utf-8")
    (survey / "hall-plan.png").write_bytes(blank_png(1200, 2000))
    return folder


def split(text: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Marks and facts of a trace, as the page sends them."""
    told = tracing.told(text.encode())
    return {name: told.get(name, []) for name in tracing.MARKS}, {n: told[n] for n in tracing.FACTS if n in told}


def test_marks_of_the_page_make_the_piano_that_was_marked(pictured: Path) -> None:
    """A trace written by the page alone comes back as the piano, within 3 mm at every end of every course."""
    rows, facts = split(marks(NAME))
    data = tracing.with_marks(b"", "hall-plan.toml", rows, facts, "hall-marks.toml")
    assert tracing.slip_of(pictured, "hall-marks.toml", data) == ""
    (pictured / "survey" / "hall-marks.toml").write_bytes(data)
    name, made, done = tracing.make_piano(pictured, "hall-marks.toml")
    history = History(pictured)
    tracing.keep_piano(history, pictured, "hall-marks.toml", name, made)
    tracing.keep_piano(history, pictured, "hall-marks.toml", name, made)
    history.close()
    kept = piano_from_toml((pictured / "pianos" / "hall.toml").read_bytes(), "hall")
    assert kept == done.piano
    for course, true in zip(kept.courses, piano(NAME).courses, strict=True):
        assert course.near.distance_mm(true.near) < 3.0
        assert course.far.distance_mm(true.far) < 3.0


def test_what_people_wrote_in_a_trace_stays(pictured: Path) -> None:
    """Comments, permissions and readings of the tape are as they were; only the list that changed is written anew."""
    text = marks(NAME).replace("[counted]", '[permissions]\nallowed = ["touch"]\n\n[counted]  # counted twice')
    rows, facts = split(text)
    same = tracing.with_marks(text.encode(), "hall-plan.toml", rows, facts, "marks.toml").decode()
    assert same == text
    rows["spot"] = [{**rows["spot"][0], "at": [300.0, 400.0]}]
    changed = tracing.with_marks(text.encode(), "hall-plan.toml", rows, {}, "marks.toml").decode()
    assert "# counted twice" in changed
    assert 'allowed = ["touch"]' in changed
    assert tracing.told(changed.encode())["spot"] == rows["spot"]
    assert tracing.told(changed.encode())["mark"] == rows["mark"]


def test_a_slip_names_its_mark(pictured: Path) -> None:
    """An end off the picture, a course marked twice, a strut with one end: the sentence names the mark."""
    for old, new, words in (
        (r"near = \[[\d.]+, ([\d.]+)\]", r"near = [1300, \1]", "course 1, near"),
        (r"key = 5\n", "key = 1\n", "marked twice"),
        (r"end = \[[\d.]+, [\d.]+\]\n", "", "strut no. 1"),
    ):
        data = re.sub(old, new, marks(NAME), count=1).encode()
        assert re.search(words, tracing.slip_of(pictured, "hall-marks.toml", data))


def test_only_pictures_with_a_good_report_are_marked(pictured: Path) -> None:
    """A broken report is listed with its slip; what is no report is not; an image elsewhere is not given out."""
    survey = pictured / "survey"
    (survey / "bad-plan.toml").write_text(PICTURE.replace("rows = 2000", "rows = -1"), "utf-8")
    (survey / "notes.toml").write_text("words = 1", "utf-8")
    found = {one.report: one for one in tracing.pictures(pictured)}
    assert set(found) == {"hall-plan.toml", "bad-plan.toml"}
    assert found["bad-plan.toml"].slip
    assert tracing.image_file(pictured, "hall-plan.toml").name == "hall-plan.png"
    (survey / "away-plan.toml").write_text(PICTURE.replace("hall-plan.png", "../production.toml"), "utf-8")
    for report in ("away-plan.toml", "bad-plan.toml", "none.toml"):
        with pytest.raises(BadInput):
            tracing.image_file(pictured, report)


def test_another_piano_of_the_same_name_is_not_replaced(pictured: Path) -> None:
    """Marks that are called like a piano of the production leave its file as it was."""
    there = project.load(pictured).facts.piano
    before = (pictured / "pianos" / f"{there}.toml").read_bytes()
    history = History(pictured)
    with pytest.raises(BadInput, match="another piano"):
        tracing.keep_piano(history, pictured, "hall-marks.toml", there, b"format = 1")
    history.close()
    assert (pictured / "pianos" / f"{there}.toml").read_bytes() == before


@pytest.fixture
def page_of_marks(pictured: Path) -> Iterator[Served]:
    """The production with a picture, served."""
    page = serve(pictured)
    yield page
    page.close()


def opened(page: Any, served: Served) -> Any:
    """The page of marks, drawn."""
    page.goto(f"{served.address}/trace")
    page.wait_for_selector("html[data-ready]")
    return page


def on_screen(page: Any, column: float, row: float) -> tuple[float, float]:
    """Where a pixel of the picture lies on the screen."""
    box = page.locator("#image").bounding_box()
    return box["x"] + (column + 0.5) * box["width"] / 1200, box["y"] + (row + 0.5) * box["height"] / 2000


def test_a_click_marks_what_lies_under_it(page_of_marks: Served, window: Callable[..., Any]) -> None:
    """Zoomed in, a hundred clicks land within a pixel and a half; saved, they are in the file, and in mm beside it."""
    page = opened(window(width=1440, height=900), page_of_marks)
    page.select_option("#kind", "outline")
    chance = random.Random(7)
    wanted = [(chance.uniform(50, 1150), chance.uniform(50, 1950)) for _ in range(100)]
    for at in wanted:
        page.mouse.click(*on_screen(page, *at))
    page.locator("#save").click()
    page.locator("#said:has-text('Saved')").wait_for()
    told = tracing.told((page_of_marks.house.root / "survey" / "hall-marks.toml").read_bytes())["outline"]
    whole_px = 2000 / page.locator("#image").bounding_box()["height"]
    assert len(told) == len(wanted)
    for at, found in zip(wanted, told, strict=True):
        assert Point(x_mm=at[0], y_mm=at[1]).distance_mm(Point(x_mm=found[0], y_mm=found[1])) < 1.5 * whole_px


def test_marks_by_keyboard_drag_and_undo(page_of_marks: Served, window: Callable[..., Any]) -> None:
    """Both ends of course 1 by the keyboard; one is dragged; undo takes the drag and then the mark back."""
    page = opened(window(width=1440, height=900), page_of_marks)
    page.locator("#stage").focus()
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    rows = page.locator("#list li .figures")
    assert [text.partition(":")[0] for text in rows.all_inner_texts()] == ["1 near", "1 far"]
    before = rows.nth(1).inner_text()
    box = page.locator(".dot").nth(1).locator(".hit").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y + 10, steps=4)
    page.mouse.up()
    assert rows.nth(1).inner_text() != before
    page.keyboard.press("Control+z")
    assert rows.nth(1).inner_text() == before
    page.locator("#back").click()
    assert rows.count() == 1


def test_fingers_set_marks_and_zoom(page_of_marks: Served, window: Callable[..., Any]) -> None:
    """A tap sets a mark; two fingers that part make the picture larger and set none."""
    page = opened(window(width=390, height=844, has_touch=True), page_of_marks)
    page.touchscreen.tap(*on_screen(page, 600, 900))
    assert page.locator("#list li").count() == 1
    before = page.locator("#image").bounding_box()["width"]
    x, y = on_screen(page, 600, 1000)
    session = page.context.new_cdp_session(page)
    for kind, apart in (("touchStart", 40), ("touchMove", 60), ("touchMove", 90), ("touchMove", 120), ("touchEnd", 0)):
        fingers = [{"x": x - apart / 2, "y": y, "id": 1}, {"x": x + apart / 2, "y": y, "id": 2}] if apart else []
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": fingers})
    page.wait_for_timeout(100)
    assert page.locator("#image").bounding_box()["width"] > 1.5 * before
    assert page.locator("#list li").count() == 1


def test_a_slip_stands_beside_its_mark_and_the_piano_is_made(page_of_marks: Served, window: Callable[..., Any]) -> None:
    """A trace with a bad mark is shown with its slip; mended in the file it is made into a piano with its report."""
    trace = page_of_marks.house.root / "survey" / "hall-marks.toml"
    trace.write_text(marks(NAME).replace("key = 5\n", "key = 1\n", 1), "utf-8")
    page = opened(window(width=1024, height=900), page_of_marks)
    assert "twice" in page.locator("#slip").inner_text()
    trace.write_text(re.sub(r"near = \[[\d.]+, ([\d.]+)\]", r"near = [1300, \1]", marks(NAME), count=1), "utf-8")
    opened(page, page_of_marks)
    assert "course 1, near" in page.locator("#list li:has-text('1 near') .slip").first.inner_text()
    trace.write_text(marks(NAME), "utf-8")
    opened(page, page_of_marks)
    page.locator("#make").click()
    page.locator("#report h2:has-text('pianos/hall.toml')").wait_for()
    assert (page_of_marks.house.root / "pianos" / "hall.toml").is_file()


def test_marks_that_somebody_changed_meanwhile_are_not_overwritten(
    page_of_marks: Served, window: Callable[..., Any], watched: Any
) -> None:
    """The file changed outside: saving says so and keeps what was set; a second save writes it on top."""
    watched.allowed = ("409",)
    page = opened(window(width=1024, height=900), page_of_marks)
    page.locator("#stage").focus()
    page.keyboard.press("Enter")
    trace = page_of_marks.house.root / "survey" / "hall-marks.toml"
    trace.write_text(marks(NAME), "utf-8")
    page.locator("#save").click()
    page.locator("#slip:has-text('changed meanwhile')").wait_for()
    assert trace.read_text("utf-8") == marks(NAME)
    assert page.locator("#list li").count() == 1
    page.locator("#save").click()
    page.locator("#said:has-text('Saved')").wait_for()
    assert len(tracing.told(trace.read_bytes())["mark"]) == 1


@pytest.mark.parametrize("dress", ["paper", "hall"])
@pytest.mark.parametrize("width", [390, 1024, 1440])
def test_the_page_of_marks_is_whole(page_of_marks: Served, window: Callable[..., Any], width: int, dress: str) -> None:
    """No error, nothing wider than the screen, nothing grave that axe-core finds."""
    from axe_playwright_python.sync_playwright import Axe

    (page_of_marks.house.root / "survey" / "hall-marks.toml").write_text(marks(NAME), "utf-8")
    page = opened(window(width=width, height=844, dress=dress), page_of_marks)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page).response["violations"]
    assert not [row["id"] for row in found if row["impact"] in ("serious", "critical")]


def test_without_a_picture_the_page_says_how_to_make_one(served: Served, window: Callable[..., Any]) -> None:
    """No picture in the folder survey: one sentence on what to do, and no script that fails."""
    page = window(width=390)
    page.goto(f"{served.address}/trace")
    assert "rimside measure photo" in page.locator("main").inner_text()
