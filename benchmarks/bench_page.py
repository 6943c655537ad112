"""The piano view in Chromium at 1280 wide: frames at the demo's densest, size, first use, 20 minutes scrubbed."""

from __future__ import annotations

import shutil
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Any

from benchmarks import families
from benchmarks.bench_follow import Server
from examples import demo
from rimside import flow
from rimside.files import job
from rimside.paper.material import BookInput
from rimside.pitch import LabelScheme
from rimside.score.model import BarStart, Score
from rimside.web import export

FRAMES, BYTES, USABLE_S, SCRUB_MS = 60.0, 300_000, 1.0, 50.0
"""What was asked for: frames a second in the middle, bytes without sound, first use, and the worst frame of a scrub."""
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip
PLAY = """async ([at, seconds]) => {
  rimside.go(at); rimside.time.play();
  const rows = []; let last = performance.now(); const end = last + seconds * 1000;
  await new Promise((done) => {
    const frame = (now) => { rows.push(now - last); last = now; now < end ? requestAnimationFrame(frame) : done(); };
    requestAnimationFrame(frame);
  });
  rimside.time.hold(); return rows.slice(1);
}"""
SCRUB = """async ([steps, from, to]) => {
  const rows = []; let last = performance.now();
  for (let n = 0; n < steps; n++) {
    const share = (n * 0.6180339887) % 1;
    rimside.go(n % 3 ? from + (to - from) * share : from + (to - from) * n / steps);
    await new Promise(requestAnimationFrame);
    const now = performance.now(); rows.push(now - last); last = now;
  }
  return rows.slice(1);
}"""


def main() -> dict[str, float]:
    """Print and return the figures."""
    with tempfile.TemporaryDirectory() as made, _chromium() as browser:
        if browser is None:
            print("no Chromium on this machine: nothing was measured")
            return {}
        folder = Path(made) / "demo"
        demo.build(folder)
        job.cast(job.prepare(str(folder)), lambda stage, share: None)
        server = Server(folder)
        found = _first_use(browser, server.address) | _played(browser, server.address)
        server.end()
        found |= _scrubbed(browser, Path(made))
    _told(found)
    return found


def _told(found: dict[str, float]) -> None:
    print(f"first page {found['bytes'] / 1000:.0f} kB as sent (target {BYTES / 1000:.0f}), "
          f"drawn {found['usable_s']:.2f} s after it was asked for (target {USABLE_S:g})")  # fmt: skip
    print(f"played for 10 s at the demo's densest: {found['frames']:.1f} frames a second in the middle "
          f"(target {FRAMES:g}), 95 of 100 within {found['p95_ms']:.1f} ms")  # fmt: skip
    print(f"{found['minutes']:.0f} minutes, {found['figures']:.0f} figures, {found['cast']:.0f} of them cast: "
          f"{found['steps']:.0f} moments, frame {found['scrub_ms']:.1f} ms in the middle, "
          f"{found['worst_ms']:.1f} ms at worst (target {SCRUB_MS:g})")  # fmt: skip


def _page(browser: Any) -> Any:
    return browser.new_context(viewport={"width": 1280, "height": 800}).new_page()


def _first_use(browser: Any, address: str) -> dict[str, float]:
    """Bytes over the line and seconds until the piano is drawn, in a fresh browser context, in the middle of five."""
    seconds, sizes = [], []
    for _ in range(5):
        page = _page(browser)
        sizes_now: list[float] = []
        line = page.context.new_cdp_session(page)
        line.send("Network.enable")
        line.on("Network.loadingFinished", lambda row, into=sizes_now: into.append(row["encodedDataLength"]))
        begun = time.perf_counter()
        page.goto(address, wait_until="commit")
        page.wait_for_selector("html[data-ready]")
        seconds.append(time.perf_counter() - begun)
        page.wait_for_timeout(500)
        sizes.append(sum(sizes_now))
        page.context.close()
    return {"bytes": statistics.median(sizes), "usable_s": statistics.median(seconds)}


def _played(browser: Any, address: str) -> dict[str, float]:
    """Ten seconds from where most people play."""
    page = _page(browser)
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    busy = page.evaluate("rimside.scene.busy")
    sums = [sum(busy[n : n + 5]) for n in range(max(1, len(busy) - 5))]
    rows = sorted(page.evaluate(PLAY, [2.0 * sums.index(max(sums)), 10.0]))
    page.context.close()
    return {"frames": 1000.0 / statistics.median(rows), "p95_ms": rows[int(0.95 * len(rows))]}


def _scrubbed(browser: Any, made: Path) -> dict[str, float]:
    """A dense piece of 20 minutes, as one file; dragged along and thrown about."""
    of = families.instance(20, "dense", 10)
    casting = flow.cast(families.problem(of), flow.UNASSIGNED, seconds=30.0, depth=1)
    end_s = max(figure.end_s for figure in of.figures)
    bars = tuple(
        BarStart(bar=str(n + 1), pass_number=1, start_quarters=Fraction(4 * n), start_s=4.0 * n)
        for n in range(int(end_s / 4.0))
    )
    score = Score(title="Twenty minutes", parts=("all",), notes=(), bars=bars, end_s=end_s)
    book = BookInput(
        title="Twenty minutes", ensemble_name="ten", casting=casting, score=score, piano=of.piano,
        players=of.players, kit=of.kit, scheme=LabelScheme.SCIENTIFIC,
    )  # fmt: skip
    file = made / "twenty.html"
    file.write_text(export.document(book, of.piano.name), "utf-8")
    page = _page(browser)
    page.goto(file.as_uri())
    page.wait_for_selector("html[data-ready]")
    steps = 300
    rows = page.evaluate(SCRUB, [steps, 0.0, end_s])
    page.context.close()
    return {
        "minutes": end_s / 60.0, "figures": len(casting.figures), "cast": len(casting.cast), "steps": steps,
        "scrub_ms": statistics.median(rows), "worst_ms": max(rows),
    }  # fmt: skip


@contextmanager
def _chromium() -> Iterator[Any]:
    """A Chromium, or None where there is none."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium")
    if path is None:
        yield None
        return
    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield opened
        opened.close()


if __name__ == "__main__":
    main()
