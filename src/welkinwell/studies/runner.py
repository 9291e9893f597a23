"""The only runner: many simulations on one site, in threads, with progress, in the order they were given."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from typing import TypeVar

Progress = Callable[[str, float], None]  # what is done now, and the share of the whole that is done [1]
Item = TypeVar("Item")
Result = TypeVar("Result")


def run_all(
    work: Callable[[Item], Result],
    items: Iterable[Item],
    *,
    workers: int | None = None,
    progress: Callable[[float], None] | None = None,
    efforts: Sequence[float] | None = None,
) -> list[Result]:
    """Do work on every item; the compiled march lets other threads run, so threads are enough.

    workers: threads, all cores if not given; progress: called with the share done [1] whenever an item is;
    efforts: what each item takes, in any unit, if not the same. The first error ends the rest and is raised.
    """
    listed = list(items)
    workers = workers or os.cpu_count() or 1
    with ThreadPoolExecutor(max_workers=workers) as pool:
        futures = [pool.submit(work, item) for item in listed]
        try:
            _count(futures, progress, efforts if efforts is not None else [1.0] * len(listed))
        finally:
            for future in futures:
                future.cancel()
    return [future.result() for future in futures]


def _count(
    futures: Sequence[Future], progress: Callable[[float], None] | None, efforts: Sequence[float]
) -> None:
    """Tell the share of all effort that is done as items are, in any order; raises the first error."""
    effort_of = dict(zip(futures, efforts, strict=True))
    total, done = sum(efforts), 0.0
    for future in as_completed(futures):
        future.result()
        done += effort_of[future]
        if progress is not None:
            progress(done / total if total > 0.0 else 1.0)
