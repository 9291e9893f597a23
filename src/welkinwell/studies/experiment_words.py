"""The words in which a published experiment is written down: kinds, figures and conditions with their units.

A condition is declared once, as in declare.py, so that its name, unit and believable range are checked.
A kind of harvester that is built already takes the fields of its own declared class besides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from welkinwell.declare import Declared, choice, count, declared_fields, flag, quantity
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.published import published

QUANTITIES: Final[Mapping[str, tuple[str, str]]] = {
    "litres_per_m2_day": ("L/(m2 day)", "water collected per area of absorber or aperture and day"),
    "litres_per_kg_swing": ("L/kg", "water that one swing moves per kg of dry sorbent"),
    "litres_per_kg_day": ("L/(kg day)", "water collected per kg of dry sorbent and day"),
    "litres_per_day": ("L/day", "water collected by the whole device in a day"),
    "grams_per_day": ("g/day", "water collected by the whole device in a day"),
    "grams_per_hour": ("g/h", "water collected by the whole device in an hour"),
    "gain_over_one_stage": ("1", "litres of two stages over those of one, less one"),
    "thermal_efficiency": ("1", "latent heat of the water over the sun on the aperture"),
    "hours_to_saturation": ("h", "time from the start of uptake until no more is taken up"),
    "kwh_per_litre": ("kWh/L", "electricity per litre"),
    "kwh_heat_per_kg_released": ("kWh/kg", "energy for release per kg of water that leaves the bed"),
    "share_of_vapour_captured": ("1", "water collected over the vapour in the air that passes"),
    "gain_over_reference": ("1", "litres per kWh over those of the plain arrangement"),
    "mm_total": ("mm", "dew collected in the whole period"),
    "mm_per_year": ("mm/a", "dew collected in a mean year"),
    "mm_per_dew_night": ("mm", "mean dew of the nights that gave any"),
    "mm_best_night": ("mm", "dew of the best night"),
    "share_of_dew_nights": ("1", "nights that gave dew over all nights"),
    "grams_per_m2_hour": ("g/(m2 h)", "dew per area and hour"),
    "removal_ratio": ("1", "water removed at one regeneration temperature over that at another"),
    "removal_efficiency": ("1", "fall of the humidity ratio over that of the air that comes in"),
    "kg_captured_per_m2_day": ("kg/(m2 day)", "vapour taken up by the brine per area and day"),
}

# What the weather of a test must state, by the form in which it is given to the simulation.
WEATHER: Final[Mapping[str, tuple[str, ...]]] = {
    "equilibrium": ("air_temperature", "relative_humidity", "release_temperature"),
    "steady": ("air_temperature", "relative_humidity"),
    "repeated_day": (
        "lowest_air_temperature",
        "daily_temperature_swing",
        "night_relative_humidity",
        "sun_per_day",
        "wind_speed",
        "cloud_cover",
        "latitude",
        "day_of_year",
        "elevation",
    ),
    "nights": (
        "nights",
        "night_length",
        "night_temperature_mean",
        "night_temperature_spread",
        "night_relative_humidity_mean",
        "night_relative_humidity_spread",
        "wind_speed",
        "cloud_cover",
        "share_of_rainy_nights",
    ),
}


@dataclass(frozen=True)
class Conditions:
    """Every condition of a test that is no field of a declared kind."""

    # Air, sun and sky
    air_temperature: float = quantity("degC", "Air temperature", low=-30.0, high=60.0)
    relative_humidity: float = quantity("1", "Relative humidity of the air", low=0.0, high=1.0)
    lowest_air_temperature: float = quantity("degC", "Coolest hour of the day", low=-30.0, high=50.0)
    daily_temperature_swing: float = quantity("K", "Warmest hour over the coolest", low=0.0, high=35.0)
    night_relative_humidity: float = quantity(
        "1", "Relative humidity at the coolest hour; vapour pressure is held all day", low=0.0, high=1.0
    )
    sun_per_day: float = quantity("kWh/m2", "Sun on the aperture in a day", low=0.5, high=10.0)
    wind_speed: float = quantity("m/s", "Mean wind at 10 m, or at the surface indoors", low=0.0, high=15.0)
    cloud_cover: float = quantity("1", "Mean share of the sky under cloud", low=0.0, high=1.0)
    latitude: float = quantity("deg", "Latitude, north positive", low=-70.0, high=70.0)
    day_of_year: int = count("Day of the year", low=1, high=366)
    elevation: float = quantity("m", "Height above the sea", low=-430.0, high=6000.0)
    nights: int = count("Nights of the record", low=1, high=4000)
    night_length: float = quantity("h", "Hours in which the sheet can cool", low=4.0, high=24.0)
    night_temperature_mean: float = quantity("degC", "Mean air temperature at night", low=-20.0, high=40.0)
    night_temperature_spread: float = quantity(
        "K", "Standard deviation of the nights' temperatures", low=0.0, high=15.0
    )
    night_relative_humidity_mean: float = quantity("1", "Mean relative humidity at night", low=0.05, high=1.0)
    night_relative_humidity_spread: float = quantity(
        "1", "Standard deviation of the nights' relative humidities", low=0.0, high=0.4
    )
    share_of_rainy_nights: float = quantity("1", "Share of nights lost to rain", low=0.0, high=0.9)

    # Beds
    dry_sorbent: float = quantity("kg", "Dry sorbent in the device", low=1e-4, high=1e4)
    inert_mass_ratio: float = quantity(
        "1", "Metal, binder and filler that is heated along, per mass of dry sorbent", low=0.0, high=30.0
    )
    inert_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of that inert mass", low=100.0, high=4500.0
    )
    bed_depth: float = quantity("mm", "Depth of the bed along the air's way", low=0.1, high=2000.0)
    grain_size: float = quantity("mm", "Size of the grains", low=0.01, high=20.0)
    coating_thickness: float = quantity("mm", "Thickness of the sorbent on its carrier", low=0.005, high=20.0)
    channel_size: float = quantity("mm", "Hydraulic diameter of the air's channels", low=0.1, high=200.0)
    air_flow: float = quantity("m3/h", "Air through bed, coil or wheel", low=0.01, high=1e5)
    air_flow_per_sorbent: float = quantity(
        "m3/(h kg)", "Air through the bed per kg of dry sorbent", low=0.1, high=1e4
    )
    uptake_length: float = quantity("min", "Length of the uptake part of a cycle", low=0.5, high=1440.0)
    release_length: float = quantity("min", "Length of the release part of a cycle", low=0.5, high=1440.0)
    release_temperature: float = quantity("degC", "Bed temperature at release", low=20.0, high=300.0)
    condenser_above_air: float = quantity("K", "Condenser over the air", low=-30.0, high=50.0)
    air_loop: str = choice(("closed", "open"), "Whether the release air goes round")
    heat_recovery: float = quantity("1", "Effectiveness of the heat recovery", low=0.0, high=0.95)
    fan_pressure: float = quantity("Pa", "Pressure that the fan overcomes", low=0.0, high=5000.0)
    fan_efficiency: float = quantity("1", "Total efficiency of the fan", low=0.01, high=0.9)
    second_stage: bool = flag("Whether the first condenser heats a second bed")
    batches_per_day: int = count("Batches released one after another by day", low=1, high=50)

    # Heat pumps, coils and thermoelectric modules
    electric_power: float = quantity("W", "Electric power of the whole device", low=0.01, high=1e6)
    fan_power: float = quantity("W", "Electric power of the fans", low=0.0, high=1e5)
    second_law_efficiency: float = quantity(
        "1", "Coefficient of performance over that of a reversible machine", low=0.02, high=0.8
    )
    evaporator_approach: float = quantity(
        "K", "Coil surface over evaporating refrigerant", low=0.5, high=25.0
    )
    condenser_approach: float = quantity("K", "Condensing refrigerant over its air", low=1.0, high=40.0)
    cooled_below_air: float = quantity("K", "Sorbent at uptake below the air", low=0.0, high=40.0)
    bypass_factor: float = quantity("1", "Share of the air that passes the coil unchanged", low=0.0, high=0.7)
    condenser_air: str = choice(("outdoor", "coil outlet"), "Air that cools the condenser")
    lowest_coil_temperature: float = quantity("degC", "Frost limit of the coil surface", low=-20.0, high=15.0)
    thermoelectric_modules: int = count("Thermoelectric modules", low=1, high=100)
    module_figure_of_merit: float = quantity("1/K", "Figure of merit of the module", low=1e-4, high=0.01)
    module_conductance: float = quantity("W/K", "Heat conductance of one module", low=0.01, high=5.0)
    cold_side_conductance: float = quantity(
        "W/K", "Dry heat conductance from the air to one module's cold face", low=0.001, high=50.0
    )
    hot_side_conductance: float = quantity(
        "W/K", "Heat conductance from one module's hot face to its sink", low=0.05, high=200.0
    )

    # Radiative sheets
    sheet_area: float = quantity("m2", "Condensing area", low=0.001, high=1e5)
    sheet_tilt: float = quantity("deg", "Slope of the sheet from horizontal", low=0.0, high=90.0)
    sheet_emissivity: float = quantity("1", "Thermal emissivity of the sheet", low=0.05, high=1.0)
    sheet_sky_view: float = quantity("1", "Share of the sheet's view that is open sky", low=0.1, high=1.0)
    sheet_holdup: float = quantity("kg/m2", "Water that stays on the sheet", low=0.0, high=0.5)
    sheet_shelter: float = quantity("1", "Wind at the sheet over the free wind", low=0.0, high=1.5)
    back_conductance: float = quantity(
        "W/(m2 K)", "Conductance of the insulation behind the sheet", low=0.0, high=20.0
    )
    surface_coefficient: float = quantity(
        "W/(m2 K)", "Surface coefficient at a sheet that is sheltered from wind", low=0.5, high=50.0
    )

    # Wheels
    wheel_depth: float = quantity("mm", "Depth of the wheel", low=10.0, high=1000.0)
    wheel_revolutions: float = quantity("1/h", "Turns of the wheel", low=0.5, high=200.0)
    face_velocity: float = quantity("m/s", "Velocity at the face of wheel or coil", low=0.05, high=6.0)
    regeneration_air_ratio: float = quantity("1", "Regeneration air over process air", low=0.05, high=5.0)
    reference_release_temperature: float = quantity(
        "degC", "Regeneration temperature that the ratio refers to", low=20.0, high=300.0
    )

    # Brines
    brine_salt_share: float = quantity("1", "Salt in the brine by mass", low=0.05, high=0.7)
    brine_above_air: float = quantity("K", "Brine over the air", low=-20.0, high=60.0)
    membrane_share: float = quantity(
        "1", "Resistance of a membrane to vapour over that of the air film", low=0.0, high=20.0
    )
    surface_length: float = quantity("m", "Length of the surface along the wind", low=0.005, high=100.0)


@lru_cache(maxsize=1)
def condition_words() -> dict[str, Declared]:
    """Return every condition by its name."""
    return declared_fields(Conditions)


@lru_cache(maxsize=16)
def design_words(kind: str) -> dict[str, Declared]:
    """Return what a design of a kind may state: the fields of its declared class, and the conditions."""
    stated = kind in KINDS and published(kind).own_words
    own = declared_fields(KINDS[kind].load()) if stated else {}
    return {**condition_words(), **own}
