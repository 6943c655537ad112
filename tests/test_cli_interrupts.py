"""Ctrl-C at an awkward moment: while a library loads, it may come out as an error of that library."""

from __future__ import annotations

import os
import signal

import pytest

from rimside import cli
from rimside.files import scaffold


def test_an_interrupt_that_a_library_turns_into_its_own_error_is_still_a_stop(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command ends with 130 and one message, not as a fault."""

    def half_loaded(folder: object) -> None:
        try:
            os.kill(os.getpid(), signal.SIGINT)
            signal.pause()
        except KeyboardInterrupt:
            raise ImportError("partially loaded") from None

    monkeypatch.setattr(scaffold, "new", half_loaded)
    assert cli.main(["new", "anywhere"]) == cli.STOPPED
    assert capsys.readouterr().err == "rimside: stopped; every file is as it was\n"
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_the_same_error_without_an_interrupt_is_a_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is hidden when nobody pressed Ctrl-C."""

    def broken(folder: object) -> None:
        raise ImportError("partially loaded")

    monkeypatch.setattr(scaffold, "new", broken)
    assert cli.main(["new", "anywhere"]) == cli.FAULT
    assert "partially loaded" in capsys.readouterr().err
