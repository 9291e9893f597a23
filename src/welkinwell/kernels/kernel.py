"""From a flow text to what the march calls: flows, and where wanted their slopes, compiled.

The printed text is a real file in the folder of compiled code, so that a debugger, a traceback and a reader
find it (`python -m welkinwell.harvesters KIND` says where); each of its lines names the line of the flow
text that it comes from. Without a folder that can be written it stays in memory.
"""

from __future__ import annotations

import ast
import inspect
import linecache
import math
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numba

from welkinwell import compile_cache
from welkinwell.compiled import njit
from welkinwell.errors import FileError
from welkinwell.kernels.marks import plain
from welkinwell.kernels.printer import Module, Printer
from welkinwell.kernels.reader import read_text
from welkinwell.writing import make_folder, write_text

IN_MEMORY: Final = "in memory, since no folder for compiled code can be written"
Unknowns = Mapping[str, int | Sequence[int]]


@dataclass(frozen=True)
class FlowKernel:
    """A printed flow text.

    fill(y, air, mode, numbers, row, want, phi, slopes): as the march asks it; uses: unknowns that each flow
    depends on; text: what was printed; place: where it lies.
    """

    fill: Callable[..., None]
    uses: tuple[tuple[int, ...], ...]
    text: str
    place: str

    @property
    def pattern(self) -> list[tuple[int, int]]:
        """(flow, unknown) of each slope that can differ from zero."""
        return [(flow, unknown) for flow, used in enumerate(self.uses) for unknown in used]


def flow_kernel(
    flows: Callable[..., None], unknowns: Unknowns, order: Sequence[str], name: str
) -> FlowKernel:
    """Print and compile a flow text.

    flows(*unknowns, air, mode, numbers, row): the text; unknowns: each of its first parameters and the place
    of its unknown, several for a list; order: the variable of each flow, zero where none is assigned; name:
    of the kind, since compiled code is linked by it. Raises OutsideTheLanguage.
    """
    lists = {key: len(at) for key, at in unknowns.items() if not isinstance(at, int)}
    places: dict[str, int] = {}
    for key, at in unknowns.items():
        places |= {key: at} if isinstance(at, int) else {f"{key}_{i}": each for i, each in enumerate(at)}
    text = read_text(flows, lists)
    rest = ", ".join(text.parameters[len(places) :])
    module = Module(name)
    uses: tuple[tuple[int, ...], ...] = ()
    for slopes in (False, True):
        printer = Printer(module, text, places, slopes=slopes, zero=order)
        lines = [f"    {key} = y[{at}]" for key, at in places.items()] + printer.printed()
        uses = tuple(tuple(sorted(printer.uses.get(flow, ()))) for flow in order)
        known = [flow if flow in printer.uses else "0.0" for flow in order]
        lines += [f"    phi[{f}] = {flow}" for f, flow in enumerate(known)]
        if slopes:
            lines += [
                f"    slopes[{f}, {u}] = {ONE if flow in places else f'{flow}__{u}'}"
                for f, (flow, used) in enumerate(zip(known, uses, strict=True))
                for u in used
            ]
        label, out = ("slopes", "phi, slopes") if slopes else ("values", "phi")
        module.parts.append(f"def {label}_{name}(y, {rest}, {out}):\n" + "\n".join(lines) + "\n")
    module.parts.append(
        f"def fill_{name}(y, {rest}, want, phi, slopes):\n"
        f"    if want:\n        slopes_{name}(y, {rest}, phi, slopes)\n"
        f"    else:\n        values_{name}(y, {rest}, phi)\n"
    )
    head = f'"""Printed from {text.name} in {_shown(text.file)}; numbers behind # are its lines."""\n\n'
    printed = head + module.text()
    place = _kept(printed, name)
    space = _compiled(printed, place, module.space)
    fill = space[f"fill_{name}"]
    if numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        fill = _as_written(flows, unknowns, order, space[f"slopes_{name}"])
    return FlowKernel(fill, uses, printed, place)


ONE: Final = "1.0"


@dataclass(frozen=True)
class PrintedFunction:
    """A function of the language with its slopes.

    run(*arguments): gives its values and then their slopes; places: for each value, place of an argument to
    place of the slope in it.
    """

    run: Callable[..., tuple[float, ...]]
    places: tuple[Mapping[int, int], ...]
    text: str
    place: str


def with_slopes(function: Callable[..., Any], unknowns: Sequence[str], name: str) -> PrintedFunction:
    """Print and compile a function that is in the language, with its slopes in the named arguments."""
    module = Module(name)
    names = list(inspect.signature(plain(function)).parameters)
    printed = module.with_slopes(function, tuple(names.index(unknown) for unknown in unknowns))
    text = (
        f'"""Printed from {plain(function).__name__}; numbers behind # are its lines."""\n\n{module.text()}'
    )
    place = _kept(text, name)
    space = _compiled(text, place, module.space)
    return PrintedFunction(space[printed.name], tuple(printed.places), text, place)


def _shown(file: str) -> str:
    return file.rpartition("welkinwell/")[2] or file


def _kept(printed: str, name: str) -> str:
    """Write what was printed into the folder of compiled code; returns its path, or a name in memory."""
    folder = compile_cache.writable_folder()
    if folder is not None:
        path = folder / "texts" / f"{name}.py"
        try:
            if not path.exists() or path.read_text(encoding="utf-8") != printed:
                make_folder(path.parent)
                write_text(path, printed)
            return str(path)
        except (OSError, FileError):
            pass  # a full disk
    place = f"<flows of {name}, {IN_MEMORY}>"
    linecache.cache[place] = (len(printed), None, printed.splitlines(keepends=True), place)
    return place


def _compiled(printed: str, place: str, called: Mapping[str, Any]) -> dict[str, Any]:
    """Give the printed functions, each of them compiled when it is first called."""
    # a module that can be imported: what numba reads back from its cache is tied to it by this name
    space: dict[str, Any] = {**called, "math": math, "__name__": __name__}
    exec(compile(printed, place, "exec"), space)
    for key, value in list(space.items()):
        if inspect.isfunction(value) and value.__code__.co_filename == place:
            space[key] = njit(error_model="numpy")(value)
    return space


def _as_written(
    flows: Callable[..., None], unknowns: Unknowns, order: Sequence[str], slopes_too: Callable[..., None]
) -> Callable[..., None]:
    """Run the flow text itself, line by line in its own file, for a debugger."""
    run = with_locals(flows)

    def fill(y: Any, air: Any, mode: int, numbers: Any, row: Any, want: bool, phi: Any, slopes: Any) -> None:
        if want:
            slopes_too(y, air, mode, numbers, row, phi, slopes)
        given = [y[at] if isinstance(at, int) else [y[i] for i in at] for at in unknowns.values()]
        found = run(*given, air, mode, numbers, row)
        for f, key in enumerate(order):
            phi[f] = found.get(key, 0.0)

    return fill


def with_locals(flows: Callable[..., None]) -> Callable[..., dict[str, Any]]:
    """Give a function that runs the text and returns its variables, entries of lists by their own names.

    The lines keep their file and number, so that a breakpoint in the text is met.
    """
    return running_text(None, flows)


def running_text(tree: ast.Module | None, flows: Callable[..., None]) -> Callable[..., dict[str, Any]]:
    """Do as `with_locals`, with another tree in place of the text's own."""
    own = plain(flows)
    lines, first = inspect.getsourcelines(own)
    tree = ast.parse(textwrap.dedent("".join(lines))) if tree is None else tree
    function = tree.body[0]
    assert isinstance(function, ast.FunctionDef)
    function.decorator_list = []
    function.body += ast.parse("return locals()").body
    ast.increment_lineno(tree, first - 1)
    ast.fix_missing_locations(tree)
    space: dict[str, Any] = {}
    exec(compile(tree, inspect.getsourcefile(own) or "<text>", "exec"), own.__globals__, space)
    run = space[own.__name__]

    def with_entries(*given: Any) -> dict[str, Any]:
        found = run(*given)
        for key, value in list(found.items()):
            if isinstance(value, list):
                found |= {f"{key}_{i}": entry for i, entry in enumerate(value)}
        return found

    return with_entries
