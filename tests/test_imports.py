"""Who may import what: layers, heavy libraries in one file each, and a quick command line."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SOURCE = ROOT / "src" / "rimside"
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT / "src")}

HOMES: dict[str, tuple[str, ...]] = {
    "ortools": ("casting/solve.py",),
    "typst": ("paper/typeset.py",),
    "lxml": ("score/musicxml*.py", "score/read_musicxml.py"),
    "mido": ("score/read_midi.py",),
    "pydantic": ("files/*.py", "web/*.py", "web/rehearsing/*.py"),
    "pydantic_core": ("files/*.py", "web/*.py", "web/rehearsing/*.py"),
    "tqdm": ("say/*.py",),
    "cv2": ("piano/photo/camera.py",),
    "distributed": ("files/workers.py",),
    "shapely": ("piano/*.py", "casting/judge/*.py"),
    "starlette": ("web/*.py", "web/rehearsing/*.py"),
    "uvicorn": ("web/serve.py",),
    "jinja2": ("web/pages.py",),
    "segno": ("web/rehearsing/share.py",),
    "tomlkit": ("files/edits.py",),
    "fontpkg_atkinson_hyperlegible": ("paper/*.py",),
}
"""Each heavy library and the only files that may import it."""

HEAVY = (*HOMES, "numpy", "scipy", "pandas", "matplotlib", "music21", "tomllib", "dataclasses")


def imports(path: Path) -> Iterator[str]:
    """The first name of every absolute import in a file, wherever it stands in it."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module.partition(".")[0]


@pytest.mark.parametrize("library", HOMES)
def test_a_heavy_library_is_imported_in_its_home_only(library: str) -> None:
    """No other file of the source names it in an import."""
    files = {path.relative_to(SOURCE) for path in SOURCE.rglob("*.py") if library in imports(path)}
    strays = {path for path in files if not any(path.match(home) for home in HOMES[library])}
    assert not strays


def test_imports_go_one_way() -> None:
    """The layers of docs/design.md section 2, every module in one of them, no circles: import-linter agrees."""
    linter = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run(
        [linter, "--no-logo", "--no-cache"], cwd=ROOT, env=ENVIRONMENT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def own_imports(path: Path) -> set[str]:
    """The full names of the modules of this program that a file imports, submodules of packages included."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("rimside"):
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name.startswith("rimside")}
    return found


def test_the_judge_never_meets_the_solver() -> None:
    """Of the package casting the judge knows only what a casting is, and nobody in that package asks the judge."""
    judge = [SOURCE / "casting" / "verify.py", *(SOURCE / "casting" / "judge").glob("*.py")]
    assert len(judge) > 15
    met = set().union(*map(own_imports, judge))
    known = ("rimside.casting.result", "rimside.casting.judge")
    assert {name for name in met if name.startswith("rimside.casting") and not name.startswith(known)} <= {
        "rimside.casting"
    }
    assert "rimside.flow" not in met
    others = [path for path in (SOURCE / "casting").rglob("*.py") if path not in judge]
    asking = ("rimside.casting.verify", "rimside.casting.judge")
    assert [path for path in others if any(name.startswith(asking) for name in own_imports(path))] == []


def test_the_command_line_loads_nothing_heavy() -> None:
    """After help is printed none of the heavy libraries is in memory."""
    code = (
        "import sys; from rimside import cli\n"
        "try: cli.main(['--help'])\n"
        "except SystemExit: pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], env=ENVIRONMENT, capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    assert "cast" in done.stdout


def seconds(code: str, compiled: Path) -> float:
    """How long Python takes for a line of code, from start to end, s; what it compiles is kept as once installed."""
    environment = {**ENVIRONMENT, "PYTHONPYCACHEPREFIX": str(compiled)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], env=environment, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def test_help_is_quick(tmp_path: Path) -> None:
    """Help takes at most three times as long as Python takes to do nothing, the best of many turns of each.

    The best, because whatever else the machine does only adds, and the first turn compiles.
    """
    turns = [
        (seconds("from rimside import cli; cli.main(['--help'])", tmp_path), seconds("pass", tmp_path))
        for _ in range(15)
    ]
    help_s, nothing_s = map(min, zip(*turns, strict=True))
    assert help_s <= 3.0 * nothing_s
