"""How far long work is: a bar on the terminal, a line now and then where there is none."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Progress = Callable[[str, float], None]
_PATIENCE = 2.0  # s, before a bar is shown
_BETWEEN_LINES = 30.0  # s, where stderr is no terminal
_TOLD_FROM = 0.03  # share done from which the time left can be told


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Give a function progress(what, share of the whole done); a line every half minute off a terminal."""
    if not sys.stderr.isatty():
        yield _lines()
        return

    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns = (
        *(TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn()),
        *(TextColumn("left:"), TimeRemainingColumn()),
    )
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


def _lines(now: Callable[[], float] = time.monotonic) -> Progress:
    """Print what is done, how far it is and about how long it will still take, every half minute."""
    started = last = now()

    def tell(what: str, share: float) -> None:
        nonlocal last
        moment = now()
        if moment - last < _BETWEEN_LINES:
            return
        last = moment
        left = ""
        if share > _TOLD_FROM:
            left = f", about {(moment - started) * (1.0 - share) / share / 60.0:.1f} minutes left"
        print(f"{what}: {100.0 * share:.0f} % of all{left}", file=sys.stderr, flush=True)

    return tell
