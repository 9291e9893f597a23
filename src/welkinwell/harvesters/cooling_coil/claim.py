"""How a claim of a cooling coil is read."""

from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.claimed import COOLING, WORDS, ClaimedKind, Condition, Notes, Option
from welkinwell.harvesters.cooling_coil.design import CoolingCoil

RECOVERY: Final = 0.6  # effectiveness of a coil's air-to-air exchanger (common practice, no source)
SHARES_OF_CARNOT: Final = (0.25, 0.55)  # of a compressor, lowest and highest (common practice, no source)


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> CoolingCoil:
    usual = CoolingCoil()
    cooling = claim.cooling
    if cooling == "not stated":
        cooling = usual.cooling
        notes.assumed.append("a compressor")
    if cooling == "vapour_compression":
        notes.assumed.append(f"{100.0 * usual.second_law:.0f} % of Carnot's performance")
    return replace(usual, cooling=cooling, recovery=RECOVERY if claim.heat_recovery else 0.0)


def _conditions(claim: Any, like: Any) -> list[Condition | None]:
    found: list[Condition | None] = []
    if like.design.cooling == "vapour_compression":
        options = tuple(
            Option(f"{100.0 * share:.0f} %", claim, changes={"second_law": share})
            for share in SHARES_OF_CARNOT
        )
        found.append(Condition("share of Carnot's performance", options))
    if claim.cooling == "not stated":
        option = Option("thermoelectric modules", replace(claim, cooling="thermoelectric"))
        found.append(Condition("what makes the cold", (option,)))
    if not claim.heat_recovery:
        option = Option(f"{100.0 * RECOVERY:.0f} % of the way", replace(claim, heat_recovery=True))
        found.append(Condition(WORDS["heat_recovery"], (option,)))
    return found


def _more_than_stated(claim: Any) -> bool:
    return claim.sun is not None and claim.cooling == "not stated"


CLAIMED: Final = ClaimedKind(_make, _conditions, way=COOLING, more_than_stated=_more_than_stated)
