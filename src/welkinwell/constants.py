"""Physical constants, each with its source. SI units."""

from typing import Final

GAS_CONSTANT: Final = 8.314462618  # J/(mol K), CODATA 2018, exact in the 2019 SI
STEFAN_BOLTZMANN: Final = 5.670374419e-8  # W/(m2 K4), CODATA 2018
GRAVITY: Final = 9.80665  # m/s2, standard gravity (CGPM 1901)

WATER_MOLAR_MASS: Final = 0.018015268  # kg/mol, IAPWS
DRY_AIR_MOLAR_MASS: Final = 0.028966  # kg/mol, ASHRAE RP-1485
WATER_GAS_CONSTANT: Final = GAS_CONSTANT / WATER_MOLAR_MASS  # J/(kg K)
DRY_AIR_GAS_CONSTANT: Final = GAS_CONSTANT / DRY_AIR_MOLAR_MASS  # J/(kg K)
MOLAR_MASS_RATIO: Final = WATER_MOLAR_MASS / DRY_AIR_MOLAR_MASS  # water over dry air

FREEZING_POINT: Final = 273.15  # K, at one atmosphere; also the zero of every enthalpy here
TRIPLE_POINT: Final = 273.16  # K, IAPWS
STANDARD_PRESSURE: Final = 101325.0  # Pa

# Caloric data of the heat balances: constant specific heats, so that the latent heat is linear in
# temperature and every node shares one enthalpy surface. 2500.9 - 2.370 t kJ/kg is within 0.05 % of
# IAPWS-95 from 0 to 60 C and 0.3 % at 100 C; the vapour value is the one that gives that slope.
LATENT_HEAT_AT_FREEZING: Final = 2.5009e6  # J/kg
LIQUID_SPECIFIC_HEAT: Final = 4186.0  # J/(kg K)
VAPOUR_SPECIFIC_HEAT: Final = LIQUID_SPECIFIC_HEAT - 2370.0  # J/(kg K)
FUSION_HEAT: Final = 3.336e5  # J/kg, IAPWS R10-06 at the melting point
DRY_AIR_SPECIFIC_HEAT: Final = 1006.0  # J/(kg K), ASHRAE Fundamentals 2017, ch. 1

DAYS_IN_MONTH: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)  # of a year without a leap day
