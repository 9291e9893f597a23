"""From the text of a Python function to its typed form; all outside the language is an error with its line.

The language: assignments (also `+=` and its like, and of what a call returns), `if` and `else`, `for` over a
range of constants, lists of a constant length, arithmetic, comparisons, the functions of `ELEMENTARY`, calls
of functions of the project, and in functions that a text calls, `return`. Constants of the module are read
as their values.
"""

from __future__ import annotations

import ast
import inspect
import math
import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from welkinwell.kernels.form import (
    Assign,
    Branch,
    Call,
    Choice,
    Comparison,
    Condition,
    Decide,
    Elementary,
    Expression,
    Flag,
    Given,
    Joined,
    Negative,
    Not,
    Number,
    Operation,
    Result,
    Return,
    Statement,
    Text,
    Unpack,
    Variable,
)
from welkinwell.kernels.marks import plain, slope_places
from welkinwell.kernels.slopes import ELEMENTARY

SYMBOLS: Final = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**"}
COMPARED: Final = {
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "==",
    ast.NotEq: "!=",
}  # fmt: skip
BUILT_IN: Final = {"min": min, "max": max, "abs": abs}
LONGEST_LOOP: Final = 64  # rounds that are written out


class OutsideTheLanguage(SyntaxError):
    """A flow text holds what cannot be read; file and line stand with it, as for Python's own errors."""


def read_text(function: Callable[..., Any], lists: Mapping[str, int] | None = None) -> Text:
    """Read a function into its typed form.

    lists: length of each parameter that is a list of unknowns. Raises OutsideTheLanguage.
    """
    return _Reader(plain(function), lists or {}).text()


class _Reader:
    """Reads one function."""

    def __init__(self, function: Callable[..., Any], lists: Mapping[str, int]):
        lines, first = inspect.getsourcelines(function)
        self.lines = lines
        self.first = first
        self.file = inspect.getsourcefile(function) or "<unknown>"
        self.space: Mapping[str, Any] = {**BUILT_IN, **function.__globals__}
        tree = ast.parse(textwrap.dedent("".join(lines))).body[0]
        assert isinstance(tree, ast.FunctionDef)
        self.tree = tree
        self.lists = dict(lists)
        self.indices: dict[str, int] = {}
        self.flags: set[str] = set()
        self.parameters = [argument.arg for argument in tree.args.args]
        self.local = set(self.parameters) | {
            node.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
        }

    def text(self) -> Text:
        """Read the whole function."""
        body = self.tree.body
        if isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant):
            body = body[1:]  # what it says of itself
        parameters: list[str] = []
        for name in self.parameters:
            parameters += [f"{name}_{i}" for i in range(self.lists[name])] if name in self.lists else [name]
        return Text(self.tree.name, self.file, tuple(parameters), self.block(body))

    def refuse(self, node: ast.AST, words: str) -> OutsideTheLanguage:
        """Give the error for a place in the text."""
        at = getattr(node, "lineno", 1)
        column = getattr(node, "col_offset", 0) + 1
        return OutsideTheLanguage(words, (self.file, self.first + at - 1, column, self.lines[at - 1]))

    def block(self, body: Sequence[ast.stmt]) -> tuple[Statement, ...]:
        """Read statements in their order."""
        found: list[Statement] = []
        for node in body:
            found += self.statement(node)
        return tuple(found)

    def statement(self, node: ast.stmt) -> Sequence[Statement]:
        """Read one statement, which a loop or a constant condition makes many or none."""
        line = self.first + node.lineno - 1
        match node:
            case ast.Assign(targets=[target], value=value):
                return self.assigned(node, target, value, line)
            case ast.AugAssign(target=target, op=op, value=value):
                joined = ast.copy_location(ast.BinOp(_loaded(target), op, value), node)
                return self.assigned(node, target, joined, line)
            case ast.If(test=test, body=body, orelse=orelse):
                known = self.constant(test)
                if known is not None:
                    return self.block(body if known else orelse)
                return [Branch(self.condition(test), self.block(body), self.block(orelse), line)]
            case ast.For():
                return self.loop(node)
            case ast.Return(value=ast.Tuple(elts=parts)):
                return [Return(tuple(self.expression(part) for part in parts), line)]
            case ast.Return(value=ast.expr() as value):
                return [Return((self.expression(value),), line)]
            case ast.Pass():
                return []
        raise self.refuse(node, f"a flow text has no {type(node).__name__.lower()} statement")

    def assigned(self, node: ast.stmt, target: ast.expr, value: ast.expr, line: int) -> Sequence[Statement]:
        """Read an assignment to a variable, an entry of a list, or the names of what a call returns."""
        if isinstance(target, ast.Tuple):
            names = [part.id if isinstance(part, ast.Name) else "" for part in target.elts]
            if "" in names or not isinstance(value, ast.Call):
                raise self.refuse(node, "several names are assigned only from one call")
            kept = tuple(None if name.startswith("_") else name for name in names)
            for name in kept:
                self.may_assign(node, name)
            return [Unpack(kept, self.call(value), line)]
        if isinstance(target, ast.Name) and isinstance(value, ast.BinOp) and isinstance(value.left, ast.List):
            return self.new_list(node, target.id, value, line)
        name = self.place(target)
        self.may_assign(node, name)
        if isinstance(value, (ast.Compare, ast.BoolOp)) or (
            isinstance(value, ast.UnaryOp) and isinstance(value.op, ast.Not)
        ):
            self.flags.add(name)
            return [Decide(name, self.condition(value), line)]
        if name in self.flags:
            raise self.refuse(node, f"{name} is a condition above and cannot become a number")
        return [Assign(name, self.expression(value), line)]

    def may_assign(self, node: ast.AST, name: str | None) -> None:
        """Refuse to change what was handed over: the slope of an unknown is one everywhere."""
        if name is not None and (name in self.parameters or name in self.indices):
            raise self.refuse(node, f"{name} is given and cannot be assigned; take another name")

    def new_list(self, node: ast.stmt, name: str, value: ast.BinOp, line: int) -> Sequence[Statement]:
        """Read `name = [0.0] * N`, which makes N variables."""
        count = self.constant(value.right)
        entries = value.left.elts if isinstance(value.left, ast.List) else []
        if not isinstance(value.op, ast.Mult) or not isinstance(count, int) or len(entries) != 1:
            raise self.refuse(node, "a list is written [number] * constant")
        self.may_assign(node, name)
        self.lists[name] = count
        start = self.expression(entries[0])
        return [Assign(f"{name}_{i}", start, line) for i in range(count)]

    def loop(self, node: ast.For) -> Sequence[Statement]:
        """Write out a loop over a range of constants."""
        match node:
            case ast.For(
                target=ast.Name(id=index),
                iter=ast.Call(func=ast.Name(id="range"), args=limits, keywords=[]),
                body=body,
                orelse=[],
            ):
                ends = [self.constant(limit) for limit in limits]
            case _:
                raise self.refuse(node, "a loop is written for name in range(constant)")
        if not all(isinstance(end, int) for end in ends):
            raise self.refuse(node, "a loop's range is of constants")
        rounds = range(*ends)
        if len(rounds) > LONGEST_LOOP:
            raise self.refuse(node, f"a loop has at most {LONGEST_LOOP} rounds, this one {len(rounds)}")
        if index in self.parameters:
            raise self.refuse(node, f"{index} is given and cannot be a loop's index")
        found: list[Statement] = []
        for i in rounds:
            self.indices[index] = i
            found += self.block(body)
        self.indices.pop(index, None)
        return found

    def place(self, node: ast.expr) -> str:
        """Name of the variable that a name or an entry of a list stands for."""
        match node:
            case ast.Name(id=name) if name not in self.lists:
                return name
            case ast.Subscript(value=ast.Name(id=name), slice=index) if name in self.lists:
                i = self.constant(index)
                if not isinstance(i, int) or not 0 <= i < self.lists[name]:
                    raise self.refuse(node, f"{name} has entries 0 to {self.lists[name] - 1}, by constants")
                return f"{name}_{i}"
        raise self.refuse(node, "only variables and entries of lists are assigned")

    def expression(self, node: ast.expr) -> Expression:
        """Read what has a number as its value."""
        value = self.constant(node)
        if value is not None:
            return Number(value)
        match node:
            case ast.Name(id=name) if name in self.flags:
                raise self.refuse(node, f"{name} is a condition, not a number")
            case ast.Name(id=name) if name in self.lists:
                raise self.refuse(node, f"{name} is a list; read its entries")
            case ast.Name(id=name) if name in self.local:
                return Variable(name)
            case ast.Name(id=name):
                raise self.refuse(node, f"{name} is neither a variable nor a constant of the module")
            case ast.Subscript(value=ast.Name(id=name)) if name in self.lists:
                return Variable(self.place(node))
            case ast.Subscript(value=ast.Call() as called, slice=index):
                return self.result(node, called, self.constant(index))
            case ast.Attribute() | ast.Subscript():
                return self.given(node)
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return Negative(self.expression(operand))
            case ast.BinOp(left=left, op=op, right=right) if type(op) in SYMBOLS:
                return Operation(SYMBOLS[type(op)], self.expression(left), self.expression(right))
            case ast.IfExp(test=test, body=yes, orelse=no):
                decided = self.constant(test)
                if decided is not None:
                    return self.expression(yes if decided else no)
                return Choice(self.condition(test), self.arm(yes), self.arm(no))
            case ast.Call(func=func) if (known := self.elementary(func)) is not None:
                if node.keywords or len(node.args) != ELEMENTARY[known].arguments:
                    raise self.refuse(node, f"{known} takes {ELEMENTARY[known].arguments} argument(s) here")
                return Elementary(known, tuple(self.expression(part) for part in node.args))
            case ast.Call():
                return self.result(node, node, None)
        raise self.refuse(node, f"a flow text has no {type(node).__name__.lower()} in its arithmetic")

    def arm(self, node: ast.expr) -> Expression:
        """Read an arm of `a if test else b`, in which no function of the project is called."""
        found = self.expression(node)
        if any(isinstance(part, ast.Call) and self.elementary(part.func) is None for part in ast.walk(node)):
            raise self.refuse(
                node, "a call in an arm of a choice would always be made: write an if statement"
            )
        return found

    def result(self, node: ast.expr, called: ast.Call, place: Any) -> Expression:
        """Read a call of which one value is taken."""
        call = self.call(called)
        if slope_places(call.function) is not None and place != 0:
            words = f"{call.name} returns its slopes behind its value: take {call.name}(...)[0]"
            raise self.refuse(node, words)
        return Result(call, place)

    def call(self, node: ast.Call) -> Call:
        """Read a call of a function of the project."""
        if not isinstance(node.func, ast.Name) or node.func.id in self.local:
            raise self.refuse(node, "only functions by name are called")
        name = node.func.id
        function = self.space.get(name)
        if not callable(function) or isinstance(function, type):
            raise self.refuse(node, f"{name} is no function of the project")
        if node.keywords or any(isinstance(part, ast.Starred) for part in node.args):
            raise self.refuse(node, "arguments are given by their place")
        wanted = len(inspect.signature(plain(function)).parameters)
        if len(node.args) != wanted:
            raise self.refuse(node, f"{name} takes {wanted} arguments, {len(node.args)} are given")
        return Call(function, name, tuple(self.expression(part) for part in node.args))

    def elementary(self, func: ast.expr) -> str | None:
        """Name of an elementary function, None where it is none."""
        match func:
            case ast.Attribute(value=ast.Name(id="math"), attr=name):
                if name not in ELEMENTARY:
                    raise self.refuse(func, f"the slope of math.{name} is not known")
                return name
            case ast.Name(id=name) if name in BUILT_IN and name not in self.local:
                return name
        return None

    def given(self, node: ast.expr) -> Given:
        """Read a field or an entry of what was handed over."""
        inner = node
        parts: list[str] = []
        while not isinstance(inner, ast.Name):
            if isinstance(inner, ast.Attribute):
                parts.append(f".{inner.attr}")
                inner = inner.value
            elif isinstance(inner, ast.Subscript):
                index = self.constant(inner.slice)
                if not isinstance(index, int):
                    raise self.refuse(node, "entries are read by a constant")
                parts.append(f"[{index}]")
                inner = inner.value
            else:
                raise self.refuse(node, "only fields and entries of what is given are read")
        if inner.id not in self.parameters:
            raise self.refuse(node, f"{inner.id} is not given to the text")
        return Given(inner.id + "".join(reversed(parts)))

    def condition(self, node: ast.expr) -> Condition:
        """Read what is true or not."""
        match node:
            case ast.Compare(left=left, ops=[op], comparators=[right]) if type(op) in COMPARED:
                return Comparison(COMPARED[type(op)], self.expression(left), self.expression(right))
            case ast.BoolOp(op=op, values=parts):
                word = "and" if isinstance(op, ast.And) else "or"
                return Joined(word, tuple(self.condition(part) for part in parts))
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                return Not(self.condition(operand))
            case ast.Name(id=name) if name in self.flags:
                return Flag(name)
        raise self.refuse(node, "a condition compares numbers or names a condition above")

    def constant(self, node: ast.expr) -> Any:
        """Value of an expression of constants alone, None for any other."""
        for part in ast.walk(node):
            if isinstance(part, ast.Name):
                if part.id in self.indices or part.id == "math":
                    continue
                known = None if part.id in self.local else self.space.get(part.id)
                if not isinstance(known, (int, float)):
                    return None
            elif isinstance(part, (ast.Call, ast.Subscript)) or (
                isinstance(part, ast.Attribute)
                and not (isinstance(part.value, ast.Name) and part.value.id == "math" and part.attr in "pi e")
            ):
                return None
        known_names = {**self.space, **self.indices, "math": math}
        value = eval(compile(ast.Expression(node), self.file, "eval"), {"__builtins__": {}}, known_names)
        return value if isinstance(value, (int, float)) else None


def _loaded(target: ast.expr) -> ast.expr:
    """The same place, read instead of assigned."""
    copied = ast.parse(ast.unparse(target), mode="eval").body
    return ast.copy_location(ast.fix_missing_locations(copied), target)
