"""Arrays without owners, inside compiled code."""

from __future__ import annotations

from typing import Any

from numba.core import cgutils, types
from numba.extending import intrinsic


def _borrowed(typing_context: Any, arrays: Any) -> Any:
    """Return the same arrays without their owners, so that nothing is spent on counting references.

    arrays: a tuple of arrays and numbers, named or not. Counting took a quarter of a march's time. What is
    returned is good while the caller of the compiled function holds the arrays.
    """

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        entries = []
        for i, kind in enumerate(signature.args[0].types):
            entry = builder.extract_value(args[0], i)
            if isinstance(kind, types.Array):
                view = context.make_array(kind)(context, builder, value=entry)
                view.meminfo = cgutils.get_null_value(view.meminfo.type)
                view.parent = cgutils.get_null_value(view.parent.type)
                entry = view._getvalue()
            entries.append(entry)
        return context.make_tuple(builder, signature.return_type, entries)

    return arrays(arrays), generate


borrowed: Any = intrinsic(_borrowed)
