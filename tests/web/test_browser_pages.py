"""Parts, reasons and papers in a real Chromium: at three widths, in both dresses, by keyboard, for screen readers."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from rimside.files import project
from tests.web.serving import Served, serve

WIDTHS, DRESSES = (390, 1024, 1440), ("paper", "hall")
VIEWS = ("/parts", "/parts/PLAYER", "/why", "/papers?sheet=cards", "/papers?sheet=plan")
GRAVE = ("serious", "critical")


@pytest.fixture
def in_trouble(troubled: Path, tmp_path: Path) -> Iterator[Served]:
    """A copy of the production with troubles, served."""
    page = serve(Path(shutil.copytree(troubled, tmp_path / "production")))
    yield page
    page.close()


def address(served: Served, view: str) -> str:
    """The address of a view of the served production."""
    first = project.load(served.house.root).players()[0].id
    return served.address + view.replace("PLAYER", first)


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_at_every_width_in_both_dresses(in_trouble: Served, window: Callable[..., Any], view: str) -> None:
    """No error, nothing asked elsewhere, nothing wider than the screen, nothing grave that axe-core finds."""
    from axe_playwright_python.sync_playwright import Axe

    for width in WIDTHS:
        for dress in DRESSES:
            page = window(width=width, dress=dress)
            page.goto(address(in_trouble, view))
            page.wait_for_load_state("networkidle")
            assert page.evaluate("document.documentElement.dataset.dress") == dress
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            found = Axe().run(page).response["violations"]
            grave = [(row["id"], row["nodes"][0]["html"]) for row in found if row["impact"] in GRAVE]
            assert not grave


def test_targets_are_large_enough_for_a_finger_on_a_phone(in_trouble: Served, window: Callable[..., Any]) -> None:
    """On a phone buttons are 44 px high or more, and links that stand by themselves too."""
    for view in VIEWS:
        page = window(width=390, height=800)
        page.goto(address(in_trouble, view))
        page.wait_for_load_state("networkidle")
        for target in page.locator("main button, main .button, main nav a, .figure .when a, select").all():
            if target.is_visible():
                box = target.bounding_box()
                assert box["height"] >= 43.5, target.inner_text()


def test_a_tight_change_is_marked_by_a_sign_and_a_word(in_trouble: Served, window: Callable[..., Any]) -> None:
    """Whatever is tight in a strip carries a sign and a word; the list at the head leads to its figure."""
    folder = in_trouble.house.root
    plan = next((folder / "castings").glob("*.json"))
    slow = re.sub(r'"settle_s": [0-9.]+', '"settle_s": 6.0', plan.read_text("utf-8"))
    plan.write_text(slow, "utf-8")
    seen = 0
    for player in project.load(folder).players():
        page = window(width=1024)
        page.goto(f"{in_trouble.address}/parts/{player.id}")
        for row in page.locator(".step.tight .slack").all():
            assert row.locator(".sign").count() == 1
            assert row.locator("b").inner_text() in ("tight", "no moment to spare")
            seen += 1
        for link in page.locator(".tightest a").all():
            goal = link.get_attribute("href")
            assert page.locator(f'[id="{goal.removeprefix("#")}"]').count() == 1
    assert seen


def test_a_figure_of_a_part_leads_into_the_piano_view(in_trouble: Served, window: Callable[..., Any]) -> None:
    """The bar is a link to the piano view with the figure named."""
    page = window(width=1024)
    page.goto(address(in_trouble, "/parts/PLAYER"))
    first = page.locator(".step:has(.figure)").first
    name = first.get_attribute("id")
    first.locator(".when a").click()
    page.wait_for_url(f"**/?figure={name}")


def test_a_mend_is_tried_seen_kept_and_taken_back_by_keyboard(in_trouble: Served, window: Callable[..., Any]) -> None:
    """One more hammer: what it brings is told, keeping it writes the kit, and the figure is no longer listed."""
    folder = in_trouble.house.root
    page = window(width=1024)
    page.goto(f"{in_trouble.address}/why")
    before = page.locator(".open").count()
    row = page.locator('.ways li[data-file="kit.toml"]').first
    row.locator(".try").focus()
    page.keyboard.press("Enter")
    row.locator(".found button").wait_for()
    assert "these are played" in row.locator(".found").inner_text()
    assert "count = 1 " in (folder / "kit.toml").read_text() or "count = 1\n" in (folder / "kit.toml").read_text()
    row.locator(".found button").focus()
    page.keyboard.press("Enter")
    page.locator("#said:has-text('Kept')").wait_for()
    assert page.locator(".open").count() == before - 1
    name = project.casting_names(folder)[0]
    after = project.load(folder)
    assert project.out_of_date(after, project.read_casting(after, name), name) == ""
    page.locator("#undo").click()
    page.locator("#said:has-text('taken back')").wait_for()
    assert page.locator(".open").count() == before


def test_a_casting_that_is_out_of_date_is_cast_again_from_the_page(
    in_trouble: Served, window: Callable[..., Any]
) -> None:
    """The page says that it is out of date; the button casts it, and the line is gone."""
    facts = in_trouble.house.root / "production.toml"
    facts.write_text(re.sub(r"(?m)^seconds = \d+", "seconds = 1", facts.read_text("utf-8")), "utf-8")
    page = window(width=1024)
    page.set_default_timeout(90_000)
    page.goto(f"{in_trouble.address}/why")
    page.locator("[data-casting] .cast").first.click()
    page.locator("h2:has-text('Out of date')").wait_for(state="detached")
    name = project.casting_names(in_trouble.house.root)[0]
    after = project.load(in_trouble.house.root)
    assert project.out_of_date(after, project.read_casting(after, name), name) == ""


def test_a_caution_is_noted_as_read(in_trouble: Served, window: Callable[..., Any]) -> None:
    """Pressing the button writes the caution's name into production.toml, and the button says so."""
    page = window(width=1024)
    page.goto(f"{in_trouble.address}/why")
    button = page.locator(".read").first
    name = button.get_attribute("data-caution")
    button.click()
    page.locator(".read:has-text('read ✓')").first.wait_for()
    assert name in project.load(in_trouble.house.root).facts.cautions_read


def test_a_slip_in_a_file_is_told_and_leads_to_the_file(in_trouble: Served, window: Callable[..., Any]) -> None:
    """With a broken kit the page of reasons still opens: the slip, once, with a way to the file."""
    kit = in_trouble.house.root / "kit.toml"
    kit.write_text(kit.read_text().replace("line_bow_hands = 2", "line_bow_hands = 9"))
    page = window(width=390)
    page.goto(f"{in_trouble.address}/why")
    assert "line_bow_hands" in page.locator(".slip").inner_text()
    assert page.locator("a:has-text('open kit.toml')").get_attribute("href") == "/files?file=kit.toml"


def test_the_book_is_written_and_taken(in_trouble: Served, window: Callable[..., Any]) -> None:
    """The line says that there is no book; the button writes it; the downloads are PDFs with names."""
    folder = in_trouble.house.root
    name = project.casting_names(folder)[0]
    page = window(width=1024)
    page.goto(f"{in_trouble.address}/papers?sheet=cards")
    assert "No book" in page.locator("#disc").inner_text()
    page.locator("#write").click()
    page.locator("#disc:has-text('is written')").wait_for()
    written = project.book_path(project.load(folder), name).read_bytes()
    for words, start in (("whole book", written[:1024]), ("cards of", b"%PDF")):
        with page.expect_download() as waiting:
            page.locator(f"a:has-text('{words}')").click()
        assert Path(waiting.value.path()).read_bytes().startswith(start)
        assert waiting.value.suggested_filename.endswith(".pdf")
    page.goto(f"{in_trouble.address}/papers?sheet=kit")
    with page.expect_download() as waiting:
        page.locator("a:has-text('to be made')").click()
    assert Path(waiting.value.path()).read_bytes().startswith(b"%PDF")


def test_every_page_picture_is_there_and_has_words(in_trouble: Served, window: Callable[..., Any]) -> None:
    """Each picture of a sheet is drawn and has a text of its own."""
    page = window(width=1440, height=6000)
    page.goto(f"{in_trouble.address}/papers?sheet=running")
    page.wait_for_load_state("networkidle")
    shown = page.locator(".sheaf img").all()
    assert shown
    for picture in shown:
        picture.scroll_into_view_if_needed()
        assert picture.evaluate("(img) => img.decode().then(() => img.naturalWidth)") > 500
    assert len({picture.get_attribute("alt") for picture in shown}) == len(shown)


def test_survey_sheets_are_taken_where_there_is_no_picture_yet(served: Served, window: Callable[..., Any]) -> None:
    """Markers and the form for a tape come as PDFs."""
    page = window(width=1024)
    page.goto(f"{served.address}/trace")
    for words in ("take the markers", "form for a tape"):
        with page.expect_download() as waiting:
            page.locator(f"a:has-text('{words}')").click()
        assert Path(waiting.value.path()).read_bytes().startswith(b"%PDF")


def test_a_part_prints_on_white_in_either_dress(in_trouble: Served, window: Callable[..., Any]) -> None:
    """On paper letters are dark and the ground is white, also when the screen wears the hall's dress."""
    page = window(width=1024, dress="hall")
    page.goto(address(in_trouble, "/parts/PLAYER"))
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.querySelector('.figure')).color") == "rgb(0, 0, 0)"
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    assert not page.locator(".head").is_visible()
