"""The file that is left when something fails that should not: versions, command and traceback."""

from __future__ import annotations

import os
import platform
import shlex
import sys
import tempfile
import traceback
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from welkinwell.errors import FileError
from welkinwell.writing import write_text

_PACKAGES = ("welkinwell", "numpy", "scipy", "numba", "pandas", "xarray", "pvlib", "pint", "typer")


def write_crash_file(error: BaseException, arguments: list[str]) -> Path:
    """Write the crash file into the current folder, or where temporary files go if that cannot be written."""
    moment = datetime.now(UTC)
    text = _crash_text(error, arguments, moment)
    name = f"welkinwell-{moment:%Y%m%d-%H%M%S}-{os.getpid()}.crash.txt"
    for find_folder in (Path.cwd, lambda: Path(tempfile.gettempdir())):
        try:
            place = write_text(find_folder() / name, text)
        except (OSError, FileError):
            continue
        return place
    sys.stderr.write(text)
    return Path("the lines above")


def _crash_text(error: BaseException, arguments: list[str], moment: datetime) -> str:
    lines = [
        f"welkinwell crash file, {moment:%Y-%m-%d %H:%M:%S} UTC",
        f"command: welkinwell {shlex.join(arguments)}",
        f"system: {platform.platform()}, Python {platform.python_version()}",
        "packages: " + ", ".join(f"{name} {_version(name)}" for name in _PACKAGES),
        "",
        *traceback.format_exception(error),
    ]
    return "\n".join(lines) + "\n"


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "absent"
