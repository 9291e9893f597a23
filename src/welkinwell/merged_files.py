"""Files of one name that are read as one: the package's own, each kind's, and those of other packages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from importlib import resources
from importlib.metadata import entry_points
from importlib.resources.abc import Traversable
from typing import Final

GROUP: Final = "welkinwell.kinds"  # entry points by which other packages add kinds of harvesters


class DuplicateError(ValueError):
    """The same key stands in two files that are read as one."""


def files_called(name: str) -> Iterator[tuple[str, str]]:
    """Give place and text of every file of a name: the package's, then those in the folders of kinds."""
    package = resources.files("welkinwell")
    yield name, (package / name).read_text(encoding="utf-8")
    folders = sorted(package.joinpath("harvesters").iterdir(), key=lambda folder: folder.name)
    yield from _in_folders(((f"harvesters/{folder.name}", folder) for folder in folders), name)
    others = ((entry.module, resources.files(entry.module)) for entry in entry_points(group=GROUP))
    yield from _in_folders(others, name)


def refuse_duplicates(keys: Iterable[tuple[str, str]]) -> None:
    """Refuse a key that stands in two places; keys: (key, place) in the order in which they are read."""
    first: dict[str, str] = {}
    for key, place in keys:
        if key in first:
            raise DuplicateError(f"{key} stands in {first[key]} and again in {place}; one of them has to go")
        first[key] = place


def _in_folders(folders: Iterable[tuple[str, Traversable]], name: str) -> Iterator[tuple[str, str]]:
    for place, folder in folders:
        if folder.is_dir() and (folder / name).is_file():
            yield f"{place}/{name}", (folder / name).read_text(encoding="utf-8")
