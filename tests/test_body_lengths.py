"""No body of a function is longer than a screen; a flow text, a straight line of physics, than 150 lines.

A body is counted from its first statement after the docstring to its last line.
"""

import ast
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src" / "welkinwell"
LONGEST = 60
LONGEST_FLOW_TEXT = 150
KNOWN = {
    # one loop over all the time that a year takes: calls in it would be calls in every step
    ("numerics/march.py", "_march"),
}


def body_length(function):
    """Lines from the first statement after the docstring to the end."""
    body = function.body[1:] if ast.get_docstring(function, clean=False) is not None else function.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def functions(tree, within=""):
    """Every function with its full name, those inside classes and functions, too."""
    for node in ast.iter_child_nodes(tree):
        name = f"{within}{node.name}" if hasattr(node, "name") else within
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield name, node
        yield from functions(node, f"{name}." if hasattr(node, "name") else within)


def flow_texts(tree):
    """Names of the functions that a file hands to `flow_kernel`."""
    return {
        node.args[0].id
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "flow_kernel"
        and isinstance(node.args[0], ast.Name)
    }


def too_long(source):
    """Bodies of a file's text that are longer than they may be: name and number of lines."""
    tree = ast.parse(source)
    texts = flow_texts(tree)
    found = [(name, body_length(function)) for name, function in functions(tree)]
    return [(name, n) for name, n in found if n > (LONGEST_FLOW_TEXT if name in texts else LONGEST)]


def test_no_body_is_longer_than_a_screen():
    found = {
        (path.relative_to(SOURCE).as_posix(), name): lines
        for path in sorted(SOURCE.rglob("*.py"))
        for name, lines in too_long(path.read_text(encoding="utf-8"))
    }
    assert {place: n for place, n in found.items() if place not in KNOWN} == {}
    assert KNOWN - set(found) == set(), "short by now: take it off the list"


def test_every_kind_has_a_flow_text():
    files = [p for p in SOURCE.glob("harvesters/*/*flows.py") if "flow_kernel(" in p.read_text()]
    assert len(files) >= 8
    for path in files:
        assert flow_texts(ast.parse(path.read_text(encoding="utf-8"))), path


@pytest.mark.parametrize(
    ("lines", "head", "tail", "long"),
    [
        (60, "", "", False),
        (61, "", "", True),
        (60, '    """One\n\n    two."""\n', "", False),
        (150, "", "KERNEL = flow_kernel(work, {}, [], 'work')\n", False),
        (151, "", "KERNEL = flow_kernel(work, {}, [], 'work')\n", True),
    ],
)
def test_lines_are_counted_without_the_docstring(lines, head, tail, long):
    body = "".join(f"    x{i} = {i}\n" for i in range(lines))
    assert too_long(f"def work():\n{head}{body}{tail}") == ([("work", lines)] if long else [])


def test_a_body_within_a_class_is_found():
    body = "".join(f"        x{i} = {i}\n" for i in range(70))
    assert too_long(f"class A:\n    def work(self):\n{body}") == [("A.work", 70)]
