"""How far phones are off from the leader's clock: a server of its own, phones without a screen, two real pages."""

from __future__ import annotations

import json
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import Request, urlopen

from benchmarks.following import Phone, following
from rimside.files import job, project, scaffold
from rimside.files.ledger import Ledger
from rimside.web.rehearsing.clock import seconds

SKEWS_MS = (0.0, 4321.5, -987.25, 60_000.0, -3_600_000.0, 12.5, -250.0, 777.0)
PAGE_SKEW_MS = 5000.5
ROUNDS, EVERY_S = 100, 0.05
RESTARTS = 5
JITTER_MS = 20.0
MEDIAN_MS, WORST_MS, BACK_S = 15.0, 50.0, 3.0
"""What was asked for: in the middle, at worst, and how soon all are back after a restart."""
REAL = """(() => { const now = performance.now.bind(performance);
  window.real_ms = () => performance.timeOrigin + now(); performance.now = () => now() + %s; })();"""
STANDS = """import('/static/rehearsing/follow.js').then((page) =>
  [window.real_ms(), page.seconds_now(), page.line.samples.length])"""


def main() -> dict[str, float]:
    """Print and return the median and worst error in ms, and the slowest return after a restart in s."""
    with tempfile.TemporaryDirectory() as made, _pages() as browser:
        folder = Path(made) / "production"
        scaffold.new(str(folder))
        job.cast(job.prepare(str(folder), seconds=5.0), lambda stage, share: None)
        server = Server(folder)
        found = _measured(server, folder, browser)
        server.end()
    count = 2 * len(SKEWS_MS) + (2 if browser is not None else 0)
    print(f"{count} phones, {ROUNDS} looks at each, clocks up to an hour wrong")
    print(f"off by {found['median_ms']:.2f} ms in the middle, {found['p99_ms']:.2f} ms in 99 of 100, "
          f"{found['worst_ms']:.2f} ms at worst (target {MEDIAN_MS:g} and {WORST_MS:g} ms)")  # fmt: skip
    print(f"with delays of {JITTER_MS:g} ms on the average {found['rough_median_ms']:.1f} ms "
          f"in the middle, {found['rough_worst_ms']:.1f} ms at worst")  # fmt: skip
    print(f"all back {found['back_s']:.2f} s after the server, slowest of {RESTARTS} restarts (target {BACK_S:g} s)")
    return found


class Server:
    """`rimside open` in a process of its own, that can be ended and started again on its port."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.folder, self.address = folder, f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> float:
        """Start it; when it answered, by `time.monotonic`."""
        command = "import sys; from rimside.cli import main; sys.exit(main(sys.argv[1:]))"
        told = [sys.executable, "-c", command, "open", str(self.folder), "--no-browser", "--port", str(self.port)]
        path = os.pathsep.join(sys.path)
        self.process = subprocess.Popen(told, stdout=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": path})
        while True:
            try:
                urlopen(self.address + "/static/look.css", timeout=5).close()
            except (URLError, ConnectionError):
                time.sleep(0.02)
            else:
                return time.monotonic()

    def end(self) -> None:
        """End it at once, as a pulled plug would."""
        self.process.kill()
        self.process.wait()

    def post(self, path: str, **body: object) -> None:
        """A deed of the leader."""
        headers = {"origin": self.address, "content-type": "application/json"}
        urlopen(Request(self.address + path, json.dumps(body).encode(), headers), timeout=10).close()

    def link(self, player: str) -> str:
        """A new link of a player."""
        self.post("/rehearse/make", player=player)
        with urlopen(f"{self.address}/rehearse/link/{player}", timeout=10) as answer:
            return str(json.load(answer)["link"])


@contextmanager
def _pages() -> Iterator[Any]:
    """A Chromium, or None where there is none."""
    from playwright.sync_api import Error, sync_playwright

    with sync_playwright() as started:
        try:
            opened = started.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--headless", "--no-sandbox"]
            )
        except Error:
            print("no Chromium: measured without real pages")
            yield None
            return
        yield opened
        opened.close()


def _measured(server: Server, folder: Path, browser: Any) -> dict[str, float]:
    production = project.load(folder)
    players = [body.id for body in project.read_casting(production, project.casting_names(folder)[0]).players]
    links = [server.link(player) for player in players]
    phones = [Phone(links[number % len(links)], skew) for number, skew in enumerate(SKEWS_MS)]
    rough = [Phone(links[number % len(links)], skew, JITTER_MS) for number, skew in enumerate(SKEWS_MS)]
    with following([*phones, *rough]):
        pages = [_page(browser, links[number % len(links)]) for number in range(2)] if browser is not None else []
        _until(
            lambda: (
                all(phone.ready for phone in (*phones, *rough)) and all(page.evaluate(STANDS)[2] >= 3 for page in pages)
            )
        )
        server.post("/rehearse/do", do="play")
        _until(lambda: all(phone.clock.playing for phone in (*phones, *rough)))
        time.sleep(2.0)
        errors = sorted(error for _ in range(ROUNDS) for error in _looked(folder, phones, pages))
        rougher = sorted(error for _ in range(ROUNDS) for error in _looked(folder, rough, []))
        back = [_back_s(server, phones) for _ in range(RESTARTS)]
    return {
        "median_ms": statistics.median(errors), "p99_ms": errors[int(0.99 * len(errors))], "worst_ms": errors[-1],
        "back_s": max(back), "rough_median_ms": statistics.median(rougher), "rough_worst_ms": rougher[-1],
    }  # fmt: skip


def _page(browser: Any, link: str) -> Any:
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.add_init_script(REAL % PAGE_SKEW_MS)
    page.goto(link)
    return page


def _ready(page: Any) -> bool:
    return bool(page.evaluate(STANDS)[2] >= 3)


def _looked(folder: Path, phones: list[Phone], pages: list[Any]) -> list[float]:
    """How far each is from the leader at this moment, ms. One machine: its time of day is the server's."""
    time.sleep(EVERY_S)
    clock = Ledger(folder).clock()
    found = [abs(phone.seconds_now() - seconds(clock, time.time() * 1000.0)) * 1000.0 for phone in phones]
    for page in pages:
        real_ms, stands_s, _ = page.evaluate(STANDS)
        found.append(abs(stands_s - seconds(clock, real_ms)) * 1000.0)
    return found


def _back_s(server: Server, phones: list[Phone]) -> float:
    server.end()
    time.sleep(1.5)
    there = server.start()
    _until(lambda: all(phone.opened_at[-1] > there - 0.5 for phone in phones))
    return max(phone.opened_at[-1] for phone in phones) - there


def _until(holds: Any) -> None:
    end = time.monotonic() + 30.0
    while not holds():
        if time.monotonic() > end:
            raise TimeoutError("the phones did not come")
        time.sleep(0.02)


if __name__ == "__main__":
    main()
