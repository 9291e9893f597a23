"""Small dense linear systems of the march, in place and without allocation."""

from __future__ import annotations

from welkinwell.compiled import njit


@njit(cache=True)
def factorise(M, n):
    """Overwrite an n x n matrix with its LU factors; rows are not exchanged.

    The rows of a march are balances: each column is dominated by its own stock, so the natural order is
    stable (tested against a pivoted solve). Pivots are stored inverted.
    """
    for k in range(n):
        pivot = 1.0 / M[k, k]
        M[k, k] = pivot
        for i in range(k + 1, n):
            f = M[i, k] * pivot
            M[i, k] = f
            for j in range(k + 1, n):
                M[i, j] -= f * M[k, j]


@njit(cache=True)
def substitute(M, b, n):
    """Overwrite a right-hand side with the solution, from the factors of `factorise`."""
    for i in range(1, n):
        s = b[i]
        for j in range(i):
            s -= M[i, j] * b[j]
        b[i] = s
    for i in range(n - 1, -1, -1):
        s = b[i]
        for j in range(i + 1, n):
            s -= M[i, j] * b[j]
        b[i] = s * M[i, i]
