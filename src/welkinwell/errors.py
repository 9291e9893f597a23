"""Every error that this package raises on purpose.

WelkinwellError
├── InputError            the user can mend it; exit code 2
│   ├── FileError         a file is missing, unreadable or of the wrong kind
│   ├── ClimateError      a weather file's content cannot be trusted
│   ├── SheetError        a sorbent data sheet is incomplete or impossible
│   ├── CaseError         a case file asks for something impossible
│   └── QuantityError     a text is not a quantity, or has the wrong unit
└── SolverError           our fault: the march did not finish
    └── StepLimitError    it needed more steps than allowed; nothing is returned
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

LONGEST_SHOWN: Final = 400  # characters of a place or a value in a message
MOST_PROBLEMS: Final = 200  # that one error holds; nobody mends more at once
_LONGEST_NAME: Final = 100  # of a name that is compared with others


class WelkinwellError(Exception):
    """Root of all errors raised on purpose."""


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with an input.

    where: file, line or key that a person can find; given: the value as written;
    expected: the allowed range or form; advice: what to do next.
    """

    where: str
    given: str
    expected: str
    advice: str = ""

    def __str__(self) -> str:
        """Read as one sentence."""
        text = f"{_shown(self.where)}: got {_shown(self.given)}; expected {self.expected}"
        return f"{text}. {self.advice}" if self.advice else text


def _shown(text: str) -> str:
    """Shorten a long text, and write what no screen should get as its code."""
    if len(text) > LONGEST_SHOWN:
        text = f"{text[:LONGEST_SHOWN]}... ({len(text)} characters)"
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == "\n" else repr(c)[1:-1] for c in text)


class InputError(WelkinwellError):
    """The input is wrong; holds every problem that was found, not just the first (at most 200 of them)."""

    def __init__(self, problems: str | Problem | Sequence[Problem | str]):
        if isinstance(problems, (str, Problem)):
            problems = [problems]
        self.problems = list(problems[:MOST_PROBLEMS])
        if more := len(problems) - len(self.problems):
            self.problems.append(f"and {more} more")
        super().__init__("\n".join(str(p) for p in self.problems))


class FileError(InputError):
    """A file is missing, unreadable or of the wrong kind."""


class ClimateError(InputError):
    """A weather file's content cannot be trusted."""


class SheetError(InputError):
    """A sorbent data sheet is incomplete or impossible."""


class CaseError(InputError):
    """A case file asks for something impossible."""


class ExperimentError(InputError):
    """A file of a published experiment is incomplete or breaks the rules of the list."""


class QuantityError(InputError):
    """A text is not a quantity, or has the wrong unit."""


class SolverError(WelkinwellError):
    """The march did not finish; no result is returned."""


class StepLimitError(SolverError):
    """The march needed more steps than allowed."""


def nearest_name(name: str, known: Iterable[str]) -> str:
    """Say which known name is closest to a misspelt one, as a sentence (empty when none is near)."""
    if len(name) > _LONGEST_NAME:
        return ""
    matches = difflib.get_close_matches(name.lower(), {k.lower(): k for k in known}, n=1, cutoff=0.5)
    if not matches:
        return ""
    original = next(k for k in known if k.lower() == matches[0])
    return f"Did you mean {original!r}?"


def nearest_file(name: str, present: Iterable[str]) -> str:
    """Say which file is closest to a misspelt one, as a sentence (empty when none is near).

    Names are compared up to their first dot: that two files end alike makes them no more alike.
    """
    stems: dict[str, str] = {}
    for other in present:
        stems.setdefault(other.split(".")[0].lower(), other)
    wanted = name.split(".", maxsplit=1)[0].lower()[:_LONGEST_NAME]
    if wanted in stems:
        return f"Did you mean {stems[wanted]!r}?"
    matches = difflib.get_close_matches(wanted, stems, n=1, cutoff=0.7)
    return f"Did you mean {stems[matches[0]]!r}?" if matches else ""
