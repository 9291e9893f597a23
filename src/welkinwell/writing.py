"""Files that are whole or not there: all output of the package goes through here.

A file is written beside its place under a name of its own and renamed once all of it is on the disk, so that
a full disk, a lack of permission or an interrupt leaves what was there before, and no part of a file.
Files written within `together` appear all at once, or none of them does.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from pathlib import Path
from typing import Final

from welkinwell.errors import FileError, Problem

NO_ROOM: Final = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_REASONS: Final = {
    errno.ENOSPC: "no room left on the disk",
    errno.EDQUOT: "no room left in the disk quota",
    errno.EFBIG: "a limit on the size of a file (see ulimit -f)",
    errno.EACCES: "no permission to write there",
    errno.EPERM: "no permission to write there",
    errno.EROFS: "a disk that can only be read",
    errno.ENOTDIR: "a file where a folder should be",
    errno.EISDIR: "a folder where a file should be",
    errno.ENOENT: "a folder that is not there",
    errno.ENAMETOOLONG: "a name that is too long for the disk",
}
_WHOLE: Final = "Nothing was written; what was there before is whole."
_waiting: ContextVar[dict[Path, bytes] | None] = ContextVar("files that wait to be written", default=None)


def write_text(path: Path, text: str) -> Path:
    """Write a text as UTF-8, whole or not at all; returns the path. Raises FileError where it cannot be."""
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes | memoryview) -> Path:
    """Write a file, whole or not at all; returns its path.

    Within `together` it is written at the end. Raises FileError that says why it cannot be written, and
    where room is lacking, how much is needed.
    """
    waiting = _waiting.get()
    if waiting is None:
        _write_all({Path(path): bytes(data)})
    else:
        waiting[Path(path)] = bytes(data)
    return path


@contextmanager
def together() -> Iterator[None]:
    """Write all files of a block (or of a function that this decorates) at its end: all or none."""
    if _waiting.get() is not None:
        yield  # the outer block writes them
        return
    files: dict[Path, bytes] = {}
    token = _waiting.set(files)
    try:
        yield
    finally:
        _waiting.reset(token)
    _write_all(files)


def append_line(path: Path, line: str) -> None:
    """Add a line to a file, the whole line or nothing of it; raises FileError where it cannot be added."""
    data = f"{line}\n".encode()
    try:
        with Path(path).open("ab", buffering=0) as file:
            begin = file.tell()
            try:
                left = memoryview(data)
                while left:  # a full disk takes a part first, and says why it takes no more when asked again
                    left = left[file.write(left) :]
            except OSError:
                file.truncate(begin)
                raise
    except OSError as error:
        raise FileError(_problem(Path(path), error, {Path(path): data})) from None


def make_folder(path: Path, room: int = 0, advice: str = "") -> Path:
    """Make a folder for results if need be; returns it.

    room: what the results will take at least [byte]; advice: what to do where the folder cannot be used.
    Raises FileError where it cannot be made or written to, or where the disk has less room.
    """
    path = Path(path)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise FileError(Problem(str(path), "a file", "a folder for the results", advice)) from None
    except OSError as error:
        reason = _REASONS.get(error.errno or 0, f"a folder that cannot be made ({error.strerror})")
        raise FileError(Problem(str(path), reason, "a folder for the results", advice)) from None
    if not os.access(path, os.W_OK | os.X_OK):
        reason = "a folder that cannot be written to"
        raise FileError(Problem(str(path), reason, "a folder for the results", advice))
    if room and (free := _free(path)) is not None and free < room:
        given = f"a disk with {size_words(free)} of room left"
        raise FileError(Problem(str(path), given, f"at least {size_words(room)} for the results", advice))
    return path


def size_words(count: float) -> str:
    """Say a size [byte] as people read it, in powers of ten."""
    for unit, size in (("TB", 1e12), ("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if count >= size:
            return f"{count / size:.3g} {unit}"
    return f"{count:.0f} bytes"


def unwritable(error: OSError) -> Problem | None:
    """Say in words why something could not be written; None where the error is of another kind."""
    if error.errno not in (*NO_ROOM, errno.EROFS):
        return None
    if error.filename is None:
        return Problem("output", _REASONS[error.errno], "room for what is written", "Free some room.")
    return _problem(Path(str(error.filename)), error, {})


def _write_all(files: Mapping[Path, bytes]) -> None:
    """Write every file beside its place, then rename them all; takes away its own traces where it fails."""
    beside: dict[Path, Path] = {}
    path, failure = Path(), None
    try:
        for path, data in files.items():
            target = _target(path)
            part = target.with_name(f".welkinwell-{secrets.token_hex(4)}.part")
            beside[part] = target  # before it exists, so that an interrupt finds it
            _write_part(part, target, data)
        _rename_all(beside)
    except OSError as error:
        failure = error
    finally:
        for part in beside:
            with suppress(OSError):
                part.unlink(missing_ok=True)
    if failure is not None:
        raise FileError(_problem(path, failure, files))


def _rename_all(beside: Mapping[Path, Path]) -> None:
    """Put every file in its place; an interrupt between two of them waits until all are there."""
    interrupt: BaseException | None = None
    left = list(beside.items())
    while left:
        try:
            part, target = left[-1]
            if part.exists():
                part.replace(target)
            left.pop()
        except (KeyboardInterrupt, SystemExit) as one:
            interrupt = one
    if interrupt is not None:
        raise interrupt


def _target(path: Path) -> Path:
    """Follow links to the file itself; OSError where it is a folder or may not be written."""
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
    return target


def _write_part(part: Path, target: Path, data: bytes) -> None:
    """Write a new file with the permissions of the one that it will replace."""
    with part.open("xb") as file:
        file.write(data)
    with suppress(OSError):
        part.chmod(target.stat().st_mode & 0o777)


def _problem(path: Path, error: OSError, files: Mapping[Path, bytes]) -> Problem:
    """Say what is missing for a file, and for those written with it how much room they need."""
    reason = _REASONS.get(error.errno or 0, error.strerror or type(error).__name__)
    if error.errno not in NO_ROOM:
        return Problem(str(path), reason, "a file that can be written", _WHOLE)
    free = _free(path.parent)
    if free is not None and error.errno != errno.EFBIG:
        reason += f" ({size_words(free)} free)"
    if error.errno == errno.EFBIG:
        need = f"{size_words(len(files.get(path, b'')))} for this file"
    else:
        count = "1 file" if len(files) == 1 else f"{len(files)} files"
        need = f"{size_words(sum(map(len, files.values())))} for {count}" if files else "more room"
    return Problem(str(path), reason, need, f"{_WHOLE} Free some room, or write to another folder.")


def _free(folder: Path) -> int | None:
    """Room left on the disk of a folder [byte]; None where the system does not say."""
    try:
        usage = shutil.disk_usage(folder)
    except OSError:
        return None
    return usage.free if usage.total else None
