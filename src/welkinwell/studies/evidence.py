"""What measured days say about a model whose errors are partly shared by all of them.

The difference r of measured from modelled values has the covariance

    C = diag(s_i^2) + U U'

with the scatter s_i of each value and, in the columns of U, what one standard deviation of each uncertainty
that all days share does to them: an instrument's offset, a coefficient of the model. By the identity of
Sherman1950 for several columns, r' C^-1 r = r' D r - v' (I + U' D U)^-1 v with D = diag(1 / s_i^2) and v = U'
D r. The same terms give the shared uncertainties themselves: (I + U' D U)^-1 v, with the covariance (I + U' D
U)^-1 (one step of Gauss and Newton).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Evidence:
    """Measured values and what is uncertain about them; make it with `evidence_of`.

    names: quantities in their order; use: values that both sides have, shape (days x quantities,); measured,
    scatter: shape (n,) of those used, each in its quantity's unit; shared: shape (n, uncertainties).
    """

    names: tuple[str, ...]
    use: NDArray[np.bool_]
    measured: Floats
    scatter: Floats
    shared: Floats

    @property
    def count(self) -> int:
        """How many values count."""
        return int(self.use.sum())

    def raised(self, by: Mapping[str, float]) -> Evidence:
        """The same evidence with the scatter of each quantity multiplied."""
        length = self.use.size // len(self.names)
        factors = np.repeat([by[name] for name in self.names], length)[self.use]
        return replace(self, scatter=self.scatter * factors)

    def misfit(self, expected: Mapping[str, Floats]) -> float:
        """Squared differences weighed by the inverse of their covariance [1]."""
        r = self._difference(expected)
        v = self._weighted @ r
        return float((r * r / self.scatter**2).sum() - v @ self.covariance @ v)

    def shares(self, expected: Mapping[str, Floats]) -> Floats:
        """The shared uncertainties, in standard deviations from before, shape (uncertainties,)."""
        return self.covariance @ (self._weighted @ self._difference(expected))

    @cached_property
    def covariance(self) -> Floats:
        """Covariance of the shared uncertainties once the values are known; one at most on the diagonal."""
        return np.asarray(
            np.linalg.inv(np.eye(self.shared.shape[1]) + self._weighted @ self.shared), dtype=np.float64
        )

    def left(self, expected: Mapping[str, Floats]) -> dict[str, Floats]:
        """Differences in units of scatter once the shared uncertainties are taken out, nan where unused."""
        r = self._difference(expected) - self.shared @ self.shares(expected)
        whole = np.full(self.use.size, np.nan)
        whole[self.use] = r / self.scatter
        return dict(zip(self.names, whole.reshape(len(self.names), -1), strict=True))

    @cached_property
    def _weighted(self) -> Floats:
        return self.shared.T / self.scatter**2

    def _difference(self, expected: Mapping[str, Floats]) -> Floats:
        return self.measured - np.concatenate([expected[name] for name in self.names])[self.use]


def evidence_of(
    measured: Mapping[str, Floats],
    expected: Mapping[str, Floats],
    scatter: Mapping[str, Floats],
    shared: Sequence[Mapping[str, Floats]],
) -> Evidence:
    """Bring measured days, a model's, and their uncertainties together.

    measured, expected, scatter: quantity to values by day, shape (days,), nan where unknown; shared: for each
    shared uncertainty, what one standard deviation does to each quantity; a quantity that it leaves out is
    not touched.
    """
    names = tuple(measured)
    use = np.concatenate([np.isfinite(measured[name]) & np.isfinite(expected[name]) for name in names])

    def stacked(of: Mapping[str, Floats]) -> Floats:
        return np.concatenate([of.get(name, np.zeros_like(measured[name])) for name in names])[use]

    columns = np.column_stack([stacked(one) for one in shared])
    return Evidence(names, use, stacked(measured), stacked(scatter), columns)
