"""How far long work is and how long it will still take: a bar on a terminal, lines where there is none."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

Progress = Callable[[str, float], None]
PATIENCE = 2.0  # s, before a bar is shown
BETWEEN_LINES = 15.0  # s, where stderr is no terminal
BETWEEN_FRAMES = 0.5  # s, on a terminal
TOLD_FROM = 0.05  # share of the work done from which the time left can be told
ALMOST = 0.99  # what is not said to be done is never shown as done


class Pace:
    """How far a job is and how long it will still take, from the shares that it says it has done.

    shares are those of the expected work, so that they rise evenly with time where expectations hold. Between
    two reports the share goes on at the pace so far, ever slower where no report comes; it never falls. All
    times are in seconds of any clock.
    """

    def __init__(self, begin: float) -> None:
        self._begin = begin
        self._said, self._when = 0.0, begin
        self._shown = 0.0

    def report(self, share: float, now: float) -> None:
        """Take note of the share of the work [1] that is done; a lower one than before says nothing."""
        if share > self._said:
            self._said, self._when = min(share, 1.0), now

    def elapsed(self, now: float) -> float:
        """Time since the beginning [s]."""
        return now - self._begin

    def share(self, now: float) -> float:
        """Share of the work that should be done by now [1]."""
        rest, spent = 1.0 - self._said, self._when - self._begin
        if rest <= 0.0:
            self._shown = 1.0
        elif self._said > 0.0 and spent > 0.0:
            gone = self._said / spent * (now - self._when) / rest
            self._shown = max(self._shown, min(self._said + rest * gone / (1.0 + gone), ALMOST))
        return max(self._shown, self._said)

    def left(self, now: float) -> float | None:
        """Time that the rest will take [s]; None before enough is done to tell."""
        if self._said < TOLD_FROM or self._when <= self._begin:
            return None
        share = self.share(now)
        return self.elapsed(now) * (1.0 - share) / share


def line(what: str, pace: Pace, now: float) -> str:
    """Say in a line what is done, how far all is, how long it has taken and will take."""
    left = pace.left(now)
    told = f", about {duration(left, rounded=True)} left" if left is not None else ""
    return f"{what}: {100.0 * pace.share(now):.0f} % of all after {duration(pace.elapsed(now))}{told}"


def duration(seconds: float, rounded: bool = False) -> str:
    """Say a time as people do, "3 min 20 s"; rounded: as roughly as a guess should be said."""
    step = 1 if not rounded else 5 if seconds < 120.0 else 30 if seconds < 600.0 else 60
    minutes, whole = divmod(step * round(seconds / step), 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes:02d} min"
    if minutes:
        return f"{minutes} min {whole:02d} s" if whole or not rounded else f"{minutes} min"
    return f"{whole} s"


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Give a function progress(what, share of the whole done); it shows by itself how time goes on."""
    pace, what = Pace(time.monotonic()), [""]

    def tell(doing: str, share: float) -> None:
        what[0] = doing
        pace.report(share, time.monotonic())

    terminal = sys.stderr.isatty()
    with _bar(pace, what) if terminal else _every(BETWEEN_LINES, lambda: _print_line(what[0], pace)):
        yield tell


def _print_line(what: str, pace: Pace) -> None:
    with suppress(OSError, ValueError):  # a reader that went away, a stream that is closed
        print(line(what or "Working", pace, time.monotonic()), file=sys.stderr, flush=True)


@contextmanager
def _every(seconds: float, show: Callable[[], None]) -> Iterator[None]:
    """Call a function again and again from a thread of its own, so that no long call holds it up."""
    ended = threading.Event()

    def run() -> None:
        while not ended.wait(seconds):
            show()

    thread = threading.Thread(target=run, name="progress", daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


@contextmanager
def _bar(pace: Pace, what: list[str]) -> Iterator[None]:
    """Show a bar on the terminal once the work has taken longer than a moment."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        TextColumn("{task.fields[left]}"),
    )
    bar = Bar(*columns, console=Console(stderr=True), transient=True)
    task = bar.add_task("", total=1.0, left="")

    def show() -> None:
        now = time.monotonic()
        if pace.elapsed(now) < PATIENCE:
            return
        rest = pace.left(now)
        told = f"about {duration(rest, rounded=True)} left" if rest is not None else ""
        bar.update(task, description=what[0], completed=pace.share(now), left=told)
        if not bar.live.is_started:
            bar.start()

    try:
        with _every(BETWEEN_FRAMES, show):
            yield
    finally:
        bar.stop()
