"""A progress bar on the terminal for work of more than two seconds."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Progress = Callable[[str, float], None]
_PATIENCE = 2.0  # s


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Give a function progress(what, share of the whole done); silent when stderr is no terminal."""
    if not sys.stderr.isatty():
        yield lambda what, share: None
        return

    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    bar = Bar(*columns, console=Console(stderr=True), transient=True)
    task = bar.add_task("", total=1.0)
    started = time.monotonic()

    def show(what: str, share: float) -> None:
        if not bar.live.is_started and time.monotonic() - started > _PATIENCE:
            bar.start()
        bar.update(task, description=what, completed=share)

    try:
        yield show
    finally:
        bar.stop()
