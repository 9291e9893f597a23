"""What holds the litres back: cases where one step limits by construction."""

from dataclasses import replace

import numpy as np
import pytest

from box_cases import SILICA, site_of
from welkinwell.declare import check
from welkinwell.errors import SolverError
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.easings import POWER_CUTS, REASONS
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.power_cuts import with_power_cuts
from welkinwell.harvesters.study import study_of
from welkinwell.report.tables import LEAST_GAIN, limits_in_words
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies import limiting
from welkinwell.studies.limiting import limit_by_month, limiting_steps
from welkinwell.year import figures

KEYS = [one.key for one in study_of("passive_box").easings]


def gains(design, material=None):
    material = material or sorbent(SILICA)
    site = site_of("coast")
    year = simulate(design, material, site, keep="months", accuracy="fast", audit=False)
    base = figures(year)
    relaxed = limiting_steps(design, material, site)
    named = limit_by_month(relaxed, np.array(base["litres_by_month"]))
    return {one.key: one.litres_per_day / base["litres_per_day"] for one in relaxed}, named


def test_every_easing_has_a_reason_and_an_allowed_design():
    of_kinds = {kind: {one.key for one in study_of(kind).easings} for kind in KINDS}
    assert set().union(*of_kinds.values()) | {POWER_CUTS} == set(REASONS)
    assert all(set(study_of(kind).reasons) <= of_kinds[kind] for kind in KINDS)
    for one in study_of("passive_box").easings:
        design, _ = one.change(PassiveBox(vent_temperature=368.15), sorbent(SILICA))
        check(design)
        assert design != PassiveBox(vent_temperature=368.15) or one.key == "kinetics"


@pytest.mark.parametrize(
    ("limit", "fields"),
    [
        ("sorbent", {"sorbent_mass": 0.8, "layer_thickness": 3e-4}),
        ("losses", {"leak": 20.0 / 3600.0}),
        ("heat", {"edge_loss": 12.0, "absorber_emissivity": 0.95}),
        ("gap", {"rear_gap": 0.4}),
        ("condenser", {"condenser_outer_area": 0.3, "condenser_emissivity": 0.1}),
    ],
)
def test_what_was_made_scarce_is_found_to_limit(limit, fields):
    """A bed a tenth as heavy, a box that leaks 20 air changes an hour, one that loses its heat, one with a
    still gap of 40 cm, one with next to no condenser outside."""
    found, named = gains(replace(PassiveBox(), **fields))
    print(limit, {key: round(value, 3) for key, value in found.items()})
    assert max(found, key=found.get) == limit
    assert found[limit] > 1.1
    assert sum(key == limit for key, _ in named) >= 8


def test_slow_grains_limit():
    slow = replace(sorbent(SILICA), row=sorbent(SILICA).adjusted_row(rate_factor=0.003))
    found, _ = gains(PassiveBox(), slow)
    assert max(found, key=found.get) == "kinetics"


def test_gains_by_month_by_hand():
    """Litres 10 in every month; relaxing one gives 11, another 9 and in May 15: 0.1 and 0.5 gained."""
    from welkinwell.studies.limiting import EasedStep

    first = EasedStep("air", "", "", 1.0, np.full(12, 11.0))
    second = EasedStep("gap", "", "", 1.0, np.where(np.arange(12) == 4, 15.0, 9.0))
    named = limit_by_month([first, second], np.full(12, 10.0))
    assert named[0] == ("air", pytest.approx(0.1))
    assert named[4] == ("gap", pytest.approx(0.5))


SCARCE = {
    "active_bed": ("air_blown", {"face_velocity": 0.01, "operation": "clock"}),
    "cooling_coil": ("rejection", {"condenser_conductance": 300.0, "condenser_air_ratio": 0.5}),
    "desiccant_wheel": ("release_heat", {"heating_power": 2000.0, "operation": "clock", "open_at": 72000.0}),
    "dew_condenser": ("back", {"back_loss": 20.0}),
    "hybrid": ("air", {"open_airflow": 3.0 / 3600.0}),
    "liquid_desiccant": ("air", {"absorber_area": 0.1}),
    "passive_box": ("losses", {"leak": 20.0 / 3600.0}),
    "two_stage_box": ("sorbent", {"sorbent_mass": 3.0, "bed_area": 2.0}),
}


def named_by_month(kind, fields, cut=None):
    """What limits a design of a kind in each month, and which months have water."""
    site = site_of("coast")
    if cut is not None:
        site = replace(site, climate=with_power_cuts(site.climate, np.isin(np.arange(8760) % 24, cut)))
    sheet = "licl_brine" if kind == "liquid_desiccant" else SILICA
    material = sorbent(sheet) if KINDS[kind].takes_sorbent else None
    design = replace(KINDS[kind].load()(), **fields)
    year = simulate(design, material, site, keep="months", accuracy="fast", audit=False)
    litres = np.array(figures(year)["litres_by_month"])
    relaxed = limiting_steps(design, material, site)
    return limit_by_month(relaxed, litres), litres, [one.key for one in relaxed]


@pytest.mark.parametrize("kind", SCARCE)
def test_every_kind_names_what_limits_each_month(kind):
    """A kind with one thing made scarce: it is named, in words, in every month or nearly so."""
    assert set(SCARCE) == set(KINDS)
    wanted, fields = SCARCE[kind]
    named, litres, keys = named_by_month(kind, fields)
    print(kind, [(key, round(gain, 3)) for key, gain in named])
    assert POWER_CUTS not in keys
    assert sum(key == wanted for key, _ in named) >= 8
    assert all(gain > LEAST_GAIN for (_, gain), water in zip(named, litres, strict=True) if water > 0.0)
    assert study_of(kind).why()[wanted] in " ".join(limits_in_words(named, kind))


@pytest.mark.parametrize("kind", ["cooling_coil", "hybrid", "liquid_desiccant"])
def test_power_cuts_are_named_where_they_limit(kind):
    """No electricity in all but two hours of the day."""
    cut = [h for h in range(24) if h not in (3, 4)]
    named, _, keys = named_by_month(kind, {}, cut)
    print(kind, [(key, round(gain, 3)) for key, gain in named])
    assert keys[-1] == POWER_CUTS
    assert sum(key == POWER_CUTS for key, _ in named) >= 8
    assert "no electricity" in " ".join(limits_in_words(named, kind))


def test_kinds_without_electricity_meet_no_power_cuts():
    _, _, keys = named_by_month("dew_condenser", {}, range(24))
    assert POWER_CUTS not in keys


def test_a_step_that_cannot_be_eased_is_left_out_and_named(monkeypatch):
    site, usual = site_of("tropics"), limiting.simulate

    def stops(design, *arguments, **options):
        if design.back_loss == 0.0:
            raise SolverError("it stopped")
        return usual(design, *arguments, **options)

    monkeypatch.setattr(limiting, "simulate", stops)
    found = limiting.limiting_steps(DewCondenser(), None, site)
    assert "back" not in {one.key for one in found} and len(found) == 4
    assert "heat from behind" in limiting.not_eased(found, "dew_condenser")
    monkeypatch.setattr(limiting, "simulate", lambda *a, **k: stops(replace(a[0], back_loss=0.0)))
    with pytest.raises(SolverError, match="no step could be eased"):
        limiting.limiting_steps(DewCondenser(), None, site)
