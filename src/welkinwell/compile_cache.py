"""Where compiled code is kept between runs: one folder for each content of the source.

numba notices a change in the file of a compiled function, but not in the functions that it calls. A folder
named after the content of all files that hold compiled functions makes stale code impossible, and lets every
clone and worker on a machine use what another has compiled. Nothing here imports numba; `compiled` does.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
import shutil
import sys
import time
from collections.abc import Iterator
from functools import cache
from importlib.metadata import version
from pathlib import Path

KEPT_FOLDERS = 8
IN_USE = 6 * 3600.0  # s since a folder was last used, within which it is never removed
COMPILED_ROOMS = (
    "constants.py",
    "kernels",
    "numerics",
    "moist_air",
    "sky",
    "transfer",
    "sorbents",
    "climate",
    "parts",
    "harvesters",
)
VARIABLE = "NUMBA_CACHE_DIR"
IMPORT = re.compile(r"^from (welkinwell[\w.]*) import (?:(\w.*)|\(([^)]*)\))", re.MULTILINE)
PACKAGE = Path(__file__).parent


def folder() -> Path:
    """Give this version's folder, in the user's own place for numba's files where that is set."""
    own = os.environ.get(VARIABLE)
    return Path(own) if own else cache_root() / source_stamp()


def cache_root() -> Path:
    """Return the user's folder for compiled code, as the platform's convention has it."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(base) if base else Path.home() / ".cache") / "welkinwell" / "compiled"


@cache
def writable_folder() -> Path | None:
    """Make this version's folder, mark it as used and remove old ones; None where nothing can be written."""
    place = folder()
    try:
        new = not place.exists()
        place.mkdir(parents=True, exist_ok=True)
        os.utime(place)
        if new and place.parent == cache_root():
            _remove_old(place)
    except OSError:
        return None
    return place if os.access(place, os.W_OK) else None


def is_warm(kind: str = "*") -> bool:
    """Whether a kind of harvester, or any, has been compiled for this state of the source and this folder.

    kind: the march's name for it, `passive_box` say, as its `Kind` has it.
    """
    return any(folder().rglob(f"march.march_{kind}-*.nbi"))


@cache
def source_stamp() -> str:
    """Return a short name for what compiled code follows from: the files' content and the compiler.

    Processor features are left to numba, which keeps code for several in one folder.
    """
    digest = hashlib.sha256()
    for path in sorted(compiled_files()):
        digest.update(f"{path.relative_to(PACKAGE).as_posix()} ".encode())
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    made_with = (sys.implementation.cache_tag, platform.machine(), version("numba"), version("llvmlite"))
    digest.update(repr(made_with).encode())
    return digest.hexdigest()[:16]


def compiled_files() -> list[Path]:
    """List the files that hold compiled functions, and those that they import, in the rooms that compile."""
    texts = {
        path: path.read_text(encoding="utf-8")
        for room in COMPILED_ROOMS
        for path in ([PACKAGE / room] if room.endswith(".py") else (PACKAGE / room).rglob("*.py"))
    }
    waiting = [path for path, text in texts.items() if "welkinwell.compiled import" in text]
    found = set(waiting)
    while waiting:
        for path in _imported(texts[waiting.pop()]):
            if path in texts and path not in found:
                found.add(path)
                waiting.append(path)
    return list(found)


def _imported(text: str) -> Iterator[Path]:
    """Files of this package that a file's first column imports, by its text."""
    for module, one_line, block in IMPORT.findall(text):
        place = PACKAGE.joinpath(*module.split(".")[1:])
        yield place.with_suffix(".py")
        for name in re.findall(r"\w+", one_line or block):
            yield place / f"{name}.py"


def _remove_old(current: Path) -> None:
    """Keep the folders used last, and those that a running process may still use."""
    now = time.time()
    used = {p: p.stat().st_mtime for p in current.parent.iterdir() if p.is_dir()}
    for place in sorted(used, key=used.__getitem__, reverse=True)[KEPT_FOLDERS:]:
        if now - used[place] > IN_USE:
            shutil.rmtree(place, ignore_errors=True)
