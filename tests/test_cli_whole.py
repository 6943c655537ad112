"""The commands with nothing replaced: a fresh production from `new` to the printed book, and a real Ctrl-C."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.files.productions import PIANO, change, new

ROOT = Path(__file__).parent.parent
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT / "src")}


def command(*words: object) -> list[str]:
    return [sys.executable, "-m", "rimside.cli", *map(str, words)]


def run(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command(*words), env=ENVIRONMENT, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh production that was cast once."""
    made = new(tmp_path_factory.mktemp("whole") / "p")
    done = run("cast", made, "--seconds", 1)
    assert done.returncode == 0, done.stdout + done.stderr
    return made


def test_a_fresh_production_is_cast_whole(folder: Path) -> None:
    """Everything of the example is cast, and the six levels are listed with their bounds."""
    table = json.loads((folder / "castings" / f"{PIANO}.json").read_text("utf-8"))
    assert table["uncast"] == []
    assert len(table["cast"]) == len(table["figures"]) > 0
    assert [row["level"] for row in table["proof"]] == [
        "1 uncast",
        "2 risk",
        "3 moves",
        "4 returns",
        "5 memory",
        "6 load",
    ]
    assert all(row["bound"] <= row["value"] for row in table["proof"])
    assert table["made_from"].keys() == {
        "production.toml",
        "score.csv",
        "techniques.toml",
        "ensemble.toml",
        "kit.toml",
        "pins.toml",
        f"pianos/{PIANO}.toml",
    }


def test_the_same_seed_gives_the_same_casting(folder: Path, tmp_path: Path) -> None:
    """A second production with the same files is cast alike."""
    other = new(tmp_path / "p")
    run("cast", other, "--seconds", 1)
    tables = [json.loads((each / "castings" / f"{PIANO}.json").read_text("utf-8")) for each in (folder, other)]
    for table in tables:
        table.pop("seconds")
    assert tables[0] == tables[1]


def test_check_and_book_are_done(folder: Path) -> None:
    """The judge agrees, and the book is a PDF; both end with 0."""
    checked = run("check", folder)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    printed = run("book", folder)
    assert printed.returncode == 0, printed.stdout + printed.stderr
    assert (folder / "book" / f"{PIANO}.pdf").read_bytes().startswith(b"%PDF-")
    assert run("check", folder).returncode == 0


def test_a_moved_contact_is_found(folder: Path, tmp_path: Path) -> None:
    """A plan that somebody changed by hand is judged again: a contact out of reach is a broken rule, exit 1."""
    path = folder / "castings" / f"{PIANO}.json"
    whole = path.read_bytes()
    table = json.loads(whole)
    table["cast"][0]["contacts"][0]["x_mm"] += 3000.0
    try:
        path.write_text(json.dumps(table), "utf-8")
        done = run("check", folder)
    finally:
        path.write_bytes(whole)
    assert done.returncode == 1
    assert "H3" in done.stdout


def test_a_book_goes_out_of_date_with_its_casting(folder: Path, tmp_path: Path) -> None:
    """After an input changed, check names casting and book; the book can still be printed, with a warning."""
    folder = Path(shutil.copytree(folder, tmp_path / "p"))
    run("book", folder)
    change(folder, "production.toml", "Four at the Rim", "Four near the Rim")
    done = run("check", folder)
    assert done.returncode == 1
    assert f"casting {PIANO} is out of date: production.toml changed" in done.stdout
    assert f"book {PIANO} is out of date" in done.stdout
    printed = run("book", folder)
    assert printed.returncode == 1
    assert "is out of date" in printed.stdout


def later(row: str, bars: int) -> str:
    """A row of a figure sheet that starts so many bars later."""
    return re.sub(r",(\d+):", lambda bar: f",{int(bar[1]) + bars}:", row, count=1)


def make_long(folder: Path, times: int) -> None:
    """Play the example's figures again and again, so that casting takes much longer than a test."""
    path = folder / "score.csv"
    lines = path.read_text("utf-8").splitlines()
    head = next(number for number, line in enumerate(lines) if line.startswith("section,")) + 1
    again = [later(row, 23 * turn) for turn in range(times) for row in lines[head:]]
    path.write_text("\n".join([*lines[:head], *again]) + "\n", "utf-8")


LOADING = """
import os, signal, sys, time
sys.path.insert(0, sys.argv.pop())
from rimside import cli

def run(options):
    import interrupted
    time.sleep(60)
    print("not stopped")
    return 0

says, examples, options, _ = cli.COMMANDS["check"]
cli.COMMANDS["check"] = says, examples, options, run
sys.exit(cli.main(["check", "."]))
"""


def test_a_ctrl_c_while_a_module_loads_waits_until_it_has_loaded(tmp_path: Path) -> None:
    """A module in the middle of which Ctrl-C is pressed is loaded to its end; then the program stops."""
    (tmp_path / "interrupted.py").write_text(
        "import os, signal, time\nos.kill(os.getpid(), signal.SIGINT)\ntime.sleep(0.3)\nprint('loaded')\n", "utf-8"
    )
    words = [sys.executable, "-c", LOADING, str(tmp_path)]
    done = subprocess.run(words, env=ENVIRONMENT, capture_output=True, text=True, check=False, timeout=30)
    assert (done.returncode, done.stdout, done.stderr) == (
        130,
        "loaded\n",
        "rimside: stopped; every file is as it was\n",
    )


@pytest.mark.soak
@pytest.mark.parametrize("after_ms", range(200, 2200, 50))
def test_a_real_ctrl_c_at_any_moment_of_the_start(after_ms: int, tmp_path: Path) -> None:
    """Wherever in its start the program is interrupted, it ends with 130, one message and whole files."""
    test_a_real_ctrl_c_leaves_whole_files(after_ms / 1000, tmp_path)


@pytest.mark.parametrize("after_s", [0.7, 2.0, 6.0])
def test_a_real_ctrl_c_leaves_whole_files(after_s: float, tmp_path: Path) -> None:
    """An interrupt while starting or casting ends with 130 and one message; what lies on the disc is whole."""
    folder = new(tmp_path / "p")
    make_long(folder, 20)
    running = subprocess.Popen(
        command("cast", folder, "--seconds", 300),
        env=ENVIRONMENT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    time.sleep(after_s)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130, out + err
    assert "Traceback" not in err
    assert len([line for line in err.splitlines() if line.startswith("rimside: stopped")]) == 1
    files = [path for path in (folder / "castings").rglob("*") if path.is_file()]
    assert [path.name for path in files] == ([f"{PIANO}.json"] if "best plan" in err else [])
    for path in files:
        assert path.parent.name == "unfinished"
        assert json.loads(path.read_text("utf-8"))["format"] == "rimside-casting/1"
