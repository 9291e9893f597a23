"""Every source that is cited, by its key: sources.bib of the package and those in the folders of kinds."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from welkinwell.merged_files import files_called, refuse_duplicates

ENTRY: Final = re.compile(r"^@\w+\{\s*([^,\s]+)\s*,", re.MULTILINE)


@lru_cache(maxsize=1)
def sources() -> dict[str, str]:
    """Give the text of every entry behind its key, as BibTeX has it; raises DuplicateError."""
    found = [
        (key, place, body) for place, text in files_called("sources.bib") for key, body in _entries(text)
    ]
    refuse_duplicates((key, place) for key, place, _ in found)
    return {key: body for key, _, body in found}


def _entries(text: str) -> list[tuple[str, str]]:
    starts = list(ENTRY.finditer(text))
    ends = [text.find("\n@", match.end()) for match in starts]
    return [
        (match.group(1), text[match.end() : end if end > 0 else len(text)])
        for match, end in zip(starts, ends, strict=True)
    ]
