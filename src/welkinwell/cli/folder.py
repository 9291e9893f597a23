"""The folder that results go to."""

from __future__ import annotations

from pathlib import Path

from welkinwell.writing import make_folder

ROOM_FOR_A_PAGE = 500_000  # bytes that any page with its charts takes at least
ROOM_FOR_A_YEAR = 4_000_000  # bytes that the hours of one harvester and its part of the report take at least


def output_folder(path: Path, room: int = ROOM_FOR_A_PAGE) -> Path:
    """Make the folder if need be; raises FileError where that cannot be, or its disk has less room [byte]."""
    return make_folder(path, room, "Choose another -o.")
