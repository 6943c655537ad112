"""Changing by hand in a real Chromium: dragging, forms, undo, two windows at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.web.serving import Served, Watched

Window = Callable[..., Any]


def ready(page: Any, address: str) -> Any:
    """The page at an address, drawn."""
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    return page


def players_of(folder: Path) -> list[dict[str, Any]]:
    """The players as ensemble.toml has them."""
    found: list[dict[str, Any]] = tomllib.loads((folder / "ensemble.toml").read_text("utf-8"))["player"]
    return found


def choose_another(page: Any) -> str:
    """Pin the chosen figure to another player by the form; the player's id."""
    page.wait_for_selector("form.pins")
    now = page.evaluate("rimside.figures.get(new URLSearchParams(location.search).get('figure')).player")
    values = page.eval_on_selector_all(
        "#pin-player optgroup:first-of-type option", "all => all.map((one) => one.value)"
    )
    other = next(value for value in values if value != f"+{now}")
    page.select_option("#pin-player", other)
    page.get_by_role("button", name="keep it").wait_for()
    return str(other[1:])


def test_a_pin_by_the_form_is_seen_kept_and_taken_back(served: Served, window: Window, folder: Path) -> None:
    """What would change is told; kept it stands in pins.toml and in the drawing; undo takes both back."""
    page = ready(window(1440, 900), served.address)
    figure = page.evaluate("rimside.scene.figures.find((f) => f.player).id")
    before = page.evaluate("(id) => rimside.figures.get(id).player", figure)
    ready(page, f"{served.address}/?figure={figure}")
    pins = (folder / "pins.toml").read_bytes()
    other = choose_another(page)
    assert "what would change" in page.locator(".would").inner_text()
    assert (folder / "pins.toml").read_bytes() == pins
    with page.expect_navigation():
        page.get_by_role("button", name="keep it").click()
    page.wait_for_selector("html[data-ready]")
    assert page.evaluate("(id) => rimside.figures.get(id).player", figure) == other
    page.wait_for_selector("#undo:not([disabled])")
    with page.expect_navigation():
        page.keyboard.press("Control+z")
    page.wait_for_selector("html[data-ready]")
    assert page.evaluate("(id) => rimside.figures.get(id).player", figure) == before
    page.wait_for_selector("#redo:not([disabled])")


def test_a_figure_is_dragged_to_another_player(served: Served, window: Window) -> None:
    """The tag is taken to a body; the form says so and what would change is told; nothing is kept yet."""
    page = ready(window(1440, 900), served.address)
    figure = page.evaluate(
        "rimside.scene.figures.find((f) => f.player && f.contacts.length && f.contacts[0][0] !== null)"
    )
    page.evaluate("(t) => { rimside.go(t); rimside.stage.draw(t); }", figure["start"] + 0.05)
    page.wait_for_timeout(200)
    busy = {row["id"] for row in page.evaluate("(t) => rimside.stage.draw(t)", figure["start"] + 0.05) if row["busy"]}
    other = next(player["id"] for player in page.evaluate("rimside.scene.players") if player["id"] not in busy)
    tag = page.locator(f'.tag[data-figure="{figure["id"]}"]').first.bounding_box()
    body = page.locator(f'.person-mark[data-player="{other}"] .head').bounding_box()
    page.mouse.move(tag["x"] + tag["width"] / 2, tag["y"] + tag["height"] / 2)
    page.mouse.down()
    page.mouse.move(body["x"], body["y"], steps=4)
    page.mouse.move(body["x"] + body["width"] / 2, body["y"] + body["height"] / 2)
    assert page.locator(".ghost").is_visible()
    page.mouse.up()
    page.locator(".would .decide, .would .slip").first.wait_for()
    assert page.locator("#pin-player").input_value() in (f"+{other}", "")
    assert page.evaluate("(id) => rimside.figures.get(id).player", figure["id"]) == figure["player"]


def test_a_slip_stands_beside_its_field_and_nothing_typed_is_lost(served: Served, window: Window, folder: Path) -> None:
    """A height in metres is told beside the field while it is typed; put right it is kept."""
    page = ready(window(1024, 900), f"{served.address}/files")
    page.locator("details.entry summary").first.click()
    box = page.get_by_label("stature").first
    box.fill("1.7")
    page.locator(".beside").wait_for()
    assert "was it given in m?" in page.locator(".beside").inner_text()
    assert box.get_attribute("aria-invalid") == "true"
    assert page.get_by_role("button", name="keep", exact=True).is_disabled()
    box.fill("1709")
    page.wait_for_selector("#save:not([disabled])")
    page.wait_for_selector(".beside", state="detached")
    with page.expect_navigation():
        page.get_by_role("button", name="keep", exact=True).click()
    page.wait_for_selector("html[data-ready]")
    assert players_of(folder)[0]["stature_mm"] == 1709


def test_entries_are_added_and_taken_out(served: Served, window: Window, folder: Path) -> None:
    """One more player and one less, in one step; comments of the file stay."""
    page = ready(window(1024, 900), f"{served.address}/files")
    before = players_of(folder)
    page.get_by_role("button", name="another player").click()
    last = page.locator("details.entry").last
    last.get_by_label("name", exact=True).fill("Zora")
    last.get_by_label("stature").fill("1660")
    page.locator("details.entry summary").nth(1).click()
    page.locator("details.entry").nth(1).get_by_role("button", name="take out").last.click()
    page.wait_for_selector("#save:not([disabled])")
    with page.expect_navigation():
        page.get_by_role("button", name="keep", exact=True).click()
    page.wait_for_selector("html[data-ready]")
    after = [player["name"] for player in players_of(folder)]
    assert after == [player["name"] for player in (before[0], *before[2:])] + ["Zora"]


def test_two_windows_edit_one_file(served: Served, window: Window, watched: Watched, folder: Path) -> None:
    """The second is told, keeps what was typed, and puts it on top; both changes are there then."""
    watched.allowed = ("409",)
    one, two = (ready(window(1024, 900), f"{served.address}/files") for _ in range(2))
    for number, page in enumerate((one, two)):
        page.locator("details.entry summary").nth(number).click()
        page.locator("details.entry").nth(number).get_by_label("stature").fill(str(1711 + number))
        page.wait_for_selector("#save:not([disabled])")
    with one.expect_navigation():
        one.get_by_role("button", name="keep", exact=True).click()
    two.get_by_role("button", name="keep", exact=True).click()
    on_top = two.get_by_role("button", name="keep mine on top of theirs")
    on_top.wait_for()
    assert "ensemble.toml written" in two.locator("#state").inner_text()
    assert two.locator("details.entry").nth(1).get_by_label("stature").input_value() == "1712"
    with two.expect_navigation():
        on_top.click()
    two.wait_for_selector("html[data-ready]")
    assert [player["stature_mm"] for player in players_of(folder)[:2]] == [1711, 1712]


def test_two_windows_and_an_entry_that_one_takes_out(
    served: Served, window: Window, watched: Watched, folder: Path
) -> None:
    """The second sees what the first did line by line; the own change goes to the player it was meant for."""
    watched.allowed = ("409",)
    one, two = (ready(window(1024, 900), f"{served.address}/files") for _ in range(2))
    names = [player["name"] for player in players_of(folder)]
    one.locator("details.entry summary").first.click()
    one.locator("details.entry").first.get_by_role("button", name="take out").last.click()
    two.locator("details.entry summary").nth(1).click()
    two.locator("details.entry").nth(1).get_by_label("stature").fill("1713")
    for page in (one, two):
        page.wait_for_selector("#save:not([disabled])")
    with one.expect_navigation():
        one.get_by_role("button", name="keep", exact=True).click()
    two.get_by_role("button", name="keep", exact=True).click()
    on_top = two.get_by_role("button", name="keep mine on top of theirs")
    on_top.wait_for()
    assert f'no longer: name = "{names[0]}"' in two.locator("#theirs").inner_text()
    with two.expect_navigation():
        on_top.click()
    two.wait_for_selector("html[data-ready]")
    after = players_of(folder)
    assert [player["name"] for player in after] == names[1:]
    assert after[0]["stature_mm"] == 1713


def test_the_text_takes_over_what_the_form_says(served: Served, window: Window, watched: Watched, folder: Path) -> None:
    """What was changed in the form stands in the text; a conflict there shows theirs, and mine can be kept instead."""
    from playwright.sync_api import expect

    watched.allowed = ("409",)
    page = ready(window(1024, 900), f"{served.address}/files")
    page.locator("details.entry summary").first.click()
    page.get_by_label("stature").first.fill("1714")
    page.wait_for_selector("#save:not([disabled])")
    page.locator("#as-text > summary").click()
    expect(page.locator("#text")).to_have_value(re.compile("stature_mm = 1714"))
    text = page.locator("#text").input_value()
    page.locator("#text").fill(f"# mine\n{text}")
    assert page.locator("#form").get_attribute("inert") is not None
    path = folder / "ensemble.toml"
    path.write_text(f"{path.read_text('utf-8')}\n# theirs\n", "utf-8")
    page.wait_for_selector("#save:not([disabled])")
    page.get_by_role("button", name="keep", exact=True).click()
    page.get_by_role("button", name="keep mine instead").wait_for()
    assert page.get_by_label("theirs, to copy from").input_value().endswith("# theirs\n")
    with page.expect_navigation():
        page.get_by_role("button", name="keep mine instead").click()
    page.wait_for_selector("html[data-ready]")
    assert path.read_text("utf-8") == f"# mine\n{text}"
    page.wait_for_selector("#undo:not([disabled])")
    with page.expect_navigation():
        page.locator("#undo").click()
    assert path.read_text("utf-8").endswith("# theirs\n")


def test_two_windows_pin_one_figure(served: Served, window: Window, watched: Watched) -> None:
    """Who pins second sees what the first did, and can send the own wish on top."""
    watched.allowed = ("409",)
    first = ready(window(1440, 900), served.address)
    figure = first.evaluate("rimside.scene.figures.find((f) => f.player).id")
    one, two = (ready(window(1440, 900), f"{served.address}/?figure={figure}") for _ in range(2))
    for page in (one, two):
        choose_another(page)
    with one.expect_navigation():
        one.get_by_role("button", name="keep it").click()
    two.get_by_role("button", name="keep it").click()
    two.get_by_role("button", name="send mine on top").wait_for()
    assert "changed meanwhile" in two.locator(".would").inner_text()


def test_variants_on_the_page(served: Served, window: Window, folder: Path) -> None:
    """Made, compared, opened, put aside, all by its buttons."""
    page = window(1024, 900)
    page.goto(f"{served.address}/variants")
    page.get_by_label("A new variant").fill("calmer")
    with page.expect_navigation():
        page.get_by_role("button", name="make it").click()
    assert page.get_by_role("columnheader", name="calmer").is_visible()
    page.get_by_role("link", name="open").last.click()
    page.wait_for_selector("html[data-ready]")
    assert "calmer" in page.locator(".variant").inner_text()
    name = players_of(folder)[0]["name"]
    other = folder / "variants" / "calmer" / "ensemble.toml"
    other.write_text(other.read_text("utf-8").replace(f'name = "{name}"', 'name = "Zora"'), "utf-8")
    page.goto(f"{served.address}/variants")
    with page.expect_navigation():
        page.get_by_role("button", name="take over").click()
    assert players_of(folder)[0]["name"] == "Zora"
    page.wait_for_selector("#undo:not([disabled])")
    with page.expect_navigation():
        page.locator("#undo").click()
    assert players_of(folder)[0]["name"] == name
    with page.expect_navigation():
        page.get_by_role("button", name="put aside").click()
    assert not (folder / "variants" / "calmer").exists()


@pytest.mark.parametrize("dress", ["paper", "hall"])
@pytest.mark.parametrize("width", [390, 1024, 1440])
def test_every_form_at_every_width(served: Served, window: Window, width: int, dress: str) -> None:
    """Every file's form and the variants fit the window; axe-core 4 (Deque, MPL 2.0) finds nothing serious."""
    from axe_playwright_python.sync_playwright import Axe

    page = window(width, 900, dress)
    for path in ("/files", "/files?file=kit.toml", "/files?file=pianos/grand_275.toml", "/files?file=techniques.toml"):
        ready(page, served.address + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    found = Axe().run(page).response["violations"]
    page.goto(f"{served.address}/variants")
    found += Axe().run(page).response["violations"]
    assert [(row["id"], row["nodes"][0]["html"]) for row in found if row["impact"] in ("serious", "critical")] == []
