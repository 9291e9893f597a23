"""The only runner: order, progress, and the first error ends it."""

import threading
import time

import pytest

from welkinwell.studies.runner import run_all


def test_results_come_in_the_order_of_the_items():
    def slowly(x):
        time.sleep(0.002 * (10 - x))
        return x * x

    assert run_all(slowly, range(10), workers=4) == [x * x for x in range(10)]


def test_progress_rises_to_one():
    seen = []
    run_all(lambda x: x, range(7), workers=2, progress=seen.append)
    assert seen == pytest.approx([(n + 1) / 7 for n in range(7)])


def test_nothing_to_do_is_done():
    seen = []
    assert run_all(lambda x: x, [], progress=seen.append) == []
    assert seen == []


def test_an_error_is_raised():
    def fails(x):
        if x == 3:
            raise ValueError("the third")
        return x

    with pytest.raises(ValueError, match="the third"):
        run_all(fails, range(6), workers=2)


def test_threads_work_side_by_side():
    """Both must be inside at once for either to leave."""
    barrier = threading.Barrier(2, timeout=10.0)
    assert run_all(lambda _: barrier.wait() >= 0, range(2), workers=2) == [True, True]


def test_progress_counts_what_is_done_and_not_what_comes_first():
    """A slow first item must not hide the others, and a large item counts for as much as it takes."""
    seen, others_done = [], threading.Event()

    def work(number):
        if number == 0:
            assert others_done.wait(10.0)
        return number

    def progress(share):
        seen.append(share)
        if len(seen) == 3:
            others_done.set()

    assert run_all(work, range(4), workers=2, progress=progress, efforts=[7.0, 1.0, 1.0, 1.0]) == [0, 1, 2, 3]
    assert seen == pytest.approx([0.1, 0.2, 0.3, 1.0])


def test_an_error_ends_the_rest():
    begun = []

    def fails(number):
        begun.append(number)
        time.sleep(0.01)
        raise ValueError("at once")

    with pytest.raises(ValueError, match="at once"):
        run_all(fails, range(200), workers=2)
    assert len(begun) < 20
