"""welkinwell: from a site and a demand to a water-from-air design that can be defended.

    import welkinwell as ww
    climate = ww.read_climate("weather.epw")
    year = ww.simulate(ww.PassiveBox(), ww.sorbent("silica_gel_regular_density"), climate)
    print(ww.figures(year)["litres_per_m2_day"])

Names are resolved on first use, so that importing the package stays quick.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from welkinwell.answer import answer_case as answer_case
    from welkinwell.case import read_case as read_case
    from welkinwell.climate import read_climate as read_climate
    from welkinwell.climate.survey import survey as survey
    from welkinwell.harvesters.active_bed.design import ActiveBed as ActiveBed
    from welkinwell.harvesters.air import surroundings as surroundings
    from welkinwell.harvesters.cooling_coil.design import CoolingCoil as CoolingCoil
    from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel as DesiccantWheel
    from welkinwell.harvesters.dew_condenser.design import DewCondenser as DewCondenser
    from welkinwell.harvesters.hybrid.design import Hybrid as Hybrid
    from welkinwell.harvesters.liquid_desiccant.design import LiquidDesiccant as LiquidDesiccant
    from welkinwell.harvesters.passive_box.design import PassiveBox as PassiveBox
    from welkinwell.harvesters.two_stage_box.design import TwoStageBox as TwoStageBox
    from welkinwell.simulation import simulate as simulate
    from welkinwell.sorbents.sorbent import sheet_names as sheet_names
    from welkinwell.sorbents.sorbent import sorbent as sorbent
    from welkinwell.year import figures as figures
    from welkinwell.year import load_year as load_year
    from welkinwell.year import save_year as save_year

_HOMES = {
    "answer_case": "welkinwell.answer",
    "figures": "welkinwell.year",
    "load_year": "welkinwell.year",
    "read_case": "welkinwell.case",
    "read_climate": "welkinwell.climate",
    "save_year": "welkinwell.year",
    "sheet_names": "welkinwell.sorbents.sorbent",
    "simulate": "welkinwell.simulation",
    "sorbent": "welkinwell.sorbents.sorbent",
    "surroundings": "welkinwell.harvesters.air",
    "survey": "welkinwell.climate.survey",
}
_ROOMS = ("moist_air", "constants", "errors")


def _designs() -> dict[str, str]:
    """Classes of the kinds' designs, and their homes."""
    from welkinwell.harvesters.kinds import KINDS

    return {kind.design: f"{kind.package}.design" for kind in KINDS.values()}


def __getattr__(name: str) -> Any:
    """Import a public name from its home, and keep it: every access gives the same object."""
    if name == "__all__":
        return [*sorted({*_HOMES, *_designs()}), *_ROOMS]
    if name in _ROOMS:
        return importlib.import_module(f"welkinwell.{name}")
    home = _HOMES.get(name) or (None if name.startswith("_") else _designs().get(name))
    if home is not None:
        found = globals()[name] = getattr(importlib.import_module(home), name)
        return found
    raise AttributeError(f"module 'welkinwell' has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__getattr__("__all__"))
