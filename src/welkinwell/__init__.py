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
    "ActiveBed": "welkinwell.harvesters.active_bed.design",
    "CoolingCoil": "welkinwell.harvesters.cooling_coil.design",
    "DewCondenser": "welkinwell.harvesters.dew_condenser.design",
    "Hybrid": "welkinwell.harvesters.hybrid.design",
    "LiquidDesiccant": "welkinwell.harvesters.liquid_desiccant.design",
    "DesiccantWheel": "welkinwell.harvesters.desiccant_wheel.design",
    "PassiveBox": "welkinwell.harvesters.passive_box.design",
    "TwoStageBox": "welkinwell.harvesters.two_stage_box.design",
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

__all__ = [*sorted(_HOMES), *_ROOMS]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    """Import a public name from its home, and keep it: every access gives the same object."""
    if name in _HOMES:
        found = globals()[name] = getattr(importlib.import_module(_HOMES[name]), name)
        return found
    if name in _ROOMS:
        return importlib.import_module(f"welkinwell.{name}")
    raise AttributeError(f"module 'welkinwell' has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
