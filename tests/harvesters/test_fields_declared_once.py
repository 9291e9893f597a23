"""A field that several kinds have is declared in one place; a kind says what differs of it."""

import ast
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest

from welkinwell.declare import again, choice, count, declared_fields, flag, quantity
from welkinwell.harvesters import shared_fields
from welkinwell.harvesters.kinds import LISTED

DECLARE = {"quantity", "choice", "flag", "count", "words", "texts"}


def declarations(text):
    """Names that a text declares, in a class or for itself."""
    for node in ast.walk(ast.parse(text)):
        target = getattr(node, "target", None) or next(iter(getattr(node, "targets", [])), None)
        value = getattr(node, "value", None)
        made = getattr(value, "func", None) if isinstance(target, ast.Name) else None
        if isinstance(made, ast.Name) and made.id in DECLARE:
            yield target.id


def source(module):
    return Path(module.__file__).read_text(encoding="utf-8")


def test_no_field_is_declared_twice():
    texts = [source(shared_fields), *(source(kind.part("design")) for kind in LISTED.values())]
    declared = Counter(name for text in texts for name in declarations(text))
    assert len(declared) > 200
    assert {name: times for name, times in declared.items() if times > 1} == {}


def test_every_shared_field_is_used_by_several_kinds():
    used = Counter(name for kind in LISTED.values() for name in declared_fields(kind.load()))
    shared = list(declarations(source(shared_fields)))
    assert [name for name in shared if used[name] < 2] == []


HEIGHT = quantity("mm", "How high", default=20.0, low=1.0, high=50.0, low_open=True)
WAY = choice(("up", "down"), "Which way", default="up")
MANY = count("How many", default=2, high=9)
SHUT = flag("Whether it is shut", default=True)


@dataclass(frozen=True)
class Thing:
    height: float = again(HEIGHT)
    depth: float = again(HEIGHT, unit="m", sentence="How deep", default=2.0, low=1.0, high=3.0)
    low: float | None = again(HEIGHT, default=None, high=10.0)
    way: str = again(WAY, options=("left", "right"), default="left")
    many: int = again(MANY, high=5)
    shut: bool = again(SHUT, default=False)


def test_what_differs_is_in_the_field_s_unit_and_the_rest_stays():
    found = declared_fields(Thing)
    height, depth, low = found["height"], found["depth"], found["low"]
    assert (height.default, height.low, height.high, height.unit) == (0.02, 0.001, 0.05, "mm")
    assert (depth.default, depth.low, depth.high, depth.unit, depth.sentence) == (
        2.0,
        1.0,
        3.0,
        "m",
        "How deep",
    )
    assert (low.default, low.low, low.high, low.low_open, low.sentence) == (
        None,
        0.001,
        0.01,
        True,
        "How high",
    )
    assert (found["way"].options, found["way"].default) == (("left", "right"), "left")
    assert (found["many"].high, found["many"].default) == (5, 2)
    assert (found["shut"].default, found["shut"].sentence) == (False, "Whether it is shut")
    assert Thing().height == 0.02


def test_an_unknown_change_is_refused():
    with pytest.raises(TypeError, match="a declared field has no hihg"):
        again(HEIGHT, hihg=3.0)
