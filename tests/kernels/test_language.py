"""What a flow text may hold, what its slopes are, and how all else is refused with its file and line."""

import math
import os
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from welkinwell import compile_cache
from welkinwell.compiled import njit
from welkinwell.kernels import kernel
from welkinwell.kernels.kernel import flow_kernel, with_slopes
from welkinwell.kernels.marks import gives_slopes, written_out
from welkinwell.kernels.printer import Module, Printer
from welkinwell.kernels.reader import OutsideTheLanguage, read_text

SCALE = 3.0
COUNT = 3
ROW = np.zeros(2)


class Numbers(NamedTuple):
    area: float
    second: float


NUMBERS = Numbers(2.0, 0.5)


@gives_slopes("x", "y")
@njit
def product(x, y, ignored):
    return x * y, y, x


@written_out
@njit
def halves(x, steep):
    if x < 0.0:
        return 0.0, steep
    z = 0.5 * x * steep
    return z, z * z


@njit
def unmarked(x):
    return x * x


def elementary(a, b, air, mode, n, row):
    one = math.exp(-a) + math.log(2.0 + b * b) + math.sqrt(1.0 + a * a)
    two = math.tanh(a) * math.expm1(0.1 * b) + math.log1p(a * a) + math.sin(a) + math.cos(b)
    three = min(a, b) + max(a * a, b) + abs(a - b)
    four = (a * a + 2.0) ** n.second + a**3 + (-b) ** 2 + SCALE * a / (1.0 + b * b)


def statements(a, b, air, mode, n, row):
    h = 1.0 + a
    h += a * b
    h *= a
    h -= b
    one = h
    h = 2.0 * b
    two = h * a
    if mode == 1 and not a > 5.0:
        three = a * air[0]
    else:
        h = a
        one += h * b
    far = b > 0.3 or a > 0.9
    if far:
        h = h * b
    four = h * (a if far else b)


def calls(a, b, air, mode, n, row):
    one = product(a * a, b + a, 1.0)[0]
    half, square = halves(a - 0.4, n.area)
    two = half * b
    three = square + halves(b, 2.0)[1]
    value, _, _ = product(a, a, 1.0)
    four = value


def lists(x, b, air, mode, n, row):
    total = 0.0
    each = [0.0] * COUNT
    for i in range(COUNT):
        each[i] = x[i] * x[(i + 1) % COUNT] * (b if i < 2 else 2.0)
        total += each[i] / COUNT
    one = total
    two = each[0]
    three = each[1]
    four = each[2]


ORDER = ["one", "two", "three", "four"]
PAIR = {"a": 0, "b": 1}


@pytest.mark.parametrize("mode", [0, 1])
@pytest.mark.parametrize("text", [elementary, statements, calls, lists], ids=lambda text: text.__name__)
def test_slopes_meet_differences(text, mode):
    unknowns = {"x": (0, 1, 2), "b": 3} if text is lists else PAIR
    made = flow_kernel(text, unknowns, ORDER, f"tests_{text.__name__}")
    n = 4 if text is lists else 2
    as_is = kernel.with_locals(text)
    air = np.array([1.7])
    rng = np.random.default_rng(1)
    for y in rng.uniform(0.05, 1.3, (40, n)):
        phi, slopes = np.zeros(4), np.zeros((4, n))
        made.fill(y, air, mode, NUMBERS, ROW, True, phi, slopes)
        alone = np.zeros(4)
        made.fill(y, air, mode, NUMBERS, ROW, False, alone, slopes)
        given = (list(y[:3]), y[3]) if text is lists else tuple(y)
        found = as_is(*given, air, mode, NUMBERS, ROW)
        assert alone == pytest.approx([found.get(name, 0.0) for name in ORDER], rel=1e-14)
        assert phi == pytest.approx(alone, rel=1e-14)
        for u in range(n):
            up, down = np.zeros(4), np.zeros(4)
            for moved, out in ((1e-6, up), (-1e-6, down)):
                shifted = y.copy()
                shifted[u] += moved
                made.fill(shifted, air, mode, NUMBERS, ROW, False, out, slopes)
            expected = (up - down) / 2e-6
            assert slopes[:, u] == pytest.approx(expected, rel=1e-6, abs=1e-8)
            never = [f for f in range(4) if u not in made.uses[f]]
            assert (expected[never] == 0.0).all()


def test_a_slope_that_is_always_zero_is_not_printed():
    made = flow_kernel(calls, PAIR, ORDER, "tests_calls")
    assert made.uses == ((0, 1), (0, 1), (0, 1), (0,))
    assert "slopes[3, 1]" not in made.text


def test_each_printed_line_names_the_line_of_the_text():
    made = flow_kernel(statements, PAIR, ORDER, "tests_statements")
    lines = made.text.splitlines()
    first = statements.__code__.co_firstlineno
    assert any(
        line.strip().startswith("h = (h + (a * b))") and line.endswith(f"# {first + 2}") for line in lines
    )
    place = compile_cache.writable_folder()
    assert place is None or Path(made.place).read_text(encoding="utf-8") == made.text


def test_without_a_writable_folder_the_text_is_kept_in_memory(monkeypatch):
    monkeypatch.setattr(compile_cache, "writable_folder", lambda: None)
    made = flow_kernel(statements, PAIR, ORDER, "tests_in_memory")
    assert "in memory, since no folder for compiled code can be written" in made.place
    phi, slopes = np.zeros(4), np.zeros((4, 2))
    made.fill(np.array([0.2, 0.3]), np.array([1.0]), 1, NUMBERS, ROW, True, phi, slopes)
    assert phi[2] == pytest.approx(0.2)


def test_a_function_alone_gives_its_values_and_then_its_slopes():
    made = with_slopes(halves, ("x",), "tests_halves")
    assert made.run(2.0, 3.0) == pytest.approx((3.0, 9.0, 1.5, 9.0))
    assert made.places == ({0: 2}, {0: 3})
    assert made.run(-1.0, 3.0) == pytest.approx((0.0, 3.0, 0.0, 0.0))


# Each of these is refused, with words that say why. The line is the one marked with `here`.
def loop_over_unknown(a, b, air, mode, n, row):
    for i in range(mode):  # here: range is of constants
        one = a


def too_long(a, b, air, mode, n, row):
    for i in range(1000):  # here: at most 64 rounds
        one = a


def while_loop(a, b, air, mode, n, row):
    while a > 0.0:  # here: no while statement
        one = a


def unknown_function(a, b, air, mode, n, row):
    one = math.gamma(a)  # here: slope of math.gamma is not known


def unmarked_call(a, b, air, mode, n, row):
    one = unmarked(a)  # here: gives no slopes


def slope_not_given(a, b, air, mode, n, row):
    one = product(a, b, a)[0]  # here: gives no slope in its argument 3


def value_not_taken(a, b, air, mode, n, row):
    one = product(a, b, 1.0)  # here: take product(...)[0]


def slopes_taken(a, b, air, mode, n, row):
    one, two, _ = product(a, b, 1.0)  # here: not for a text


def unknown_assigned(a, b, air, mode, n, row):
    a = 2.0 * b  # here: is given and cannot be assigned
    one = a


def unknown_added_to(a, b, air, mode, n, row):
    a += b  # here: is given and cannot be assigned


def power_of_unknown(a, b, air, mode, n, row):
    one = a**b  # here: exponent cannot depend


def one_branch_alone(a, b, air, mode, n, row):
    if mode == 1:
        h = a
    one = h  # here: in one branch above alone


def flow_of_one_branch_read(a, b, air, mode, n, row):
    if mode == 1:
        one = a
    two = one  # here: in one branch above alone


def never_assigned(a, b, air, mode, n, row):
    one = a + later  # here: neither a variable nor a constant


def call_in_a_choice(a, b, air, mode, n, row):
    one = product(a, b, 1.0)[0] if mode == 1 else 0.0  # here: write an if statement


def call_in_a_condition(a, b, air, mode, n, row):
    if unmarked(air[0]) > 1.0:  # here: assign it first
        one = a


def condition_as_number(a, b, air, mode, n, row):
    far = a > 1.0
    one = far * b  # here: is a condition, not a number


def keyword(a, b, air, mode, n, row):
    one = product(a, b, ignored=1.0)[0]  # here: by their place


def outside_a_list(x, b, air, mode, n, row):
    one = x[3]  # here: entries 0 to 2


def chained(a, b, air, mode, n, row):
    one = two = a  # here: no assign statement


def comprehension(a, b, air, mode, n, row):
    one = sum([a for _ in range(3)])  # here: no function of the project


def lambda_in_it(a, b, air, mode, n, row):
    one = (lambda x: x)(a)  # here: only functions by name


def wrong_count(a, b, air, mode, n, row):
    one = product(a, b)[0]  # here: takes 3 arguments, 2 are given


def early_end(a, b, air, mode, n, row):
    import math  # here: no import statement  # noqa: F401


REFUSED = [
    loop_over_unknown, too_long, while_loop, unknown_function, unmarked_call, slope_not_given, value_not_taken,
    slopes_taken, unknown_assigned, unknown_added_to, power_of_unknown, one_branch_alone,
    flow_of_one_branch_read, never_assigned, call_in_a_choice, call_in_a_condition, condition_as_number,
    keyword, outside_a_list, chained, comprehension, lambda_in_it, wrong_count, early_end,
]  # fmt: skip


@pytest.mark.parametrize("text", REFUSED, ids=lambda text: text.__name__)
def test_what_is_outside_the_language_is_refused_with_file_and_line(text):
    lines = Path(__file__).read_text(encoding="utf-8").splitlines()
    first = text.__code__.co_firstlineno
    line = next(i for i in range(first, first + 12) if "# here: " in lines[i - 1])
    words = lines[line - 1].partition("# here: ")[2].partition("  #")[0]
    unknowns = {"x": (0, 1, 2), "b": 3} if text is outside_a_list else PAIR
    with pytest.raises(OutsideTheLanguage) as caught:
        flow_kernel(text, unknowns, ORDER, "tests_refused")
    assert words in caught.value.msg
    assert (caught.value.filename, caught.value.lineno) == (__file__, line)


def test_a_mark_names_arguments_that_the_function_has():
    with pytest.raises(TypeError, match="unmarked has no argument z"):
        gives_slopes("z")(unmarked)


def test_values_alone_print_no_slope():
    text = read_text(calls)
    lines = "\n".join(Printer(Module("tests"), text, PAIR, slopes=False).printed())
    assert "__0" not in lines
    assert "__1" not in lines


def test_without_the_compiler_the_text_itself_runs(tmp_path):
    """A breakpoint set in the text is met: its own lines run, under their own file and number."""
    script = """
import sys
import numpy as np
sys.path.insert(0, {place!r})
import test_language as t
first = t.statements.__code__.co_firstlineno
seen = set()
def watch(frame, event, _):
    if frame.f_code.co_filename == t.__file__ and frame.f_code.co_name == "statements":
        seen.add(frame.f_lineno - first)
    return watch
made = t.flow_kernel(t.statements, t.PAIR, t.ORDER, "tests_plain")
phi, slopes = np.zeros(4), np.zeros((4, 2))
sys.settrace(watch)
made.fill(np.array([0.2, 0.3]), np.array([1.0]), 1, t.NUMBERS, t.ROW, True, phi, slopes)
sys.settrace(None)
print(sorted(seen)[:4], phi[2], slopes[2, 0])
"""
    run = subprocess.run(
        [sys.executable, "-c", script.format(place=str(Path(__file__).parent))],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.startswith("[0, 1, 2, 3]")
    assert run.stdout.split()[-2:] == ["0.2", "1.0"]
