"""The only runner: many simulations on one site, in threads, with progress, in the order they were given."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def run_all(
    work: Callable[[Item], Result],
    items: Iterable[Item],
    *,
    workers: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Result]:
    """Do work on every item; the compiled march lets other threads run, so threads are enough.

    workers: threads, all cores if not given; progress: called with the share done [1]. The first error
    ends the rest and is raised.
    """
    listed = list(items)
    workers = workers or os.cpu_count() or 1
    with ThreadPoolExecutor(max_workers=workers) as pool:
        return list(_counted(pool.map(work, listed), len(listed), progress))


def _counted(
    results: Iterator[Result], total: int, progress: Callable[[float], None] | None
) -> Iterator[Result]:
    for number, result in enumerate(results, start=1):
        if progress is not None:
            progress(number / max(total, 1))
        yield result
