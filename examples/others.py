"""A harpsichord and a guitar, each with an invented piece: `python -m examples.others DIR`.

Makes one production folder for each in DIR, casts it, has it judged and prints its book and the kit to build. The exit
status is that of the first step that did not end well, 0 when all did.
"""

from __future__ import annotations

import sys
from importlib import resources
from pathlib import Path

from rimside import cli
from rimside.errors import RimsideError
from rimside.files.atomic import write_file

OTHERS = ("harpsichord", "guitar")


def production_files(name: str) -> dict[str, bytes]:
    """Every file of one of these productions, by its name in the folder."""
    shelf = resources.files("examples") / name
    files = {item.name: item.read_bytes() for item in shelf.iterdir() if item.is_file()}
    return files | {f"pianos/{item.name}": item.read_bytes() for item in (shelf / "pianos").iterdir()}


def build(folder: Path, name: str) -> None:
    """Write one production folder; a second run changes nothing.

    Raises
    ------
    BadInput : the disc refuses.
    """
    for file, data in production_files(name).items():
        write_file(folder / file, data, str(folder / file))


def run(folder: Path) -> int:
    """Build both and do every step; the exit status of the first that did not end well."""
    for name in OTHERS:
        here = folder / name
        build(here, name)
        for words in (["cast", str(here)], ["check", str(here)], ["book", str(here)], ["build", str(here)]):
            print(f"\n== rimside {' '.join(words)}\n", flush=True)
            status = cli.main(words)
            if status != cli.DONE:
                print(f"\nStopped: this ended with status {status}.", file=sys.stderr)
                return status
    return cli.DONE


def main(arguments: list[str]) -> int:
    """Run in the one folder named."""
    if len(arguments) != 1:
        print("usage: python -m examples.others DIR", file=sys.stderr)
        return cli.BAD_INPUT
    try:
        return run(Path(arguments[0]))
    except RimsideError as slip:
        print(f"others: {slip}", file=sys.stderr)
        return cli.BAD_INPUT


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
