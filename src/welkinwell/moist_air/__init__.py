"""Moist air and water: saturation, humidity, transport, altitude.

The functions named here take scalars, arrays, xarray or pandas objects alike (universal functions over
float64). Kernels that other compiled code calls live in the modules under the same names.
"""

from __future__ import annotations

from welkinwell.moist_air import altitude as _altitude
from welkinwell.moist_air import humidity as _humidity
from welkinwell.moist_air import liquid_water as _liquid_water
from welkinwell.moist_air import saturation as _saturation
from welkinwell.moist_air import transport as _transport
from welkinwell.moist_air.array_face import ArrayFace

saturation_pressure = ArrayFace(_saturation.saturation_pressure)
saturation_pressure_slope = ArrayFace(_saturation.saturation_pressure_slope)
ice_saturation_pressure = ArrayFace(_saturation.ice_saturation_pressure)
ice_saturation_pressure_slope = ArrayFace(_saturation.ice_saturation_pressure_slope)
latent_heat = ArrayFace(_saturation.latent_heat)
sublimation_heat = ArrayFace(_saturation.sublimation_heat)
dew_point_from_pressure = ArrayFace(_saturation.dew_point_from_pressure)
frost_point_from_pressure = ArrayFace(_saturation.frost_point_from_pressure)
enhancement_factor = ArrayFace(_saturation.enhancement_factor)

vapour_pressure = ArrayFace(_humidity.vapour_pressure)
vapour_pressure_from_ratio = ArrayFace(_humidity.vapour_pressure_from_ratio)
humidity_ratio = ArrayFace(_humidity.humidity_ratio)
humidity_ratio_from_pressure = ArrayFace(_humidity.humidity_ratio_from_pressure)
enhanced_humidity_ratio = ArrayFace(_humidity.enhanced_humidity_ratio)
relative_humidity = ArrayFace(_humidity.relative_humidity)
enhanced_relative_humidity = ArrayFace(_humidity.enhanced_relative_humidity)
humidity_from_dew_point = ArrayFace(_humidity.humidity_from_dew_point)
dew_point = ArrayFace(_humidity.dew_point)
enhanced_dew_point = ArrayFace(_humidity.enhanced_dew_point)
frost_point = ArrayFace(_humidity.frost_point)
wet_bulb = ArrayFace(_humidity.wet_bulb)
enhanced_wet_bulb = ArrayFace(_humidity.enhanced_wet_bulb)
ice_bulb = ArrayFace(_humidity.ice_bulb)
enthalpy = ArrayFace(_humidity.enthalpy)
temperature_from_enthalpy = ArrayFace(_humidity.temperature_from_enthalpy)
density = ArrayFace(_humidity.density)
vapour_density = ArrayFace(_humidity.vapour_density)

viscosity = ArrayFace(_transport.viscosity)
conductivity = ArrayFace(_transport.conductivity)
vapour_diffusivity = ArrayFace(_transport.vapour_diffusivity)
specific_heat = ArrayFace(_transport.specific_heat)
thermal_diffusivity = ArrayFace(_transport.thermal_diffusivity)

liquid_density = ArrayFace(_liquid_water.liquid_density)
liquid_specific_heat = ArrayFace(_liquid_water.liquid_specific_heat)
liquid_viscosity = ArrayFace(_liquid_water.liquid_viscosity)
liquid_conductivity = ArrayFace(_liquid_water.liquid_conductivity)

pressure_at_altitude = ArrayFace(_altitude.pressure_at_altitude)
altitude_at_pressure = ArrayFace(_altitude.altitude_at_pressure)
carried_pressure = ArrayFace(_altitude.carried_pressure)

__all__ = [name for name, value in list(globals().items()) if isinstance(value, ArrayFace)]
