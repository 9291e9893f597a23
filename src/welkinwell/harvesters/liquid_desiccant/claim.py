"""How a claim of a liquid desiccant is read."""

from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.claimed import ClaimedKind, Notes, claimed_mass
from welkinwell.harvesters.liquid_desiccant import BRINES
from welkinwell.harvesters.liquid_desiccant.design import LiquidDesiccant
from welkinwell.quantities import as_text


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> LiquidDesiccant:
    usual = LiquidDesiccant()
    kilograms = claimed_mass(claim, usual.sorbent_mass, usual.footprint_ratio, mass, notes)
    found = replace(
        usual,
        salt_mass=kilograms,
        still_salt=min(usual.still_salt, 0.5 * kilograms),
        store_volume=usual.store_volume * (kilograms / usual.salt_mass),
    )
    if claim.heat_by != "waste_heat" and claim.heat is None:
        return found
    found = replace(found, regenerator="heated_film", operation="clock")
    if claim.heat_temperature is not None:
        return replace(found, heat_temperature=claim.heat_temperature)
    notes.assumed.append(f"heat at {as_text(found.heat_temperature, 'degC')}")
    return found


def _sun_drives(design: LiquidDesiccant) -> bool:
    return design.regenerator == "solar_still"


CLAIMED: Final = ClaimedKind(
    _make,
    sorbents=("licl_brine", "cacl2_brine"),
    family=BRINES,
    sun_driven=True,
    under_the_sky=True,
    aperture=True,
    sun_drives=_sun_drives,
)
