"""The whole job on an invented production: `python -m examples.demo DIR`.

Makes the production folder DIR (score, people, kit, words, three pianos), then runs the commands that a user would run.
The exit status is that of the first step that did not end well, 0 when all did.
"""

from __future__ import annotations

import sys
import time
from importlib import resources
from pathlib import Path

from examples.compose import score_text
from rimside import cli
from rimside.errors import RimsideError
from rimside.files.atomic import write_file
from rimside.files.project import PIANOS
from rimside.piano.shipped import shipped_surveys

SCORE = "score.musicxml"
WRITTEN_BY_PEOPLE = ("production.toml", "ensemble.toml", "kit.toml", "techniques.toml")


def production_files() -> dict[str, bytes]:
    """Every file of the demonstration's production folder, by its name in the folder."""
    shelf = resources.files("examples") / "production"
    files = {name: (shelf / name).read_bytes() for name in WRITTEN_BY_PEOPLE}
    files[SCORE] = score_text().encode("utf-8")
    return files | {f"{PIANOS}/{name}.toml": survey for name, survey in shipped_surveys().items()}


def build(folder: Path) -> tuple[str, ...]:
    """Write the production folder and return the names of its files. A second run changes nothing.

    Raises
    ------
    BadInput : the disc refuses.
    """
    files = production_files()
    for name, data in files.items():
        write_file(folder / name, data, str(folder / name))
    return tuple(files)


def steps(folder: str) -> list[tuple[str, list[str]]]:
    """What is done with the folder: plain words, and the command with its arguments."""
    casts = [(f"Cast the piece on {name}", ["cast", folder, "--piano", name]) for name in shipped_surveys()]
    return [
        ("Read the score", ["read", folder]),
        *casts,
        ("Check every file and every casting", ["check", folder]),
        ("Print a book for each piano", ["book", folder, "--all"]),
    ]


def run(folder: str) -> int:
    """Build the folder and do every step; the exit status of the first that did not end well."""
    print(f"Making the production {folder}: {', '.join(build(Path(folder)))}")
    for number, (words, arguments) in enumerate(steps(folder), start=1):
        print(f"\n== {number}. {words}: rimside {' '.join(arguments)}\n", flush=True)
        started = time.monotonic()
        status = cli.main(arguments)
        if status != cli.DONE:
            print(f"\nStopped: step {number} ended with status {status}.", file=sys.stderr)
            return status
        print(f"\n({time.monotonic() - started:.1f} s)")
    print(closing(Path(folder)))
    return cli.DONE


def closing(folder: Path) -> str:
    """What to open first."""
    books = sorted(path for path in (folder / "book").rglob("*.pdf"))
    lines = [f"  {path}" for path in books] or ["  (no book was printed)"]
    return "\n".join(
        [
            "\nDone. Open:",
            *lines,
            f"  rimside open {folder}: see it happen inside the piano, in the browser",
            f"  {folder / 'castings'}: one plan for each piano",
            f"  {folder / 'ensemble.toml'}: change somebody, and run rimside cast {folder} again",
            "The piece is described in docs/demo.md.",
        ]
    )


def main(arguments: list[str]) -> int:
    """Run the demonstration in the one folder named."""
    if len(arguments) != 1:
        print("usage: python -m examples.demo DIR", file=sys.stderr)
        return cli.BAD_INPUT
    try:
        return run(arguments[0])
    except RimsideError as slip:
        print(f"demo: {slip}", file=sys.stderr)
        return cli.BAD_INPUT


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
