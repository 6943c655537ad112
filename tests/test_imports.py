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
    "typst": ("paper/pdf.py",),
    "lxml": ("score/musicxml*.py", "score/read_musicxml.py"),
    "mido": ("score/read_midi.py",),
    "pydantic": ("files/*.py", "web/*.py"),
    "pydantic_core": ("files/*.py", "web/*.py"),
    "tqdm": ("say.py",),
    "shapely": ("piano/*.py", "casting/*.py"),
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


def seconds(*arguments: str) -> float:
    """The best time of nine runs of Python, s: what other work on the machine adds is not ours."""
    times = []
    for _ in range(9):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], env=ENVIRONMENT, stdout=subprocess.DEVNULL, check=True)
        times.append(time.perf_counter() - start)
    return min(times)


def test_help_is_quick() -> None:
    """Help takes at most three times as long as Python takes to do nothing."""
    assert seconds("-m", "rimside.cli", "--help") <= 3.0 * seconds("-c", "pass")
