"""Citation keys to numbered references, from sources.bib."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from welkinwell.sources import sources

_FIELD = re.compile(r"(\w+)\s*=\s*\{((?:[^{}]|\{(?:[^{}]|\{[^{}]*\})*\})*)\}")


class References:
    """References of one document, numbered in the order in which they are first cited."""

    def __init__(self) -> None:
        self._keys: list[str] = []

    def number(self, key: str) -> int:
        """Give the number of a reference, a new one at its first citation."""
        if key not in self._keys:
            self._keys.append(key)
        return self._keys.index(key) + 1

    def numbers(self, keys: Iterable[str]) -> list[int]:
        """Give the numbers of several references."""
        return [self.number(key) for key in keys]

    def listed(self) -> list[tuple[int, str]]:
        """Give number and text of every reference cited so far."""
        return [(i, reference(key)) for i, key in enumerate(self._keys, start=1)]


def reference(key: str) -> str:
    """Write one entry of sources.bib as a line of text; an unknown key stands for itself."""
    entry = _entries().get(key)
    if entry is None:
        return key
    people = [_person(name) for name in _split_names(entry.get("author", ""))]
    many = len(people) > 3 or "others" in people
    who = f"{people[0]} et al." if many else " and ".join(people)
    parts = [f"{who} ({entry.get('year', 'no year')}). {entry.get('title', '')}."]
    venue = next((entry[k] for k in ("journal", "booktitle", "publisher", "institution") if k in entry), "")
    place = ", ".join(
        [x for x in (venue, entry.get("volume", ""), entry.get("number", ""), entry.get("pages", "")) if x]
    )
    if entry.get("edition"):
        place += f", edition {entry['edition']}"
    if place:
        parts.append(f"{place}.")
    if entry.get("howpublished"):
        parts.append(f"{entry['howpublished']}.")
    if entry.get("doi"):
        parts.append(f"doi:{entry['doi']}.")
    if entry.get("note"):
        parts.append(f"({entry['note']})")
    return " ".join(parts)


@lru_cache(maxsize=1)
def _entries() -> dict[str, dict[str, str]]:
    return {
        key: {name.lower(): _plain(value) for name, value in _FIELD.findall(body)}
        for key, body in sources().items()
    }


def _plain(value: str) -> str:
    """Take TeX's marks out of a field."""
    value = value.replace("--", "–").replace("\\&", "&")
    value = re.sub(r"\\[`'^\"~=.uvHcdb]\{?(\w)\}?", r"\1", value)
    return " ".join(re.sub(r"[{}]", "", value).split())


def _split_names(authors: str) -> list[str]:
    return [name.strip() for name in authors.split(" and ") if name.strip()]


def _person(name: str) -> str:
    """Surname and initials of "Surname, Given Names"; an institution stays as it is."""
    if "," not in name:
        return name
    surname, given = (part.strip() for part in name.split(",", 1))
    initials = " ".join(f"{word[0]}." for word in re.split(r"[\s.]+", given) if word)
    return f"{surname}, {initials}"
