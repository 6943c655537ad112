"""Writing a file whole or not at all, and keeping the version before it."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rimside.errors import BadInput

EARLIER = "earlier"
"""The folder beside a file that holds its version before the last change, under the same name."""


def read_file(path: Path, where: str) -> bytes:
    """The bytes of a file; BadInput when it is missing or cannot be read."""
    try:
        return path.read_bytes()
    except FileNotFoundError as slip:
        raise BadInput("there is no such file", where=where, hint="is the name spelled as on the disc?") from slip
    except OSError as slip:
        raise BadInput(f"cannot be read ({reason(slip)})", where=where) from slip


def write_file(path: Path, data: bytes, where: str) -> None:
    """Put `data` at `path` so that the disc always holds the old version or the new one, never half of either.

    The new version goes to a temporary file in the same folder, is flushed to the disc, and takes the name in one step;
    just before that step the old version moves to the folder `earlier` beside it. The same bytes change nothing.

    Raises
    ------
    BadInput : disc full, no permission, or any other refusal by the disc; the file is then as it was.
    """
    try:
        if path.is_file() and path.read_bytes() == data:
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        with _staged(path, data) as new:
            if path.is_file():
                _keep(path)
            os.replace(new, path)  # noqa: PTH105 (the tests make this one name fail)
    except OSError as slip:
        hint = "free some space and do it again" if slip.errno in (errno.ENOSPC, errno.EDQUOT) else ""
        raise BadInput(f"cannot be written ({reason(slip)}); it is as it was before", where=where, hint=hint) from slip
    flush_folder(path.parent, where)


def remove_file(path: Path, where: str) -> None:
    """Take a file away; its last version stays in the folder `earlier`. One that is not there is none.

    Raises
    ------
    BadInput : the disc refused.
    """
    try:
        if path.is_file():
            _keep(path)
            path.unlink()
            flush_folder(path.parent, where)
    except OSError as slip:
        raise BadInput(f"cannot be removed ({reason(slip)})", where=where) from slip


def reason(slip: OSError) -> str:
    """Why the disc refused, in words."""
    words = {
        errno.ENOSPC: "the disc is full",
        errno.EDQUOT: "your share of the disc is full",
        errno.EACCES: "no permission",
        errno.EPERM: "no permission",
        errno.EROFS: "the disc is read-only",
        errno.ENOTDIR: "a file stands where a folder should be",
        errno.EISDIR: "it is a folder",
    }
    return words.get(slip.errno or 0, (slip.strerror or str(slip)).lower())


def _keep(path: Path) -> None:
    kept = path.parent / EARLIER / path.name
    kept.parent.mkdir(exist_ok=True)
    with _staged(kept, path.read_bytes()) as copy:
        os.replace(copy, kept)  # noqa: PTH105


@contextmanager
def _staged(path: Path, data: bytes) -> Iterator[Path]:
    """`data` whole on the disc under a temporary name beside `path`; whatever happens, that name is gone afterwards."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
    staged = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        staged.chmod(_mode(path))
        yield staged
    finally:
        staged.unlink(missing_ok=True)


def _mode(path: Path) -> int:
    """The mode of the file that is replaced, or the usual one: a temporary file is private otherwise."""
    umask = os.umask(0)
    os.umask(umask)
    return path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~umask


def flush_folder(folder: Path, where: str) -> None:
    """Make the new name itself last through a power cut, where the system can."""
    flags = getattr(os, "O_DIRECTORY", None)
    if flags is None:
        return
    handle = os.open(folder, flags)
    try:
        os.fsync(handle)
    except OSError as slip:
        if slip.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise BadInput(f"was written, but the disc did not confirm it ({reason(slip)})", where=where) from slip
    finally:
        os.close(handle)
