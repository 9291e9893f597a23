"""Time that is left: from work done, by its effort; it moves on, and is told without a terminal too."""

import itertools
import os
import pty
import re
import subprocess
import sys

import pytest

from welkinwell.cli.progress import BETWEEN_LINES, Pace, duration, line


def run(pace, reports, until, every=1.0):
    """Walk a fake clock and report (time, share); gives (time, share shown, time left) at each tick."""
    seen, waiting, now = [], list(reports), 0.0
    while now <= until:
        while waiting and waiting[0][0] <= now:
            when, share = waiting.pop(0)
            pace.report(share, when)
        seen.append((now, pace.share(now), pace.left(now)))
        now += every
    return seen


def test_even_work_is_told_exactly():
    seen = run(Pace(0.0), [(10.0 * n, 0.1 * n) for n in range(1, 11)], 100.0, every=10.0)
    for now, share, left in seen[1:]:
        assert share == pytest.approx(now / 100.0)
        assert left == pytest.approx(100.0 - now)


def test_nothing_is_told_before_some_work_is_done():
    """Half a minute in which 3 % were done is how a run of five minutes came to have 34 left."""
    pace = Pace(0.0)
    pace.report(0.03, 35.0)
    assert pace.left(35.0) is None
    assert "left" not in line("Compiling", pace, 35.0)


def test_a_first_part_that_is_known_to_be_long_does_not_mislead():
    """40 s of compiling that count as 40 of 100: the rest takes a minute, and that is said at once."""
    seen = run(Pace(0.0), [(10.0 * n, 0.1 * n) for n in range(4, 11)], 100.0)
    for now, _, left in seen:
        if left is not None:
            assert left == pytest.approx(100.0 - now, abs=5.0)


@pytest.mark.parametrize("slow", [0.3, 1.0, 4.0])
def test_the_figure_moves_in_a_long_part_and_never_falls(slow):
    """A part of a fifth of the work that takes four minutes, faster or slower than what was done before."""
    begin = 48.0 / slow
    seen = run(
        Pace(0.0), [(begin, 0.2), (begin + 240.0, 0.4), (begin + 250.0, 1.0)], begin + 260.0, every=15.0
    )
    shares = [share for _, share, _ in seen]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    lines = [f"{duration(now)} {share:.3f} {duration(left or 0.0)}" for now, share, left in seen]
    inside = [said for said, (now, _, _) in zip(lines, seen, strict=True) if begin < now < begin + 240.0]
    assert len(set(inside)) == len(inside)  # no two lines alike
    moving = [share for now, share, _ in seen if begin < now < begin + 240.0]
    assert all(later > earlier for earlier, later in itertools.pairwise(moving) if earlier < 0.98)


def test_what_is_not_done_is_not_shown_as_done():
    pace = Pace(0.0)
    pace.report(0.5, 1.0)
    assert pace.share(1e6) == 0.99
    pace.report(1.0, 1e6)
    assert pace.share(1e6) == 1.0
    assert pace.left(1e6) == 0.0


def test_a_report_of_less_is_not_believed():
    pace = Pace(0.0)
    pace.report(0.6, 10.0)
    pace.report(0.1, 11.0)
    assert pace.share(11.0) >= 0.6


def test_a_line_says_what_how_far_and_how_long():
    pace = Pace(0.0)
    pace.report(0.25, 60.0)
    assert line("Drawing", pace, 60.0) == "Drawing: 25 % of all after 1 min 00 s, about 3 min left"


@pytest.mark.parametrize(
    ("seconds", "exact", "roughly"),
    [
        (0.4, "0 s", "0 s"),
        (58.0, "58 s", "1 min"),
        (204.0, "3 min 24 s", "3 min 30 s"),
        (9011.0, "2 h 30 min", "2 h 30 min"),
    ],
)
def test_durations_in_words(seconds, exact, roughly):
    assert duration(seconds) == exact
    assert duration(seconds, rounded=True) == roughly


def test_lines_are_due_within_a_quarter_of_a_minute():
    assert BETWEEN_LINES <= 15.0


BUSY = """
import welkinwell.cli.progress as progress
progress.BETWEEN_LINES, progress.BETWEEN_FRAMES, progress.PATIENCE = 0.2, 0.05, 0.0
import time
with progress.progress_bar() as tell:
    tell("Simulating", 0.5)
    end = time.monotonic() + 1.5
    while time.monotonic() < end:  # one long call that reports nothing
        pass
    tell("Done", 1.0)
print("result")
"""


def test_lines_come_during_one_long_call_into_a_pipe():
    done = subprocess.run([sys.executable, "-c", BUSY], capture_output=True, text=True, check=True)
    lines = done.stderr.splitlines()
    assert len(lines) >= 4
    assert all(re.fullmatch(r"Simulating: \d+ % of all after \d s, about \d+ s left", said) for said in lines)
    assert done.stdout == "result\n"


def test_on_a_terminal_a_bar_moves():
    leader, follower = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-c", BUSY],
        stdout=subprocess.PIPE,
        stderr=follower,
        env={**os.environ, "TERM": "xterm"},
    ) as process:
        process.communicate(timeout=30)
    os.close(follower)
    shown = os.read(leader, 1_000_000).decode()
    os.close(leader)
    assert "Simulating" in shown
    assert "left" in shown
    assert "% of all" not in shown
