"""How a claim of a radiative dew condenser is read."""

from typing import Any, Final

from welkinwell.harvesters.claimed import DEW, ClaimedKind, Notes
from welkinwell.harvesters.dew_condenser.design import DewCondenser


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> DewCondenser:
    notes.assumed.append("nights as warm and as damp as the air that is stated, under a clear sky")
    return DewCondenser()


CLAIMED: Final = ClaimedKind(_make, way=DEW, passive=True, under_the_sky=True, aperture=True)
