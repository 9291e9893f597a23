"""numba's compilers, with machine code kept by the content of the source (see `compile_cache`).

    @njit(cache=True)
    def kernel(x): ...

numba itself names the folder of kept code by the source's absolute path, so that no other clone of the same
text could use it. Functions of other packages are kept where numba keeps them.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from filelock import FileLock
from numba.core.caching import CacheImpl, FunctionCache

from welkinwell import compile_cache


class _ByContent:
    """Where numba keeps a function of this package: in the folder of its content, by module and line."""

    def __init__(self, place: Path, py_file: str, line: int):
        self._py_file = py_file  # numba's messages name it
        self._place = place
        self._line = line

    @classmethod
    def from_function(cls, py_func: Any, py_file: str) -> _ByContent | None:
        """Claim a function of this package, where a folder can be written."""
        root = compile_cache.writable_folder()
        room = Path(py_file).parent
        if root is None or not room.is_relative_to(compile_cache.PACKAGE):
            return None
        own = cls(root / room.relative_to(compile_cache.PACKAGE), py_file, py_func.__code__.co_firstlineno)
        own.ensure_cache_path()
        return own

    def ensure_cache_path(self) -> None:
        self._place.mkdir(parents=True, exist_ok=True)

    def get_cache_path(self) -> str:
        return str(self._place)

    def get_source_stamp(self) -> str:
        return compile_cache.source_stamp()

    def get_disambiguator(self) -> str:
        return str(self._line)


_locators: list[Any] = CacheImpl._locator_classes
_locators.insert(0, _ByContent)


class _SharedCache(FunctionCache):
    """Kept code that several processes may save at once, and that a full disk only leaves unsaved."""

    def save_overload(self, sig: Any, data: Any) -> None:
        place = compile_cache.writable_folder()
        with contextlib.suppress(OSError), FileLock(f"{place}/saving.lock", is_singleton=True):
            super().save_overload(sig, data)


def njit(function: Callable | None = None, *, cache: bool = False, **options: Any) -> Any:
    """Compile as numba's njit does; with cache, what is compiled is kept by content.

    With NUMBA_DISABLE_JIT=1 the function itself is given back.
    """

    def compile_later(plain: Callable) -> Any:
        dispatcher = numba.njit(**options)(plain)
        if cache and hasattr(dispatcher, "py_func") and compile_cache.writable_folder() is not None:
            dispatcher._cache = _SharedCache(plain)
        return dispatcher

    return compile_later if function is None else compile_later(function)


def universal(plain: Callable, signature: str) -> Any:
    """Compile a scalar function to a NumPy universal function, kept by content.

    signature: as numba writes it, `float64(float64)` say.
    """
    ufunc = numba.vectorize(nopython=True)(plain)
    if compile_cache.writable_folder() is not None:
        ufunc._dispatcher.cache = _SharedCache(plain)
    ufunc.add(signature)
    ufunc.disable_compile()
    return ufunc


def generalised(plain: Callable, signature: str, layout: str) -> Any:
    """Compile a function over rows to a generalised universal function, kept by content.

    signature, layout: as numba writes them, `void(float64[:], float64[:])` and `(n)->()` say.
    """
    kept = compile_cache.writable_folder() is not None
    try:
        return numba.guvectorize([signature], layout, nopython=True, cache=kept)(plain)
    except OSError:  # a full disk
        return numba.guvectorize([signature], layout, nopython=True)(plain)
