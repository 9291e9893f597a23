"""A scalar kernel as a function of arrays, compiled when it is first called."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np


class ArrayFace:
    """A universal function over a scalar kernel: broadcasts over scalars, arrays, xarray and pandas.

    Compiled for float64 on the first call, so that importing a room stays cheap.
    """

    def __init__(self, kernel: Callable[..., Any]):
        self.kernel = kernel
        plain = getattr(kernel, "py_func", kernel)
        self.__name__ = plain.__name__
        self.__doc__ = plain.__doc__
        self.__module__ = plain.__module__
        self.__wrapped__ = plain
        self._ufunc: Any = None

    @property
    def ufunc(self) -> Any:
        """The NumPy universal function itself."""
        if self._ufunc is None:
            self._ufunc = _universal(self.kernel)
        return self._ufunc

    def __call__(self, *arguments: Any, **options: Any) -> Any:
        """Evaluate elementwise, broadcasting the arguments."""
        return self.ufunc(*arguments, **options)

    def __repr__(self) -> str:
        """Name the function."""
        return f"<array function {self.__module__}.{self.__name__}>"


def _universal(kernel: Callable[..., Any]) -> Any:
    """Compile; with NUMBA_DISABLE_JIT=1 step through plain Python instead."""
    import numba

    from welkinwell.compiled import universal

    plain = getattr(kernel, "py_func", kernel)
    count = plain.__code__.co_argcount
    if getattr(numba.config, "DISABLE_JIT", 0):
        return _PlainUniversal(np.frompyfunc(plain, count, 1))
    signature = f"float64({', '.join(['float64'] * count)})"
    return universal(plain, signature)


class _PlainUniversal:
    """frompyfunc gives objects; this gives floats."""

    def __init__(self, ufunc: Any):
        self.ufunc = ufunc

    def __call__(self, *arguments: Any) -> Any:
        result = self.ufunc(*arguments)
        return result.astype(float) if hasattr(result, "astype") else float(result)
