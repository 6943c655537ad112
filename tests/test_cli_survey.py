"""The commands `measure form`, `measure tape` and `measure trace` as a person meets them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rimside import cli
from tests.files.test_measure_tape import filled
from tests.files.test_measure_trace import PICTURE, marks


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    capsys.readouterr()
    status = cli.main(["measure", *map(str, arguments)])
    told = capsys.readouterr()
    return status, told.out, told.err


def readings(folder: Path, **changes: float) -> Path:
    path = folder / "readings.toml"
    path.write_text(filled("grand_210", **changes), "utf-8")
    return path


def test_forms(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The printed form, and the file to fill in, which is not written over; another ending is refused."""
    assert run(capsys, "form", tmp_path / "form.pdf", "--sections", "21,41,88")[0] == cli.DONE
    assert (tmp_path / "form.pdf").read_bytes().startswith(b"%PDF")
    status, out, _ = run(capsys, "form", tmp_path / "hall.toml", "--json")
    assert (status, json.loads(out)) == (cli.DONE, {"file": str(tmp_path / "hall.toml")})
    status, _, err = run(capsys, "form", tmp_path / "hall.toml")
    assert status == cli.BAD_INPUT and "already" in err and len(err.splitlines()) == 1
    assert run(capsys, "form", tmp_path / "form.doc")[0] == cli.BAD_INPUT


def test_tape(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From readings to a survey that `inside` reads; the report tells errors and assumptions, and what comes next."""
    status, out, err = run(capsys, "tape", readings(tmp_path), "--out", tmp_path / "hall.toml")
    assert (status, err) == (cli.DONE, "")
    for words in ("standard errors", "Assumed:", "grand_210", "rimside inside", "nothing is allowed",
                  "Measured or told: first_plain"):  # fmt: skip
        assert words in out, words
    assert cli.main(["inside", str(tmp_path / "hall.toml"), "--quiet"]) == cli.DONE


def test_tape_with_a_doubt_or_a_gap(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A reading that contradicts, or one that was not taken, is named, and the status is 1."""
    status, out, _ = run(capsys, "tape", readings(tmp_path, far_y_21=1760.0))
    assert status == cli.INCOMPLETE and "In doubt" in out and "far_y_21" in out and "standard errors off" in out
    path = readings(tmp_path)
    path.write_text(path.read_text("utf-8").replace("\ndamper_1 =", "\n# damper_1 ="), "utf-8")
    status, out, _ = run(capsys, "tape", path, "--json")
    table = json.loads(out)
    assert status == cli.INCOMPLETE and table["missing"] == ["damper_1"] and table["doubts"] == []
    assert run(capsys, "tape", path, "--quiet")[1:] == ("", "")


def test_tape_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A length in inches: one line with file, reading, value and guess; nothing written."""
    status, out, err = run(capsys, "tape", readings(tmp_path, length=79.0))
    assert (status, out) == (cli.BAD_INPUT, "")
    assert "readings.toml, length" in err and "inches" in err and len(err.splitlines()) == 1
    assert not (tmp_path / "hall.toml").exists()


def test_trace(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Marks on a picture become a survey; what the form asks besides is named as not read."""
    (tmp_path / "hall-plan.toml").write_text(PICTURE, "utf-8")
    (tmp_path / "marks.toml").write_text(marks("grand_170"), "utf-8")
    status, out, _ = run(capsys, "trace", tmp_path / "marks.toml", "--json")
    table = json.loads(out)
    assert status in (cli.DONE, cli.INCOMPLETE) and table["doubts"] == []
    assert {"outline", "struts", "near_x_1"} <= set(table["measured"])
    assert Path(table["survey"]).exists()


@pytest.mark.parametrize("action", ["form", "tape", "trace"])
def test_help_has_examples(action: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The help of each action shows how it is called."""
    with pytest.raises(SystemExit):
        cli.main(["measure", action, "--help"])
    assert f"rimside measure {action} " in capsys.readouterr().out
