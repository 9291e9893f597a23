"""Feed one reader with mutants and note what it does: reads, refuses in words, or breaks."""

from __future__ import annotations

import functools
import importlib
import random
import resource
import signal
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final

from fuzz.mutants import mutant
from fuzz.readers import Reader
from welkinwell.errors import InputError

HANG: Final = 5.0  # s of the processor that one file may take
MOST_MEMORY: Final = 1000.0  # MB of the whole process
MOST_FINDINGS: Final = 20  # of one reader, each of another kind


class Hang(BaseException):
    """A file that takes too long; no reader may catch it."""


@dataclass
class Outcome:
    """What came of the mutants of one reader.

    slowest: of one mutant [s of the processor]; peak: of the process [MB], imports and compiling included.
    """

    mutants: int = 0
    past_header: int = 0
    read: int = 0
    refused: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    slowest_mutant: int = -1
    peak: float = 0.0
    findings: list[dict[str, Any]] = field(default_factory=list)

    def add(self, kind: str, index: int, words: str) -> None:
        """Keep a finding unless its like is there."""
        if len(self.findings) < MOST_FINDINGS and all(one["words"] != words for one in self.findings):
            self.findings.append({"kind": kind, "mutant": index, "words": words})

    def as_data(self) -> dict[str, Any]:
        """Give it JSON-ready."""
        return asdict(self)


class Passed:
    """Counts the calls of the function that marks a read header, and breaks it where a fault is planted."""

    def __init__(self, reader: Reader, fault: bytes | None = None) -> None:
        module, _, name = reader.past.partition(":")
        *owners, self._name = name.split(".")
        self._owner: Any = importlib.import_module(module)
        for owner in owners:
            self._owner = getattr(self._owner, owner)
        self._original: Callable[..., Any] = getattr(self._owner, self._name)
        self._after, self._fault = reader.returned, fault
        self.content, self.seen = b"", False

    def __enter__(self) -> Passed:
        original = self._original

        @functools.wraps(original)
        def counted(*arguments: Any, **options: Any) -> Any:
            found = original(*arguments, **options) if self._after else None
            self.seen = True
            if self._fault is not None and self._fault in self.content:
                raise KeyError("a fault that was planted")
            return found if self._after else original(*arguments, **options)

        setattr(self._owner, self._name, counted)
        return self

    def __exit__(self, *error: object) -> None:
        setattr(self._owner, self._name, self._original)


def content_of(reader: Reader, seeds: list[bytes], seed: int, index: int) -> bytes:
    """Make the mutant of that number again."""
    rng = random.Random(f"{seed} {reader.name} {index}")
    return mutant(rng, rng.choice(seeds), reader.form)


def tried(reader: Reader, path: Path) -> tuple[str, str]:
    """Read one file; gives `read`, `refused`, or the kind of the finding, and its words."""
    try:
        with _limited():
            reader.read(path)
    except InputError as error:
        return "refused", str(error)
    except Hang:
        return "hang", f"over {HANG:g} s"
    except MemoryError:
        return "memory", "MemoryError"
    except Exception as error:
        trace = traceback.extract_tb(error.__traceback__)
        ours = [f for f in trace if "/welkinwell/" in f.filename] or list(trace)
        return "traceback", f"{type(error).__name__} in {Path(ours[-1].filename).name}, {ours[-1].name}"
    return "read", ""


@contextmanager
def _limited() -> Iterator[None]:
    def stop(number: int, frame: Any) -> None:
        raise Hang

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, HANG)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
        signal.signal(signal.SIGVTALRM, before)


def peak_memory() -> float:
    """Largest resident memory of this process so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def hunt(
    reader: Reader,
    folder: Path,
    *,
    seed: int = 1,
    seconds: float = 60.0,
    first: int = 0,
    most: int | None = None,
    fault: bytes | None = None,
    enough: int = MOST_FINDINGS,
    seeds: list[bytes] | None = None,
) -> Outcome:
    """Feed a reader with mutants.

    folder: for the files; seed: of the mutants; seconds: of the processor, without the sane file that is read
    first; first: number of the first mutant; most: mutants, without end if None; fault: a reader that is past
    its header breaks on files that hold these bytes; enough: number of findings; seeds: others than its own.
    """
    seeds = seeds or reader.seeds()
    path = folder / f"mutant.{reader.suffix}"
    with Passed(reader, fault) as passed:
        for content in seeds:  # compiles and imports
            path.write_bytes(content)
            with suppress(InputError):
                reader.read(path)
        found, begun = Outcome(), time.process_time()
        for index in range(first, first + most if most is not None else 10**9):
            over = time.process_time() - begun > seconds or peak_memory() > MOST_MEMORY
            if over or len(found.findings) >= enough:
                break
            passed.content, passed.seen = content_of(reader, seeds, seed, index), False
            path.write_bytes(passed.content)
            (folder / "at").write_text(str(index))
            start = time.process_time()
            kind, words = tried(reader, path)
            took = time.process_time() - start
            _note(found, index, kind, words, took, passed.seen)
        found.seconds = time.process_time() - begun
    found.peak = peak_memory()
    return found


def _note(found: Outcome, index: int, kind: str, words: str, took: float, past: bool) -> None:
    found.mutants += 1
    found.past_header += past
    if took > found.slowest:
        found.slowest, found.slowest_mutant = took, index
    if kind == "read":
        found.read += 1
    elif kind == "refused":
        found.refused += 1
        if not words.strip():
            found.add("no words", index, "a refusal without words")
    else:
        found.add(kind, index, words)
    if kind in ("read", "refused") and took > HANG:
        found.add("hang", index, f"over {HANG:g} s")
    if peak_memory() > MOST_MEMORY:
        found.add("memory", index, f"over {MOST_MEMORY:g} MB")


def limit_memory() -> None:
    """Let a mutant that wants far too much fail by itself, in the process of one reader."""
    most = 8 * 2**30  # addresses, of which the compiler reserves many
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
