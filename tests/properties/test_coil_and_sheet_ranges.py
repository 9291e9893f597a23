"""Designs drawn from the whole of their declared ranges: simulated, closed by the audit, finite."""

import numpy as np
import pytest

from box_cases import PLACES, site_of
from welkinwell.declare import declared_fields
from welkinwell.harvesters.cooling_coil.design import CoolingCoil
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.simulation import march_year, prepare
from welkinwell.year import Run, audited_balance

DAYS = 10
LEFT_ALONE = ("modules", "footprint_ratio", "field_multiplier")


def drawn(kind, rng):
    """Every second field at a value within its range, most of them even in the logarithm."""
    fields = {}
    for name, entry in declared_fields(kind).items():
        if name in LEFT_ALONE or rng.random() < 0.5:
            continue
        if entry.kind == "choice":
            fields[name] = str(rng.choice(list(entry.options)))
        elif entry.kind == "quantity":
            low = max(entry.low, 1e-4 * entry.high)
            fields[name] = float(np.exp(rng.uniform(np.log(low), np.log(entry.high))))
    return kind(**fields)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("kind", [CoolingCoil, DewCondenser])
def test_designs_from_all_their_ranges(kind, place):
    rng = np.random.default_rng(20 + PLACES.index(place))
    tried = 0
    while tried < 8:
        design = drawn(kind, rng)
        if design.cross_checks():
            continue
        tried += 1
        first = int(rng.integers(0, 365 - DAYS)) * 24
        ready = prepare(design, None, site_of(place))
        start, result = march_year(
            ready, tolerance=3e-3, record=True, first_hour=first, last_hour=first + 24 * DAYS
        )
        made = (ready.harvester, ready.design, None, ready.air, site_of(place).climate, start, result)
        audited_balance(Run(str(design), *made, "hours", "normal", True))  # raises where it does not close
        assert np.all(np.isfinite(result.flows))
        collected = result.flows[:, :, ready.harvester.kind.flow_number("collected")].sum()
        assert collected >= -1e-6 * max(abs(result.flows).max(), 1.0)
