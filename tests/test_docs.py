"""What the documentation tells people to type is run; what it lists is what there is."""

from __future__ import annotations

import argparse
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from rimside import cli
from rimside.cautions import CAUTIONS
from rimside.files.schema_kit import ImplementTable, KitTable, RowTable, TimesTable, WindowTable
from rimside.files.schema_people import PlayerTable
from rimside.files.schema_pins import PinTable
from rimside.files.schema_production import ProductionTable
from rimside.files.toml import Table
from rimside.pitch import Key, LabelScheme, label
from rimside.say.production import LEVELS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
COMMANDS = (ROOT / "docs" / "commands.md").read_text("utf-8")
CONTRIBUTING = (ROOT / "CONTRIBUTING.md").read_text("utf-8")
GLOSSARY = (ROOT / "docs" / "glossary.md").read_text("utf-8")
MADE = sorted(
    {
        name
        for pair in re.findall(r"`make (\w+)`|^    make (\w+)$", README + CONTRIBUTING, re.MULTILINE)
        for name in pair
        if name
    }
)
SECONDS = "1"
"""How long a documented cast may think here, in place of what the documentation says."""


def typed(text: str) -> list[str]:
    """The lines of a page that somebody types: indented by four, starting with the program's name."""
    return re.findall(r"^    (rimside .+)$", text, re.MULTILINE)


def table(text: str) -> list[list[str]]:
    """The cells of every row of a page's tables."""
    rows = re.findall(r"^\| (.+) \|$", text, re.MULTILINE)
    return [[cell.strip().strip("`") for cell in row.split(" | ")] for row in rows]


def command_names() -> set[str]:
    parser = cli._parser()
    (commands,) = (action for action in parser._actions if isinstance(action, argparse._SubParsersAction))
    return set(commands.choices)


def test_the_tour_of_the_readme_runs(tmp_path: Path) -> None:
    """Every line of the tour, in its order, in an empty folder: nothing is bad input, and the first cast is whole."""
    lines = typed(README)
    told = ["new", "read", "cast", "cast", "tour", "cast", "check", "book", "open", "inside", "measure", "build"]
    assert [line.split()[1] for line in lines] == told
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    for number, line in enumerate(lines):
        words = shlex.split(re.sub(r"--seconds \d+", f"--seconds {SECONDS}", line))[1:]
        done = subprocess.run(
            [sys.executable, "-m", "rimside.cli", *words],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        allowed = (0,) if number <= 2 else (0, 1)
        assert done.returncode in allowed, f"{line}\n{done.stdout}{done.stderr}"
        assert done.stderr == ""
    assert list((tmp_path / "low-tide" / "book").glob("*.pdf"))


def test_the_page_of_commands_lists_what_there_is() -> None:
    """Each command has its line at the top and its section, and there is no other."""
    assert {line.split()[1] for line in typed(COMMANDS)} == command_names()
    sections = set(re.findall(r"^## (\w+)$", COMMANDS, re.MULTILINE))
    assert sections == command_names()


def test_the_page_of_commands_lists_the_levels() -> None:
    """The table of levels has the program's own names in the program's order."""
    names = [row[0] for row in table(COMMANDS)]
    assert [name for name in names if name in LEVELS] == list(LEVELS)


def test_the_page_of_commands_lists_the_exit_statuses() -> None:
    """The table of exit statuses has the program's own numbers."""
    numbers = [int(row[0]) for row in table(COMMANDS) if row[0].isdigit()]
    assert numbers == [cli.DONE, cli.INCOMPLETE, cli.BAD_INPUT, cli.FAULT, cli.STOPPED]


def test_every_option_on_the_page_exists() -> None:
    """No option is documented that no command takes."""
    parser = cli._parser()
    (commands,) = (action for action in parser._actions if isinstance(action, argparse._SubParsersAction))
    known = {option for command in commands.choices.values() for option in command._option_string_actions}
    assert set(re.findall(r"--[a-z]+\b(?!-)", COMMANDS)) - {"--without-player"} <= known


@pytest.mark.parametrize("target", MADE)
def test_every_make_target_in_the_documentation_exists(target: str) -> None:
    """`make TARGET` in the README or CONTRIBUTING stands in the Makefile."""
    assert re.search(rf"^{target}:", (ROOT / "Makefile").read_text(), re.MULTILINE)


def test_every_link_leads_somewhere() -> None:
    """Each relative link of a page names a file or folder of this repository."""
    pages = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]
    links = [(page, link) for page in pages for link in re.findall(r"\]\(([^)#:]+)\)", page.read_text("utf-8"))]
    assert links
    assert [(page.name, link) for page, link in links if not (page.parent / link).exists()] == []


# Key 49 sounds 440 Hz in every scheme (ISO 16:1975 for the pitch; docs/design.md, section 1, for the labels).
@pytest.mark.parametrize("scheme", LabelScheme)
def test_the_glossary_spells_440_hz_as_the_program_does(scheme: LabelScheme) -> None:
    """The table of schemes gives the label that the program writes."""
    rows = {row[0]: row[1] for row in table(GLOSSARY)}
    assert rows[scheme.value] == label(Key(49), scheme)


def test_cautions_are_whole_sentences() -> None:
    """Each caution that people are asked to read is a sentence, and its name one plain word."""
    assert all(caution.words.endswith(".") and len(caution.words) > 40 for caution in CAUTIONS.values())
    assert all(name.isalpha() for name in CAUTIONS)


def test_the_glossary_has_every_word_of_the_design() -> None:
    """Each word that docs/design.md fixes in section 1 stands in the glossary."""
    design = (ROOT / "docs" / "design.md").read_text("utf-8")
    words = {row[0] for row in table(design[design.index("## 1.") : design.index("## 2.")])} - {"word", "---"}
    assert len(words) >= 19
    assert words <= {row[0] for row in table(GLOSSARY)}


MODELS = [ProductionTable, PlayerTable, PinTable, KitTable, ImplementTable, TimesTable, RowTable, WindowTable]


@pytest.mark.parametrize("model", MODELS)
def test_every_key_of_a_file_is_documented(model: type[Table]) -> None:
    """docs/files.md names each key that a file may have."""
    page = (ROOT / "docs" / "files.md").read_text("utf-8")
    tables = {"times", "chores", "implement", "technique", "window", "build"}
    assert [name for name in model.model_fields if f"`{name}`" not in page and name not in tables] == []
