"""The program is killed while somebody edits: nothing that was accepted is lost."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
import tomllib
import urllib.request
from pathlib import Path

import pytest

from rimside.files import project
from rimside.files.history import History

ROOT = Path(__file__).parents[2]


def started(folder: Path) -> tuple[subprocess.Popen[bytes], str]:
    """The page as the command serves it, and its address."""
    command = [sys.executable, "-m", "rimside.cli", "open", str(folder), "--no-browser", "--json", "--port", "0"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "PYTHONUNBUFFERED": "1"}
    child = subprocess.Popen(command, stdout=subprocess.PIPE, env=environment)
    assert child.stdout is not None
    told = b""
    while not told.strip().endswith(b"}"):
        line = child.stdout.readline()
        assert line, "the page did not start"
        told += line
    return child, str(json.loads(told)["address"]).rstrip("/")


def asked(address: str, path: str, body: object = None) -> dict[str, object]:
    """The answer of an address, sent as the page sends it."""
    data = None if body is None else json.dumps(body).encode()
    headers = {"origin": address, "content-type": "application/json", "accept": "application/json"}
    request = urllib.request.Request(f"{address}{path}", data=data, headers=headers)
    with urllib.request.urlopen(request, timeout=10) as answer:
        told: dict[str, object] = json.load(answer)
    return told


def edit_until_killed(address: str, first: int, accepted: list[int]) -> None:
    """Write one number after the other into ensemble.toml, and note what was accepted, until nobody answers."""
    number = first
    try:
        while True:
            sha = asked(address, "/files/form?name=ensemble.toml")["sha"]
            edit = {"do": "set", "way": ["player", 0, "stature_mm"], "value": number}
            asked(address, "/files/save", {"name": "ensemble.toml", "sha": sha, "edits": [edit]})
            accepted.append(number)
            number += 1
    except (OSError, ValueError):
        return


def kill_while_editing(folder: Path, times: int, seed: int) -> None:
    """Serve, edit, kill -9, look; again and again."""
    draw, first = random.Random(seed), 1400
    for _ in range(times):
        child, address = started(folder)
        accepted: list[int] = []
        with child:
            editing = threading.Thread(target=edit_until_killed, args=(address, first, accepted))
            editing.start()
            until = time.monotonic() + 30.0
            while not accepted and time.monotonic() < until:
                time.sleep(0.02)
            time.sleep(draw.uniform(0.0, 0.6))
            child.send_signal(signal.SIGKILL)
            editing.join()
        assert accepted
        history = History(folder)
        kept = tomllib.loads((folder / "ensemble.toml").read_text("utf-8"))["player"][0]["stature_mm"]
        assert kept in (accepted[-1], accepted[-1] + 1)
        assert not history.notice()
        history.close()
        assert project.load(folder).players()
        first = kept + 1


def test_killing_the_page_loses_no_accepted_change(folder: Path) -> None:
    """kill -9 at random moments of editing, three times: the last accepted value stands, every file is whole."""
    kill_while_editing(folder, 3, 1)


@pytest.mark.soak
def test_killing_the_page_thirty_times(folder: Path) -> None:
    """The same for long, at other moments every time."""
    kill_while_editing(folder, 30, random.randrange(1_000_000))
