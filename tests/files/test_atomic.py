"""A file is written whole or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from rimside.errors import BadInput
from rimside.files.atomic import EARLIER, read_file, write_file


def names(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_a_new_file_stands_alone(tmp_path: Path) -> None:
    """The first version leaves nothing beside it, and makes its folder."""
    write_file(tmp_path / "deep" / "a.json", b"one", "a.json")
    assert names(tmp_path) == ["deep/a.json"]


def test_the_version_before_is_kept(tmp_path: Path) -> None:
    """After two changes the file holds the third version and the folder beside it the second."""
    for data in (b"one", b"two", b"three"):
        write_file(tmp_path / "a.json", data, "a.json")
    assert (tmp_path / "a.json").read_bytes() == b"three"
    assert (tmp_path / EARLIER / "a.json").read_bytes() == b"two"
    assert names(tmp_path) == ["a.json", f"{EARLIER}/a.json"]


def test_the_same_bytes_do_not_push_the_earlier_version_out(tmp_path: Path) -> None:
    """Writing what is there already keeps the true earlier version."""
    for data in (b"one", b"two", b"two"):
        write_file(tmp_path / "a.json", data, "a.json")
    assert (tmp_path / EARLIER / "a.json").read_bytes() == b"one"


def test_the_mode_of_a_file_survives(tmp_path: Path) -> None:
    """A file that a group may read stays so; a new one gets the usual mode, not a private one."""
    usual = tmp_path / "usual"
    usual.write_bytes(b"")
    write_file(tmp_path / "new", b"one", "new")
    assert (tmp_path / "new").stat().st_mode == usual.stat().st_mode
    (tmp_path / "new").chmod(0o640)
    write_file(tmp_path / "new", b"two", "new")
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o640


def failing(code: int, after: int = 0) -> Any:
    calls = iter(range(1000))

    def fail(*_: object, **__: object) -> None:
        if next(calls) >= after:
            raise OSError(code, os.strerror(code))

    return fail


@pytest.mark.parametrize("what", ["fsync", "replace", "fdopen"])
@pytest.mark.parametrize(
    "code, says", [(errno.ENOSPC, "disc is full"), (errno.EACCES, "no permission"), (errno.EIO, "input/output error")]
)
def test_a_refusing_disc_leaves_everything_as_it_was(
    what: str, code: int, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever step fails: one message, the old version and its earlier one in place, no half file, nothing beside."""
    write_file(tmp_path / "a.json", b"one", "a.json")
    write_file(tmp_path / "a.json", b"two", "a.json")
    monkeypatch.setattr(os, what, failing(code))
    with pytest.raises(BadInput, match=says) as slip:
        write_file(tmp_path / "a.json", b"three", "castings/a.json")
    monkeypatch.undo()
    assert str(slip.value).startswith("castings/a.json: cannot be written")
    assert (tmp_path / "a.json").read_bytes() == b"two"
    assert (tmp_path / EARLIER / "a.json").read_bytes() == b"one"
    assert names(tmp_path) == ["a.json", f"{EARLIER}/a.json"]


def test_a_stop_in_the_middle_leaves_everything_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while the bytes go to the disc: the old version stays, the half-written one is gone."""
    write_file(tmp_path / "a.json", b"one", "a.json")

    def stop(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(KeyboardInterrupt):
        write_file(tmp_path / "a.json", b"two", "a.json")
    assert (tmp_path / "a.json").read_bytes() == b"one"
    assert names(tmp_path) == ["a.json"]


def test_a_disc_that_does_not_confirm_the_name_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When only the folder cannot be flushed the message does not claim that nothing was written."""
    monkeypatch.setattr(os, "fsync", failing(errno.EIO, after=1))
    with pytest.raises(BadInput, match="was written, but the disc did not confirm it"):
        write_file(tmp_path / "a.json", b"one", "a.json")
    assert (tmp_path / "a.json").read_bytes() == b"one"


@contextmanager
def ordinary_person() -> Iterator[None]:
    """Everything is allowed to the administrator: if that is who runs the tests, step down for a while."""
    me = os.geteuid()
    if me == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(me)


def test_a_folder_without_write_permission_is_told() -> None:
    """A real folder that may not be written to: one message, the file as it was, nothing beside it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "a.json").write_bytes(b"one")
        folder.chmod(0o555)
        try:
            with ordinary_person(), pytest.raises(BadInput, match=r"cannot be written \(no permission\)"):
                write_file(folder / "a.json", b"two", "a.json")
        finally:
            folder.chmod(0o755)
        assert (folder / "a.json").read_bytes() == b"one"
        assert names(folder) == ["a.json"]


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    """Reading what is not there names the file."""
    with pytest.raises(BadInput, match=r"kit\.toml: there is no such file"):
        read_file(tmp_path / "kit.toml", "kit.toml")


def test_a_folder_in_place_of_a_file_is_told(tmp_path: Path) -> None:
    """Reading a folder is one message too."""
    with pytest.raises(BadInput, match="it is a folder"):
        read_file(tmp_path, "kit.toml")
