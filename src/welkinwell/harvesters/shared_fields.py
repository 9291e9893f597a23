"""Fields that the designs of several kinds have, each declared once: kinds state what differs of theirs.

    tilt: float = again(shared.tilt, default=25.0)

A default or a range is that of the kind which is listed first with the field.
"""

from __future__ import annotations

from welkinwell.declare import choice, count, flag, quantity
from welkinwell.harvesters.facing import FACINGS

# Modules and mounting
modules = count("How many equal modules stand at the site", default=1, low=1, high=100000)
aperture_area = quantity(
    "m2", "Glazed area of one module that takes the sun", default=2.0, low=0.01, high=100.0
)
face_area = quantity(
    "m2", "Face of one module's bed, through which the air goes", default=0.1, low=1e-4, high=100.0
)
footprint_ratio = quantity(
    "1", "Ground taken per aperture, spacing included", default=1.5, low=0.5, high=10.0
)
tilt = quantity("deg", "Slope of the aperture from horizontal", default=30.0, low=0.0, high=90.0)
facing = choice(FACINGS, "Where the aperture looks", default="equator")

# Cover
glazing_thickness = quantity("mm", "Thickness of the glass", default=3.2, low=0.5, high=20.0)
glazing_extinction = quantity(
    "1/m",
    "Extinction of the glass (low-iron about 4, window glass 16 to 32)",
    default=4.0,
    low=0.0,
    high=100.0,
)
glazing_refractive_index = quantity(
    "1", "Refractive index of the cover", default=1.526, low=1.0, high=2.5, low_open=True
)
glazing_emissivity = quantity("1", "Thermal emissivity of the glass", default=0.88, low=0.05, high=1.0)
front_gap = quantity("mm", "Air gap between glass and absorber", default=60.0, low=2.0, high=500.0)
front_insulation = quantity(
    "1",
    "Share of the heat through the front gap's air that is left (1: air; less with a transparent"
    " insulation of aerogel or honeycomb, near 0 in a vacuum)",
    default=1.0,
    low=0.0,
    high=1.0,
)
glazing_holdup = quantity(
    "kg/m2", "Water that stays on wetted glass before it runs", default=0.08, low=0.001, high=1.0
)
wet_glass_loss = quantity(
    "1", "Share of the sunlight that fully wetted glass takes away", default=0.09, low=0.0, high=0.5
)
soiling = quantity("1", "Share of the sunlight lost to dust on the glass", default=0.03, low=0.0, high=0.5)

# Absorber, bed and layer
absorber_absorptance = quantity("1", "Solar absorptance of the absorber", default=0.95, low=0.1, high=1.0)
absorber_emissivity = quantity(
    "1", "Thermal emissivity of the absorber towards the glass", default=0.15, low=0.02, high=1.0
)
bed_metal = quantity("kg/m2", "Metal of absorber and fins per aperture", default=3.0, low=0.2, high=100.0)
bed_metal_specific_heat = quantity(
    "J/(kg K)", "Specific heat of that metal (aluminium 900)", default=900.0, low=100.0, high=2000.0
)
sorbent_mass = quantity("kg/m2", "Dry sorbent per aperture", default=8.0, low=0.01, high=200.0)
layer_thickness = quantity("mm", "Thickness of the sorbent layer", default=3.0, low=0.05, high=100.0)
bed_area = quantity("1", "Area of sorbent layer per aperture (fins count)", default=4.0, low=0.1, high=50.0)
bed_effectiveness = quantity(
    "1", "Share of the layer's area that works as if freely exposed", default=0.6, low=0.01, high=1.0
)
open_faces = count("Faces of the layer that meet the open air at night (1 or 2)", default=1, low=1, high=2)
channel_shape = choice(("plates", "round", "square", "triangle"), "Shape of the channels", default="plates")
channel_size = quantity(
    "mm", "Hydraulic diameter of the channels (twice the gap of plates)", default=3.0, low=0.1, high=50.0
)
channel_share = quantity("1", "Share of the face that is channel", default=0.5, low=0.05, high=0.98)
coating_thickness = quantity(
    "mm", "Thickness of the sorbent on the channels' walls", default=0.5, low=0.005, high=20.0
)
bed_air_volume = quantity(
    "m3/m2", "Air that stays with the bed at a switch, per face", default=0.05, low=0.002, high=2.0
)

# Closed spaces: gap, leak, vent
gap_circulation = choice(
    ("stratified", "inclined"),
    "What moves vapour down to a condenser below the bed: conduction only, or the slow circulation"
    " of a tilted gap too",
    default="stratified",
)
gap_air_volume = quantity(
    "m3/m2", "Air in the closed vapour space per aperture", default=0.15, low=0.002, high=2.0
)
leak = quantity("1/h", "Air changes of the closed vapour space", default=0.5, low=0.0, high=50.0)
vent_temperature = quantity(
    "degC",
    "Bed temperature at which the over-temperature vent begins to open; when not given, 5 K below the"
    " sorbent's service temperature, and at most 120 degC for the sake of seals and hands",
    default=None,
    low=40.0,
    high=300.0,
)
vent_air_changes = quantity(
    "1/h", "Air changes with the over-temperature vent fully open", default=200.0, low=0.0, high=2000.0
)
open_ventilation = quantity(
    "1/h", "Air changes of the vapour space while open", default=200.0, low=1.0, high=5000.0
)
loop_air_volume = quantity("m3/m2", "Air in condenser and ducts, per face", default=0.1, low=0.01, high=5.0)
edge_loss = quantity(
    "W/(m2 K)", "Heat lost through edges and back per aperture", default=0.6, low=0.0, high=20.0
)

# Condenser
condenser_mass = quantity("kg/m2", "Mass of the condenser per aperture", default=6.0, low=0.1, high=200.0)
condenser_specific_heat = quantity(
    "J/(kg K)", "Specific heat of the condenser (aluminium 900)", default=900.0, low=100.0, high=4500.0
)
condenser_outer_area = quantity(
    "1", "Outer, finned area of the condenser per aperture", default=3.0, low=0.05, high=50.0
)
condenser_fin_efficiency = quantity("1", "Fin efficiency of the outer area", default=0.85, low=0.05, high=1.0)
condenser_emissivity = quantity(
    "1", "Thermal emissivity of the condenser's outside", default=0.85, low=0.02, high=1.0
)
condenser_sky_view = quantity(
    "1", "Share of the condenser's outside view that is sky", default=0.07, low=0.0, high=1.0
)
condenser_stray_sun = quantity(
    "1",
    "Sun that the condenser absorbs, as a share of the sun on the aperture",
    default=0.03,
    low=0.0,
    high=1.0,
)
condenser_holdup = quantity(
    "kg/m2", "Water that stays on one m2 of condenser before it runs", default=0.08, low=0.001, high=1.0
)
holdup = quantity(
    "kg/m2",
    "Water that stays on one m2 of plate or condenser before it runs",
    default=0.08,
    low=0.001,
    high=1.0,
)
condenser_area = quantity(
    "1", "Condensing area towards the release air, per face", default=15.0, low=0.05, high=500.0
)
condenser_coefficient = quantity(
    "W/(m2 K)", "From the moving release air to that area", default=25.0, low=1.0, high=200.0
)
condenser_conductance = quantity(
    "W/(m2 K)",
    "From the condenser to the outdoor air with its fan on, per face",
    default=400.0,
    low=0.1,
    high=1e5,
)
condenser_still_share = quantity("1", "Share of that with the fan off", default=0.1, low=0.001, high=1.0)
condenser_fan_power = quantity(
    "W/m2", "Electricity of the condenser's fan, per face", default=50.0, low=0.0, high=1e4
)
condenser_heat = quantity(
    "J/(m2 K)",
    "Heat capacity of condenser and refrigerant (or hot plate) per face of the coil",
    default=15000.0,
    low=500.0,
    high=500000.0,
)

# Air, fans and control
face_velocity = quantity(
    "m/s", "Velocity of the outdoor air at the bed's face during uptake", default=0.25, low=0.0, high=5.0
)
housing_pressure = quantity(
    "Pa", "Pressure drop of filter, ducts and dampers during uptake", default=50.0, low=0.0, high=5000.0
)
loop_pressure = quantity(
    "Pa", "Pressure drop of condenser, heater and ducts of the loop", default=80.0, low=0.0, high=5000.0
)
fan_efficiency = quantity("1", "Efficiency of fan and motor together", default=0.35, low=0.02, high=0.85)
control_power = quantity(
    "W", "Electricity of control and dampers of one module, always on", default=2.0, low=0.0, high=1000.0
)

# Heat
heat_by = choice(
    ("resistance", "solar", "waste_heat", "heat_pump"), "What heats the bed", default="resistance"
)
heating_power = quantity(
    "W/m2", "Heat of the resistance or the heat pump, per face", default=4000.0, low=0.0, high=1e6
)
heat_recovery = quantity(
    "1",
    "Share of the way to the leaving air's temperature by which that air warms the air before the bed",
    default=0.5,
    low=0.0,
    high=0.95,
)
heat_conductance = quantity(
    "W/(m2 K)",
    "From the heating fluid to the bed, per face (solar, waste heat)",
    default=300.0,
    low=1.0,
    high=1e5,
)
heat_pump_source = choice(
    ("outdoor_air", "condenser"), "Where the heat pump takes its heat", default="outdoor_air"
)
second_law_efficiency = quantity(
    "1", "Performance of the heat pump over a reversible one", default=0.4, low=0.05, high=0.8
)
heat_pump_approach = quantity(
    "K", "Refrigerant beyond what it heats and what it cools", default=6.0, low=0.0, high=40.0
)

# Wind
wind_constant = quantity(
    "W/(m2 K)", "Surface coefficient in still air at sea level", default=2.8, low=0.5, high=20.0
)
wind_slope = quantity(
    "W s/(m3 K)", "Rise of that coefficient per m/s of wind at sea level", default=3.0, low=0.0, high=20.0
)
device_height = quantity("m", "Height of the device above ground", default=2.0, low=0.1, high=100.0)
terrain = choice(("open", "suburb", "city"), "Ground around the device", default="open")
shelter = quantity("1", "Wind at the device over the free wind at its height", default=0.5, low=0.0, high=1.0)

# Operation
operation = choice(
    ("sun", "clock", "pressure"),
    "When the box opens: below a sun threshold, by the clock, or when the bed can take up vapour",
    default="sun",
)
close_above = quantity(
    "W/m2", "Sun on the aperture above which the box is closed", default=30.0, low=0.0, high=500.0
)
open_at = quantity("h", "Local standard time at which the clock opens", default=18.0, low=0.0, high=24.0)
close_at = quantity("h", "Local standard time at which the clock closes", default=7.0, low=0.0, high=24.0)
dwell = quantity(
    "min", "Shortest time between two moves of the pressure rule", default=30.0, low=1.0, high=720.0
)
closed_in_rain = flag("Whether the box stays closed in hours with rain", default=True)
