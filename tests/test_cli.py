"""The commands as a person meets them: what they say, their exit status, and what they leave on the disc.

The solver is replaced by a stand-in, so that these tests are about the commands; tests/test_cli_whole.py runs it.
"""

from __future__ import annotations

import errno
import json
import os
import sys
from pathlib import Path
from typing import Any

import pytest

from rimside import cli, flow
from rimside.casting.verify import Breach
from rimside.errors import Interrupted
from rimside.files import checkup, job
from tests.files.productions import PIANO, Plan, change, new, plan

Run = tuple[int, str, str]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A fresh production, a stand-in that casts everything, a judge that finds nothing."""
    solve_with(monkeypatch, plan())
    judge_with(monkeypatch)
    return new(tmp_path / "low-tide")


def solve_with(monkeypatch: pytest.MonkeyPatch, stand_in: Plan) -> None:
    monkeypatch.setattr(flow, "plan", stand_in)


def judge_with(monkeypatch: pytest.MonkeyPatch, *breaches: Breach) -> None:
    for module in (job, checkup):
        monkeypatch.setattr(module, "verify", lambda *_: breaches)


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> Run:
    capsys.readouterr()
    status = cli.main([str(argument) for argument in arguments])
    told = capsys.readouterr()
    return status, told.out, told.err


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_new_says_what_it_made_and_what_comes_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The list of files and the four next commands."""
    status, out, err = run(capsys, "new", tmp_path / "p")
    assert (status, err) == (0, "")
    assert "production.toml" in out
    assert all(f"rimside {command} {tmp_path / 'p'}" in out for command in ("read", "cast", "check", "book"))


def test_new_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same list for a program."""
    status, out, _ = run(capsys, "new", tmp_path / "p", "--json")
    assert status == 0
    assert "ensemble.toml" in json.loads(out)["made"]


def test_new_refuses_a_folder_with_something_in_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One message, exit 2, every file as it was."""
    before = files(folder)
    status, out, err = run(capsys, "new", folder)
    assert (status, out) == (2, "")
    assert err.startswith("rimside: ")
    assert "holds something already" in err
    assert files(folder) == before


def test_read_shows_parts_and_techniques(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A summary of each part and of each technique."""
    status, out, err = run(capsys, "read", folder)
    assert (status, err) == (0, "")
    assert "technique" in out
    assert "part" in out


def test_read_as_json_holds_three_lists(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Notes, figures, and what was not understood (docs/design.md, section 7)."""
    status, out, _ = run(capsys, "read", folder, "--json")
    assert status == 0
    assert {"notes", "figures", "not_understood"} <= json.loads(out).keys()


def test_read_takes_a_score_by_itself(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The score without its production reads the same."""
    _, whole, _ = run(capsys, "read", folder, "--json")
    status, out, _ = run(capsys, "read", folder / "score.csv", "--json")
    assert (status, out) == (0, whole)


@pytest.mark.parametrize(
    "arguments, says",
    [
        (["nowhere.csv"], "there is no such file"),
        (["{folder}/score.csv", "--labels", "ordinl"], "did you mean 'ordinal'?"),
        (["{folder}", "--labels", "ordinal"], "a production names its own label scheme"),
    ],
)
def test_read_tells_slips(arguments: list[str], says: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2 and one message."""
    status, out, err = run(capsys, "read", *(text.format(folder=folder) for text in arguments))
    assert (status, out) == (2, "")
    assert says in err


def test_cast_of_everything_ends_with_0(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Coverage, levels with value, bound and proof, the judge's word, and where the plan lies."""
    status, out, err = run(capsys, "cast", folder)
    assert (status, err) == (0, "")
    assert "figures cast" in out
    assert "Uncast" not in out
    assert ["2", "risk", "7", "7", "yes"] in [line.split()[:5] for line in out.splitlines()]
    assert "every rule holds" in out
    assert (folder / "castings" / f"{PIANO}.json").is_file()


def test_cast_with_something_uncast_ends_with_1(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is uncast is told with its rule, its reason and what competes; the bound says that better may exist."""
    solve_with(monkeypatch, plan(uncast=[1]))
    status, out, _ = run(capsys, "cast", folder)
    assert status == 1
    assert "Uncast (1, essential 1):" in out
    assert "H2: both hands are busy" in out
    assert "competes with" in out
    assert ["1", "uncast", "1", "0", "no"] in [line.split()[:5] for line in out.splitlines()]


def test_cast_as_json(folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Only JSON on standard output, no progress anywhere."""
    solve_with(monkeypatch, plan(uncast=[1]))
    status, out, err = run(capsys, "cast", folder, "--json", "--progress")
    table = json.loads(out)
    assert (status, err) == (1, "")
    assert table["figures"] == table["cast"] + 1
    assert table["uncast"][0]["rule"] == "H2"
    assert Path(table["file"]).is_file()


def test_cast_that_breaks_a_rule_says_so(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan that the judge does not accept is never passed off as done."""
    judge_with(monkeypatch, Breach(rule="H5", message="Ada and Bo stand in each other", figures=("f1",)))
    status, out, _ = run(capsys, "cast", folder)
    assert status == 1
    assert "H5: Ada and Bo stand in each other" in out
    assert "every rule holds" not in out


def test_cast_hands_its_options_on(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Line-up, time and seed reach the solver, and the absence stands in the casting's name."""
    seen: dict[str, Any] = {}

    def watched(*given: Any, **options: Any) -> Any:
        seen.update(options, names=[player.name for player in given[2]])
        return plan()(*given, **options)

    solve_with(monkeypatch, watched)
    status, _, _ = run(capsys, "cast", folder, "--without", "Bo", "--seconds", "3", "--seed", "7", "--piano", PIANO)
    assert status == 0
    assert seen["names"] == ["Ada", "Cyd", "Dov"]
    assert (seen["seconds"], seen["seed"]) == (3.0, 7)
    assert (folder / "castings" / f"{PIANO}--without-bo.json").is_file()


@pytest.mark.parametrize(
    "arguments, says",
    [
        (["--piano", "grand_999"], "unknown piano: 'grand_999'"),
        (["--without", "Boo"], "did you mean 'Bo'?"),
        (["--seconds", "0"], "--seconds: is out of range"),
        (["--seconds", "nan"], "--seconds: is out of range"),
        (["--seed", "-1"], "--seed: is out of range"),
    ],
)
def test_cast_tells_slips_before_it_works(
    arguments: list[str], says: str, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 2, one message, and the solver is never asked."""

    def never(*_: object, **__: object) -> Any:
        raise AssertionError("the solver was asked")

    solve_with(monkeypatch, never)
    status, out, err = run(capsys, "cast", folder, *arguments)
    assert (status, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    "name, old, new_text, says",
    [
        ("ensemble.toml", "stature_mm = 1680", 'stature_mm = "1680"', "(name Ada), stature_mm: not a number"),
        ("ensemble.toml", 'name = "Bo"', 'name = "Ada"', "two players have one name"),
        ("ensemble.toml", '"line bow", "stick bow"', '"line bo", "stick bow"', "did you mean 'line bow'?"),
        ("kit.toml", "line_bow_hands", "line_bow_hand", "did you mean line_bow_hands?"),
        ("production.toml", "rimside-production/1", "rimside-production/2", "written by a newer Rimside"),
        (f"pianos/{PIANO}.toml", "=", "==", "not valid TOML"),
    ],
)
def test_a_slip_in_a_file_is_one_message(
    name: str, old: str, new_text: str, says: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Cast names the file, the place and the slip, ends with 2 and leaves every file as it was."""
    change(folder, name, old, new_text)
    before = files(folder)
    status, out, err = run(capsys, "cast", folder)
    assert (status, out) == (2, "")
    assert err.startswith(f"rimside: {name}")
    assert says in err
    assert err.count("\n") == 1
    assert files(folder) == before


def test_a_file_in_another_encoding_is_one_message(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Latin-1 letters are named with their line."""
    path = folder / "ensemble.toml"
    path.write_bytes(path.read_bytes().replace(b'"Ada"', b'"Ad\xe1"'))
    status, _, err = run(capsys, "cast", folder)
    assert status == 2
    assert "the file is not UTF-8 text" in err


def test_a_full_disc_overwrites_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new plan finds no room: exit 2, one message, the old plan whole and nothing half-written."""
    run(capsys, "cast", folder)
    before = files(folder)
    solve_with(monkeypatch, plan(uncast=[0]))

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "replace", full)
    status, out, err = run(capsys, "cast", folder)
    assert (status, out) == (2, "")
    assert "the disc is full" in err
    assert files(folder) == before


def stopped_with(best: Plan | None) -> Plan:
    def stand_in(*given: Any, **options: Any) -> Any:
        raise Interrupted(None if best is None else best(*given, **options))

    return stand_in


def test_ctrl_c_keeps_the_best_plan_beside_the_good_one(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 130; the message says how much is cast and how to use it; the finished plan is as it was."""
    run(capsys, "cast", folder)
    before = files(folder)
    solve_with(monkeypatch, stopped_with(plan(uncast=[0])))
    status, out, err = run(capsys, "cast", folder)
    after = files(folder)
    kept = after.pop(f"castings/unfinished/{PIANO}.json")
    assert (status, out) == (130, "")
    assert "stopped; the best plan so far casts" in err
    assert f"mv {folder}/castings/unfinished/{PIANO}.json" in err
    assert after == before
    assert len(json.loads(kept)["uncast"]) == 1


@pytest.mark.parametrize("raised", [Interrupted(None), KeyboardInterrupt()])
def test_ctrl_c_before_there_is_a_plan_changes_nothing(
    raised: BaseException, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 130 and every file as it was."""

    def stop(*_: object, **__: object) -> Any:
        raise raised

    before = files(folder)
    solve_with(monkeypatch, stop)
    status, out, err = run(capsys, "cast", folder)
    assert (status, out) == (130, "")
    assert "every file is as it was" in err
    assert files(folder) == before


def test_a_fault_of_ours_is_not_called_bad_input(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What nobody foresaw ends with 70 and says whose fault it is; 1 and 2 keep their meaning."""

    def broken(*_: object, **__: object) -> Any:
        raise ZeroDivisionError

    solve_with(monkeypatch, broken)
    status, out, err = run(capsys, "cast", folder)
    assert (status, out) == (70, "")
    assert "ZeroDivisionError" in err
    assert "a fault in Rimside" in err


def test_check_of_a_fresh_production_is_good(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every file good, no castings yet, the cautions listed for reading."""
    status, out, err = run(capsys, "check", folder)
    assert (status, err) == (0, "")
    assert out.count(" good ") == 7
    assert "No castings yet." in out
    assert "Cautions to read" in out


def test_check_finds_a_whole_casting_good(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A casting that was just made is up to date and holds."""
    run(capsys, "cast", folder)
    status, out, _ = run(capsys, "check", folder)
    assert status == 0
    assert "every rule holds" in out


def test_check_says_what_is_out_of_date(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 1 and the sentence that names casting and file."""
    run(capsys, "cast", folder)
    change(folder, "kit.toml", "count = 6", "count = 5")
    status, out, _ = run(capsys, "check", folder)
    assert status == 1
    assert f"casting {PIANO} is out of date: kit.toml changed" in out


def test_check_tells_broken_rules(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 1 and the judge's words, in text and in JSON."""
    run(capsys, "cast", folder)
    judge_with(monkeypatch, Breach(rule="H2", message="Ada needs three hands at 0:12", figures=("f1", "f2")))
    status, out, _ = run(capsys, "check", folder)
    assert status == 1
    assert "H2: Ada needs three hands at 0:12" in out
    assert "every rule holds" not in out
    _, out, _ = run(capsys, "check", folder, "--json")
    assert json.loads(out)["castings"][0]["breaches"][0]["figures"] == ["f1", "f2"]


def test_check_tells_every_bad_file(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two bad files are two messages, and the good ones are still called good."""
    change(folder, "ensemble.toml", 'name = "Bo"', 'name = "Ada"')
    change(folder, "kit.toml", "count = 6", "count = -6")
    status, out, err = run(capsys, "check", folder)
    assert status == 2
    assert err.count("rimside: ") == 2
    assert "two players have one name" in err
    assert "-6; allowed: 0 or more" in err
    assert out.count(" good ") == 4


def test_check_does_not_judge_without_the_players(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A player who left the ensemble is told; nothing is called good that was not looked at."""
    run(capsys, "cast", folder)
    change(folder, "ensemble.toml", 'name = "Bo"', 'name = "Bea"')
    status, out, _ = run(capsys, "check", folder)
    assert status == 1
    assert "not judged: ensemble.toml no longer lists bo" in out
    assert "every rule holds" not in out


def test_check_tells_a_damaged_casting(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A casting cut in half is bad input."""
    run(capsys, "cast", folder)
    path = folder / "castings" / f"{PIANO}.json"
    path.write_bytes(path.read_bytes()[:-40])
    status, _, err = run(capsys, "check", folder)
    assert status == 2
    assert f"castings/{PIANO}.json: is not JSON" in err


def test_quiet_says_nothing_when_all_is_well(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No text and no progress, only the status and the file."""
    assert run(capsys, "cast", folder, "--quiet", "--progress") == (0, "", "")
    assert (folder / "castings" / f"{PIANO}.json").is_file()


def test_progress_goes_to_standard_error_when_asked_for(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a terminal there is none; with --progress there is, and standard output stays clean."""
    _, plain, silent = run(capsys, "cast", folder)
    _, out, err = run(capsys, "cast", folder, "--progress")
    assert silent == ""
    assert "stand-in" in err
    assert out == plain


@pytest.mark.parametrize("command", ["new", "read", "cast", "check", "book"])
def test_every_command_explains_itself(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Help shows examples and the exit statuses."""
    with pytest.raises(SystemExit) as ended:
        cli.main([command, "--help"])
    out = capsys.readouterr().out
    assert ended.value.code == 0
    assert f"rimside {command} spring-concert" in out
    assert "Exit status: 0 done" in out


@pytest.mark.parametrize("arguments", [[], ["sing"], ["cast"], ["cast", ".", "--seconds", "soon"]])
def test_a_wrong_call_ends_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A missing or unknown command or value is told on standard error."""
    with pytest.raises(SystemExit) as ended:
        cli.main(arguments)
    assert ended.value.code == 2
    assert capsys.readouterr().err.startswith("usage: rimside")


def test_a_terminal_without_sharps_gets_the_text_all_the_same(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the terminal cannot show a letter it is written out, and nothing breaks."""
    import io

    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    change(folder, "production.toml", "Low Tide, Slowly", "F♯, Slowly")
    status = cli.main(["check", str(folder)])
    sys.stdout.flush()
    assert status == 0
    assert b"F\\u266f, Slowly" in raw.getvalue()
