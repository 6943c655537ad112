"""The piano view in a real Chromium."""

from __future__ import annotations

import json
import math
import re
import struct
import time
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rimside.files import scaffold
from rimside.web import export
from tests.web.serving import Served, serve

Window = Callable[..., Any]
WIDTHS = (390, 1024, 1440)


def ready(page: Any, address: str) -> Any:
    """The page at an address, drawn."""
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    return page


def middle(box: dict[str, float]) -> tuple[float, float]:
    """The middle of what Chromium says of an element."""
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def until(page: Any, true: str, seconds: float = 8.0) -> None:
    """Wait until an expression holds; asked from outside, because the page's policy forbids evaluating text in it."""
    end = time.monotonic() + seconds
    while not page.evaluate(true):
        assert time.monotonic() < end, true
        page.wait_for_timeout(20)


@pytest.mark.parametrize("dress", ["paper", "hall"])
@pytest.mark.parametrize("width", WIDTHS)
def test_the_view_is_whole_at_every_width(served: Served, window: Window, width: int, dress: str) -> None:
    """Stage, words, time line and the keys to play are on the page, and nothing is wider than the window."""
    page = ready(window(width, 844, dress), served.address)
    for selector in ("#stage", ".person-mark >> nth=0", "#now .clock", "#line svg", "#play"):
        assert page.locator(selector).is_visible(), selector
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate("document.documentElement.dataset.dress") == dress


def test_contact_points_lie_where_the_casting_says(served: Served, window: Window, folder: Path) -> None:
    """Dots on the screen against the casting file, through the scale of the drawn case alone (half a pixel)."""
    page = ready(window(1440, 900), served.address)
    plain = json.loads(next((folder / "castings").glob("*.json")).read_text("utf-8"))
    figures = {figure["id"]: figure for figure in plain["figures"]}
    outline = page.evaluate("rimside.scene.outline")
    box = page.evaluate("document.querySelector('.rim').getBoundingClientRect().toJSON()")  # without its stroke
    xs, ys = [y for _, y in outline], [x for x, _ in outline]
    scale = box["width"] / (max(xs) - min(xs))
    left, top = box["x"], box["y"]
    seen = 0
    for row in plain["cast"]:
        at = figures[row["figure"]]["start_s"] + 0.01
        page.evaluate("(t) => { rimside.go(t); rimside.stage.draw(t); }", at)
        dots = page.locator(f'.dot[data-figure="{row["figure"]}"]').all()
        assert len(dots) == len(row["contacts"])
        for dot, contact in zip(dots, row["contacts"], strict=True):
            x, y = middle(dot.bounding_box())
            assert x == pytest.approx(left + scale * (contact["y_mm"] - min(xs)), abs=0.5)
            assert y == pytest.approx(top + scale * (contact["x_mm"] - min(ys)), abs=0.5)
            seen += 1
    assert seen > 10


def test_people_stand_where_they_play(served: Served, window: Window, folder: Path) -> None:
    """While a figure lasts its player is drawn at the figure's place, and every hand of it has come to its point."""
    page = ready(window(1280, 800), served.address)
    plain = json.loads(next((folder / "castings").glob("*.json")).read_text("utf-8"))
    figures = {figure["id"]: figure for figure in plain["figures"]}
    places = {place["id"]: place for place in plain["places"]}
    for row in plain["cast"]:
        at = (figures[row["figure"]]["start_s"] + figures[row["figure"]]["end_s"]) / 2
        poses = page.evaluate("(t) => rimside.stage.draw(t)", at)
        pose = next(pose for pose in poses if pose["id"] == row["player"])
        place = places[row["place"]]
        assert (pose["x"], pose["y"]) == pytest.approx((place["x_mm"], place["y_mm"]), abs=0.1)
        assert pose["busy"]


def test_bodies_never_jump(served: Served, window: Window) -> None:
    """From one sixtieth of a second to the next nobody moves faster than a run, over the whole piece."""
    page = ready(window(1280, 800), served.address)
    fastest = page.evaluate("""() => {
        const { scene, stage } = rimside;
        let most = 0, before = null;
        for (let t = scene.begin_s; t < scene.end_s; t += 1 / 30) {
            const poses = stage.draw(t).filter((pose) => !pose.absent);
            const way = (pose, i) => Math.hypot(pose.x - before[i].x, pose.y - before[i].y);
            if (before) most = Math.max(most, ...poses.map((pose, i) => way(pose, i) * 30));
            before = poses.map(({ x, y }) => ({ x, y }));
        }
        return most;
    }""")
    assert fastest < 4000.0


def test_playing_holding_and_stepping(served: Served, window: Window) -> None:
    """Play runs, hold stops, and each of figure, bar and mark steps to the next start and back."""
    page = ready(window(1280, 800), served.address)
    page.keyboard.press("Space")
    until(page, "rimside.time.seconds() > 0.3")
    page.keyboard.press("Space")
    held = page.evaluate("rimside.time.seconds()")
    page.wait_for_timeout(150)
    assert page.evaluate("rimside.time.seconds()") == held
    scene = page.evaluate("rimside.scene")
    page.keyboard.press("Home")
    starts = sorted({figure["start"] for figure in scene["figures"]})
    page.get_by_role("button", name="next figure").click()
    assert page.evaluate("rimside.time.seconds()") == pytest.approx(next(at for at in starts if at > 0.005))
    page.keyboard.press("Home")
    page.get_by_role("button", name="next bar").click()
    assert page.evaluate("rimside.time.seconds()") == pytest.approx(scene["bars"][1][0])
    page.get_by_role("button", name="bar before").click()
    assert page.evaluate("rimside.time.seconds()") == pytest.approx(0.0)
    page.keyboard.press("PageUp")
    assert page.evaluate("rimside.time.seconds()") == pytest.approx(scene["begin_s"])


def test_slower_faster_and_a_loop(served: Served, window: Window) -> None:
    """The speed changes how the time runs; a loop turns back at its end."""
    page = ready(window(1280, 800), served.address)
    page.select_option("#speed", "2")
    page.keyboard.press("p")
    until(page, "rimside.time.seconds() > 0.3")
    ratio = page.evaluate(
        "async () => { const from = [performance.now(), rimside.time.seconds()];"
        " await new Promise((done) => setTimeout(done, 600));"
        " return 1000 * (rimside.time.seconds() - from[1]) / (performance.now() - from[0]); }"
    )
    page.keyboard.press("p")
    assert ratio == pytest.approx(2.0, abs=0.25)
    page.evaluate("rimside.go(1)")
    page.get_by_role("button", name="loop from here").click()
    page.evaluate("rimside.go(1.6)")
    page.get_by_role("button", name="loop to here").click()
    page.keyboard.press("p")
    page.wait_for_timeout(1200)
    assert 1.0 <= page.evaluate("rimside.time.seconds()") <= 1.75
    page.get_by_role("button", name="end the loop").click()
    until(page, "rimside.time.seconds() > 1.8")


def test_the_time_line_is_dragged_and_has_a_name(served: Served, window: Window) -> None:
    """A press on the line goes there; the same by keys, with the moment in words for who cannot see it."""
    page = ready(window(1280, 800), served.address)
    box = page.locator("#line").bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.5, box["y"] + box["height"] / 2)
    after = page.evaluate("rimside.time.seconds()")
    assert after > 1.0
    slider = page.get_by_role("slider", name="Time in the piece")
    slider.focus()
    page.keyboard.press("ArrowRight")
    assert page.evaluate("rimside.time.seconds()") > after
    until(page, "document.querySelector('#line input').getAttribute('aria-valuetext').includes('bar')")


def test_following_a_player_from_their_place(served: Served, window: Window) -> None:
    """The drawing turns so that the followed player stands at the bottom, looking up; the others grow faint."""
    page = ready(window(1280, 800), served.address)
    scene = page.evaluate("rimside.scene")
    figure = next(figure for figure in scene["figures"] if figure.get("player"))
    page.evaluate("(t) => rimside.go(t)", figure["start"] + 0.1)
    page.select_option("#follow", figure["player"])
    page.get_by_role("button", name="from their place").click()
    page.wait_for_timeout(1200)
    x, y, heading, _ = scene["places"][figure["place"]]
    stage = page.locator("#stage").bounding_box()
    body = middle(page.locator(f'.person-mark[data-player="{figure["player"]}"] .head').bounding_box())
    assert body[0] == pytest.approx(stage["x"] + stage["width"] / 2, abs=3)
    assert body[1] == pytest.approx(stage["y"] + stage["height"] * 0.86, abs=3)
    ahead = page.evaluate(
        "([x, y, h]) => { const a = rimside.stage.screen(x, y), r = h * Math.PI / 180;"
        " const b = rimside.stage.screen(x + 100 * Math.cos(r), y + 100 * Math.sin(r));"
        " return [b[0] - a[0], b[1] - a[1]]; }",
        [x, y, heading],
    )
    assert ahead[1] < -5 and abs(ahead[0]) < 1.0
    assert page.locator(".person-mark.aside").count() == len(scene["players"]) - 1


def test_a_chosen_figure_is_told_in_words(served: Served, window: Window) -> None:
    """A click on a row, and the address of a figure, show who plays it, from where, with what."""
    page = ready(window(1280, 800), served.address)
    figure = next(row for row in page.evaluate("rimside.scene.figures") if row.get("player"))
    ready(page, f"{served.address}/?figure={figure['id']}")
    words = page.locator("#chosen").inner_text()
    assert figure["place"] in words
    assert all(tool in words for tool in figure["tools"])
    page.keyboard.press("Escape")
    assert not page.locator("#chosen").is_visible()


def test_who_wants_less_motion_gets_it(served: Served, window: Window) -> None:
    """With reduced motion hands rest at their points: no bow swings."""
    page = ready(window(1280, 800, reduced_motion="reduce"), served.address)
    rows = [
        row for row in page.evaluate("rimside.scene.figures") if row.get("player") and row["end"] - row["start"] > 1.0
    ]
    figure = next((row for row in rows if "bow" in row["technique"]), rows[0])
    ask = (
        "([id, t]) => { const p = rimside.stage.draw(t).find((one) => one.id === id); return [p.right.x, p.right.y]; }"
    )
    hands = [page.evaluate(ask, [figure["player"], figure["start"] + share]) for share in (0.2, 0.5)]
    assert hands[0] == pytest.approx(hands[1], abs=0.01)


def rendered(path: Path, seconds: float) -> None:
    """A quiet tone as a WAV file, in place of a rendered sound."""
    rate = 22_050
    rows = (int(3000 * math.sin(2 * math.pi * 220 * n / rate)) for n in range(int(rate * seconds)))
    path.parent.mkdir()
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(b"".join(struct.pack("<h", row) for row in rows))


def test_the_rendered_sound_leads_the_picture(served: Served, window: Window, folder: Path) -> None:
    """With a sound beside the casting the time in the piece is the sound's own, at any speed, after any step."""
    name = next((folder / "castings").glob("*.json")).stem
    rendered(folder / "sound" / f"{name}.wav", 30.0)
    page = window(1280, 800)
    page.add_init_script("window.played = []; const A = Audio; window.Audio = function (...a) {"
                         " const made = new A(...a); played.push(made); return made; };")  # fmt: skip
    ready(page, served.address)
    apart = "Math.abs(rimside.time.seconds() - played[0].currentTime)"
    for speed in ("1", "2", "0.5"):
        page.select_option("#speed", speed)
        page.evaluate("rimside.go(5)")
        page.evaluate("rimside.time.play()")
        until(page, "!played[0].paused && rimside.time.seconds() > 5.4")
        until(page, f"{apart} < 0.1")
        page.evaluate("rimside.time.hold()")
        assert page.evaluate("played[0].paused")


def test_a_production_without_a_casting_is_cast_here(window: Window, tmp_path: Path) -> None:
    """The first page offers to cast; the piano is drawn when that is done."""
    scaffold.new(str(tmp_path / "new"))
    text = (tmp_path / "new" / "production.toml").read_text("utf-8")
    (tmp_path / "new" / "production.toml").write_text(re.sub(r"(?m)^#? ?seconds = .*$", "seconds = 1", text), "utf-8")
    page_served = serve(tmp_path / "new")
    page = window(1024, 800)
    page.goto(page_served.address)
    page.get_by_role("button", name="cast it").click()
    page.wait_for_selector("html[data-ready]", timeout=90_000)
    assert page.locator(".person-mark").count() > 0
    page_served.close()


def test_one_file_plays_from_disc(production: Path, window: Window, tmp_path: Path) -> None:
    """The exported file opens without a server, draws, plays, and asks nobody for anything."""
    path = export.write(str(production), None, str(tmp_path / "piece.html"))
    page = ready(window(1280, 800), path.as_uri())
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.keyboard.press("Space")
    until(page, "rimside.time.seconds() > 0.3")
    assert page.locator(".person-mark").count() == len(page.evaluate("rimside.scene.players"))
    assert not [url for url in asked if not url.startswith(("data:", "blob:"))]


def test_axe_finds_nothing_serious(served: Served, window: Window) -> None:
    """axe-core 4 (Deque, MPL 2.0, from its package) over the view with a figure chosen, in both dresses."""
    from axe_playwright_python.sync_playwright import Axe

    for dress in ("paper", "hall"):
        page = ready(window(1280, 800, dress), served.address)
        figure = page.evaluate("rimside.scene.figures.find((f) => f.player).id")
        page.evaluate("(id) => rimside.figure(id)", figure)
        found = Axe().run(page).response["violations"]
        assert [row["id"] for row in found if row["impact"] in ("serious", "critical")] == []
