"""`build` and `compare` as a person types them: on the invented guitar and harpsichord, and on a new production."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from rimside import cli

EXAMPLES = Path(__file__).parent.parent / "examples"


@pytest.fixture(scope="module")
def loft(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The guitar's production, cast."""
    folder = tmp_path_factory.mktemp("loft") / "guitar"
    shutil.copytree(EXAMPLES / "guitar", folder)
    assert cli.main(["cast", str(folder), "--seconds", "1.5", "--quiet"]) == cli.DONE
    return folder


def test_every_number_of_the_list_is_in_the_sheet_and_the_spreadsheet(
    loft: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The three forms tell the same; the user's money has an empty column."""
    sheet, table = tmp_path / "kit.pdf", tmp_path / "kit.csv"
    status = cli.main(["build", str(loft), "--shows", "8", "--json", "--pdf", str(sheet), "--csv", str(table)])
    told = json.loads(capsys.readouterr().out)
    assert status == cli.DONE
    rows = list(csv.DictReader(io.StringIO(table.read_text("utf-8"))))
    assert [(r["kind"], r["label"], r["to make"]) for r in rows] == [
        (p["kind"], p["label"], str(p["make"])) for p in told["pieces"]
    ]
    assert {row["cost"] for row in rows} == {""}
    words = " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(str(sheet)))
    for piece in told["pieces"]:
        assert piece["kind"] in words
        assert piece["label"] in words


def test_what_the_kit_file_says_is_used(loft: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A measured stroke, a counted failure rate and a price change lines, spares and costs."""
    folder = tmp_path / "mine"
    shutil.copytree(loft, folder)
    kit = (folder / "kit.toml").read_text("utf-8")
    kit = kit.replace('kind = "plectrum"', 'kind = "plectrum"\nfails_per_show = 2.0\nunit_cost = 1.5')
    (folder / "kit.toml").write_text(kit + "\n[build]\nstroke_mm = 450\n", "utf-8")
    cli.main(["cast", str(folder), "--seconds", "1.5", "--quiet"])
    before, after = (bought(one, capsys) for one in (loft, folder))
    assert after["line bow"]["sizes"][0]["value"] == before["line bow"]["sizes"][0]["value"] + 200.0
    assert after["plectrum"]["spares"] > before["plectrum"]["spares"]
    assert after["plectrum"]["unit_cost"] == 1.5


def bought(folder: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """The pieces of a production, by kind."""
    capsys.readouterr()
    cli.main(["build", str(folder), "--json"])
    return {piece["kind"]: piece for piece in json.loads(capsys.readouterr().out)["pieces"]}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--shows", "0"], "1 to 1000"),
        (["--casting", "grand_9"], "no such casting"),
    ],
)
def test_slips_are_told_in_one_message(
    loft: Path, words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Spares for no show, a casting that is not there."""
    assert cli.main(["build", str(loft), *words]) == cli.BAD_INPUT
    assert told in capsys.readouterr().err


def test_one_production_twice_is_refused(loft: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It would be counted twice."""
    assert cli.main(["build", str(loft), str(loft)]) == cli.BAD_INPUT
    assert "one title" in capsys.readouterr().err


def test_two_pianos_of_a_new_production(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The picture carries both titles; a piano beside itself and an unknown one are refused."""
    folder = tmp_path / "low-tide"
    assert cli.main(["new", str(folder), "--quiet"]) == cli.DONE
    data = Path(__file__).parent.parent / "src" / "rimside" / "piano" / "data"
    first = next((folder / "pianos").glob("*.toml")).stem
    other = next(name for name in ("grand_170", "grand_275") if name != first)
    shutil.copy(data / f"{other}.toml", folder / "pianos")
    text = (folder / "production.toml").read_text("utf-8")
    (folder / "production.toml").write_text(
        text.replace(f'pianos = ["{first}"]', f'pianos = ["{first}", "{other}"]'), "utf-8"
    )
    sheet = tmp_path / "two.pdf"
    assert cli.main(["compare", str(folder), "--with", other, "--pdf", str(sheet)]) in (cli.DONE, cli.INCOMPLETE)
    shown = capsys.readouterr().out
    assert f"{first} (here) beside {other} (there)" in shown
    words = " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(str(sheet)))
    assert other.removeprefix("grand_") in words
    assert cli.main(["compare", str(folder), "--with", first]) == cli.BAD_INPUT
    assert cli.main(["compare", str(folder), "--with", "grand_9"]) == cli.BAD_INPUT
    told = capsys.readouterr().err
    assert "same piano" in told
    assert "grand_9" in told
