"""The parts list of a plant: areas and masses of what has to be bought."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from welkinwell.quantities import plain
from welkinwell.supply.cost import OwnPower

GLASS_DENSITY: Final = 2500.0  # kg/m3, soda-lime glass; handbook value, from memory
MACHINE_MASS: Final = 20.0  # kg a module: case, fans, dampers, control of a machine; judgement, no source
FRAME_MASS: Final = 10.0  # kg per m2 of aperture: case, insulation, seals; judgement, no source
SHEET_FRAME_MASS: Final = 3.0  # kg per m2 of dew sheet: foam and frame; judgement, no source
ALUMINIUM_HEAT: Final = 900.0  # J/(kg K)
TANK_MASS: Final = 0.03  # kg of plastic per litre of tank; judgement, no source
BY_HEAT: Final = ("aluminium", "mass from its heat capacity, as aluminium")


@dataclass(frozen=True)
class Part:
    """One line: area [m2] and mass [kg] of all modules together; material: key of the carbon factors."""

    name: str
    number: int
    area: float | None
    mass: float | None
    material: str
    remark: str = ""


def parts_list(
    design: Mapping[str, Any],
    area: float,
    modules: int,
    tank_litres: float,
    own_power: OwnPower | None = None,
) -> list[Part]:
    """List what a plant is made of, from the fields of its design per m2 of its basis.

    design: by field, SI; what a kind does not have is left out; area: basis (aperture, face,
    sheet) of all modules [m2]; modules [1]; tank_litres: volume of the tank, 0 without one [L]; own_power:
    its own electricity.
    """
    found = []
    thickness = design.get("glazing_thickness")
    if thickness:
        found.append(
            Part("Glass", modules, area, area * thickness * GLASS_DENSITY, "glass", f"{1e3 * thickness:g} mm")
        )
    bed = design.get("bed_area")
    if design.get("bed_metal"):
        found.append(
            Part("Metal of absorber, bed and fins", modules, None, area * design["bed_metal"], "aluminium")
        )
    if design.get("sorbent_mass"):
        layer = design.get("layer_thickness")
        remark = f"layer of {1e3 * layer:g} mm" if layer else ""
        layer_area = area * bed if bed else None
        found.append(
            Part("Dry sorbent", modules, layer_area, area * design["sorbent_mass"], "sorbent", remark)
        )
    if design.get("condenser_mass"):
        outer = design.get("condenser_outer_area")
        found.append(
            Part(
                "Condenser", modules, area * outer if outer else None, area * design["condenser_mass"],
                "aluminium", "area: outer side with fins" if outer else "",
            )
        )  # fmt: skip
    found += _of_kind(design, area, modules)
    found += _collector_and_air(design, area, modules)
    if design.get("sheet_mass"):
        words = f"{SHEET_FRAME_MASS:g} kg/m² assumed, no source"
        found.append(Part("Insulation and frame", modules, None, area * SHEET_FRAME_MASS, "frame", words))
    elif thickness:
        words = f"{FRAME_MASS:g} kg/m² assumed, no source"
        found.append(Part("Case, insulation, seals", modules, None, area * FRAME_MASS, "frame", words))
    else:
        words = f"{MACHINE_MASS:g} kg each assumed, no source"
        found.append(Part("Case, fans, control", modules, None, modules * MACHINE_MASS, "frame", words))
    if tank_litres > 0.0:
        found.append(Part("Tank", 1, None, tank_litres * TANK_MASS, "tank", f"{tank_litres:g} L, empty"))
    if own_power is not None:
        peak = f"{plain(own_power.peak)} kW peak, mass not counted"
        found += [
            Part("Solar modules", 1, own_power.area, None, "", peak),
            Part("Battery", 1, None, None, "", f"{plain(own_power.battery)} kWh, mass not counted"),
            Part("Inverter", 1, None, None, "", f"{plain(own_power.inverter)} kW"),
        ]
    return found


def _of_kind(design: Mapping[str, Any], area: float, modules: int) -> list[Part]:
    """List what only some kinds have: sheet, coil, machine, wheel, solution, radiator."""
    listed = _Listed(area, modules)
    if design.get("sheet_mass"):
        listed.add("Sheet", 1.0, design["sheet_mass"], "frame")
    if design.get("fin_area"):
        _add_machine(listed, design)
    if design.get("plate_metal"):
        listed.add("Plate between the stages", None, design["plate_metal"], "aluminium")
    if design.get("wheel_substrate"):
        listed.add("Carrier of the wheel", None, design["wheel_substrate"], "frame")
    if design.get("salt_mass"):
        _add_solution(listed, design)
    if design.get("radiator_area"):
        _add_radiator(listed, design)
    return listed.parts


class _Listed:
    """Parts of a field of modules, written down from their sizes per m2 of basis."""

    def __init__(self, area: float, modules: int):
        self.area, self.modules = area, modules
        self.parts: list[Part] = []

    def add(
        self, name: str, per_area: float | None, mass: float | None, material: str, remark: str = ""
    ) -> None:
        """Add a part: its own area [m2/m2] and mass [kg/m2], where they are known."""
        amount = self.area * per_area if per_area else None
        weight = self.area * mass if mass else None
        self.parts.append(Part(name, self.modules, amount, weight, material, remark))


def _add_machine(listed: _Listed, design: Mapping[str, Any]) -> None:
    listed.add("Coil: fins and tubes", design["fin_area"], design["fin_heat"] / ALUMINIUM_HEAT, *BY_HEAT)
    listed.add("Heat rejection", None, design["condenser_heat"] / ALUMINIUM_HEAT, *BY_HEAT)
    if design.get("cooling") == "thermoelectric":
        watts = design["module_conductance"] * listed.area
        listed.add("Thermoelectric modules", None, None, "", f"{plain(watts)} W/K of conductance in all")
    else:
        kilowatts = design["rated_capacity"] * listed.area / 1000.0
        said = f"{plain(kilowatts)} kW of cold in all, {design['refrigerant']}"
        listed.add("Compressor", None, None, "", said)


def _add_solution(listed: _Listed, design: Mapping[str, Any]) -> None:
    listed.add("Dry salt", None, design["salt_mass"], "sorbent")
    listed.add(f"Absorber ({design['absorber']})", design["absorber_area"], None, "", "mass not counted")
    litres = 1000.0 * design["store_volume"] * listed.area
    tank = 1000.0 * design["store_volume"] * TANK_MASS
    listed.add("Tank of the solution", None, tank, "tank", f"{litres:,.0f} L in all, empty")
    listed.add("Pump", None, None, "", "for solution: no bare metal")
    if design.get("condenser") == "separate":
        listed.add("Condenser", design["condenser_outer_area"], None, "", "area: outer side with fins")


def _add_radiator(listed: _Listed, design: Mapping[str, Any]) -> None:
    listed.add("Condenser", design["condenser_area"], design["condenser_heat"] / ALUMINIUM_HEAT, *BY_HEAT)
    plate = design["radiator_area"] * design["radiator_heat"] / ALUMINIUM_HEAT
    listed.add("Night radiator", design["radiator_area"], plate, *BY_HEAT)
    if design.get("top_up") != "none":
        name = "Heat pump" if design.get("top_up") == "heat_pump" else "Resistance heater"
        said = f"{design['top_up_power'] * listed.area:,.0f} W of electricity in all"
        listed.add(name, None, None, "", said)


def _collector_and_air(design: Mapping[str, Any], area: float, modules: int) -> list[Part]:
    """List the collector, heating and air flow of a machine, where it has them."""
    found = []
    if design.get("heat_by") == "solar" and design.get("collector_area"):
        found.append(
            Part("Solar collector", modules, area * design["collector_area"], None, "", "mass not counted")
        )
    if design.get("heat_by") in ("resistance", "heat_pump") and design.get("heating_power"):
        kilowatts = area * design["heating_power"] / 1000.0
        found.append(Part("Heating", modules, None, None, "", f"{plain(kilowatts)} kW of heat in all"))
    flow = 3600.0 * area * (design.get("face_velocity") or design.get("open_airflow") or 0.0)
    if design.get("absorber_air") == "fan":
        flow = 3600.0 * area * design["fan_flow"]
    if flow > 0.0:
        found.append(Part("Fan", modules, None, None, "", f"{flow:,.0f} m³/h of air in all"))
    return found


def masses_by_material(parts: list[Part]) -> dict[str, float]:
    """Add up the masses of a parts list by material, without the sorbent [kg]."""
    found: dict[str, float] = {}
    for part in parts:
        if part.mass and part.material != "sorbent":
            found[part.material] = found.get(part.material, 0.0) + part.mass
    return found
