"""Heat pumps against Carnot by hand, a worked machine, and reference equations of state."""

import pytest
from CoolProp.CoolProp import PropsSI

from welkinwell.parts.heat_pump import (
    CLEARANCE,
    EXPANSION,
    LEAST_LIFT,
    REFRIGERANTS,
    capacity_constant,
    cooling_cop,
    heating_cop,
    lift,
    swept_capacity,
)

ZERO = 273.15
RATING = (5.0 + ZERO, 45.0 + ZERO)


def test_performance_of_a_worked_machine():
    """Coil at 10 C, evaporating 5 K below, air of 30 C, condensing 12 K above, 40 % of Carnot: 3.01 (computed
    in the apparatus-dew-point method's worked line)."""
    assert cooling_cop(5.0 + ZERO, 42.0 + ZERO, 0.40) == pytest.approx(3.01, abs=0.005)


@pytest.mark.parametrize(("cold", "hot", "cop"), [(-4.0, 22.0, 4.14), (-4.0, 47.0, 2.11), (18.0, 42.0, 4.85)])
def test_performance_of_a_computed_map(cold, hot, cop):
    """Three lines of a computed map: evaporating 5 K below the coil, condensing 12 K above the air."""
    assert cooling_cop(cold + ZERO, hot + ZERO, 0.40) == pytest.approx(cop, abs=0.01)


def test_what_is_taken_and_the_work_are_given():
    assert heating_cop(280.0, 320.0, 0.5) == pytest.approx(1.0 + cooling_cop(280.0, 320.0, 0.5))
    assert cooling_cop(280.0, 320.0, 1.0) == pytest.approx(7.0)  # Carnot: 280/40


def test_no_lift_asks_for_the_least():
    assert lift(300.0, 290.0) == LEAST_LIFT
    assert lift(300.0, 330.0) == pytest.approx(30.0)


def referee(name, cold, hot):
    """Suction density, filling and refrigerating effect from the reference equation of state."""
    ratio = PropsSI("P", "T", hot, "Q", 1, name) / PropsSI("P", "T", cold, "Q", 1, name)
    filling = 1.0 + CLEARANCE - CLEARANCE * ratio ** (1.0 / EXPANSION)
    effect = PropsSI("H", "T", cold, "Q", 1, name) - PropsSI("H", "T", hot, "Q", 0, name)
    return PropsSI("D", "T", cold, "Q", 1, name) * filling * effect


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_capacity_against_equations_of_state(name):
    """Relative to 5/45 C, from -10 to 20 C and 30 to 60 C. Four numbers a refrigerant leave up to 8 %: most
    of it is the compressibility of dense vapour (R32 is the densest)."""
    constant = capacity_constant(1.0, *RATING, REFRIGERANTS[name])
    worst = 0.0
    for cold in (-10.0, 0.0, 10.0, 20.0):
        for hot in (30.0, 45.0, 60.0):
            found = constant * swept_capacity(cold + ZERO, hot + ZERO, *REFRIGERANTS[name])
            right = referee(name, cold + ZERO, hot + ZERO) / referee(name, *RATING)
            worst = max(worst, abs(found / right - 1.0))
    print(f"{name}: {worst:.3f}")
    assert worst < 0.08


def test_capacity_stays_positive_and_smooth_far_outside():
    for cold in (150.0, 230.0, 300.0, 450.0):
        for hot in (150.0, 300.0, 350.0, 450.0):
            assert swept_capacity(cold, hot, *REFRIGERANTS["R134a"]) > 0.0
