"""Where compiled code is kept between runs: one folder for each state of the source.

numba notices a change in the file of a compiled function, but not in the functions that it calls. A folder
named after all files that hold compiled functions makes stale code impossible; old folders are removed.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
from pathlib import Path

KEPT_FOLDERS = 8
COMPILED_ROOMS = (
    "constants.py",
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


def use_own_folder() -> None:
    """Point numba at this version's folder, unless the user has pointed it elsewhere."""
    if os.environ.get(VARIABLE):
        return
    folder = cache_root() / source_stamp()
    os.environ[VARIABLE] = str(folder)
    if "numba" in sys.modules:  # imported before us: its setting is already read
        sys.modules["numba"].config.CACHE_DIR = str(folder)
    try:
        if not folder.exists():
            folder.mkdir(parents=True)
            _remove_old(folder)
    except OSError:
        return  # numba falls back to a folder of its own


def cache_root() -> Path:
    """Return the user's folder for compiled code, as the platform's convention has it."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(base) if base else Path.home() / ".cache") / "welkinwell" / "compiled"


def is_warm() -> bool:
    """Whether a simulation has been compiled for this state of the source and this folder."""
    folder = Path(os.environ.get(VARIABLE) or cache_root() / source_stamp())
    return any(folder.rglob("march.march_*.nbi"))


def source_stamp() -> str:
    """Return a short name for the state of the rooms with compiled code: each file's path, size and time."""
    root = Path(__file__).parent
    digest = hashlib.sha256(str(root).encode())
    files = [
        path
        for room in COMPILED_ROOMS
        for path in ([root / room] if room.endswith(".py") else (root / room).rglob("*.py"))
    ]
    for path in sorted(files):
        state = path.stat()
        digest.update(f"{path.relative_to(root)} {state.st_size} {state.st_mtime_ns};".encode())
    return digest.hexdigest()[:16]


def _remove_old(current: Path) -> None:
    """Keep the newest folders only."""
    folders = sorted(
        (p for p in current.parent.iterdir() if p.is_dir()), key=lambda p: p.stat().st_mtime, reverse=True
    )
    for folder in folders[KEPT_FOLDERS:]:
        shutil.rmtree(folder, ignore_errors=True)
