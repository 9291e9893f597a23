"""The folder that results go to."""

from __future__ import annotations

from pathlib import Path

from welkinwell.errors import FileError, Problem


def output_folder(path: Path) -> Path:
    """Make the folder if need be; raises FileError where that cannot be."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise FileError(
            Problem(str(path), "a file", "a folder for the results", "Choose another -o.")
        ) from None
    except OSError as error:
        reason = f"a folder that cannot be made ({error.strerror})"
        raise FileError(
            Problem(str(path), reason, "a folder for the results", "Choose another -o.")
        ) from None
    return path
