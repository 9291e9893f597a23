"""The year's Dataset: its names, its sums, its figures worked out by hand, and that nothing changes it."""

import json
from functools import cache
from importlib import resources

import numpy as np
import pytest
import xarray as xr

from box_cases import OPTIONS, SILICA, box, site_of
from welkinwell.errors import FileError
from welkinwell.quantities import scale, variables
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import (
    DAYS_IN_MONTH,
    daily,
    figures,
    load_year,
    monthly,
    save_year,
    water_account,
)

HOURLY_SUMS = ("water_collected", "water_run_off", "water_condensed", "collected", "glazing_drained")
MODULES = {"modules": 9, "aperture_area": 2.0, "footprint_ratio": 1.6}


@cache
def year(keep="hours", option="starter"):
    return simulate(box(**MODULES, **OPTIONS[option]), sorbent(SILICA), site_of("coast"), keep=keep)


@pytest.mark.parametrize("keep", ["hours", "months", "year"])
def test_a_name_not_in_the_table_does_not_leave_the_room(keep):
    table = variables()
    for name, variable in year(keep).data_vars.items():
        assert name in table, f"{name} is not in quantities.toml"
        row = table[name]
        if name != "loading":  # kg/kg, a plain number in the table
            given, stated = scale(variable.attrs["units"]), scale(row.unit)
            assert (given.factor, given.dimensions) == (stated.factor, stated.dimensions), name
        assert variable.attrs["long_name"]
        low, high = float(variable.min()), float(variable.max())
        # an hour's sum of a flow that ends within it may fall short of zero by the step control's error
        slack = 1e-3 if name in HOURLY_SUMS else 1e-9 * max(abs(row.low), abs(row.high))
        assert row.low - slack <= low <= high <= row.high + slack, f"{name}: {low} to {high}"
    for name in figures(year()):
        # figures of one number are in the table too, but for those made of others
        assert name in table or name == "balance"


@pytest.mark.parametrize("option", ["starter", "both above"])
def test_hours_months_and_year_add_up_to_the_same(option):
    hours, months, whole = (year(keep, option) for keep in ("hours", "months", "year"))
    seconds = np.array(DAYS_IN_MONTH) * 86400.0
    for name, variable in hours.data_vars.items():
        if name not in months:
            continue
        if variable.attrs["units"] in ("kg/m2", "J/m2"):
            if name.startswith("water_") and name not in ("water_collected", "water_leaked", "water_vented"):
                continue  # positive parts of a bucket: finer buckets see more of both
            sums = [float(y[name].sum()) for y in (hours, months, whole)]
        elif name == "open_share":
            continue
        else:
            sums = [
                float(hours[name].sum() * 3600.0),
                float((months[name].values * seconds).sum()),
                float(whole[name].values[0] * 365 * 86400.0),
            ]
        size = max(float(np.abs(variable.values).sum()), 1e-12)
        size = size if variable.attrs["units"] in ("kg/m2", "J/m2") else size * 3600.0
        assert sums[1] == pytest.approx(sums[0], abs=1e-9 * size), name
        assert sums[2] == pytest.approx(sums[0], abs=1e-9 * size), name


def test_figures_by_hand():
    data, found = year(), figures(year())
    collected = float((data["collected"] + data["glazing_drained"]).sum()) * 3600.0  # kg/m2 in the year
    assert found["litres_per_m2_day"] == pytest.approx(collected / 365.0, rel=1e-12)
    assert found["litres_per_day"] == pytest.approx(collected * 18.0 / 365.0, rel=1e-12)
    assert found["litres_per_m2_footprint_day"] == pytest.approx(collected / 365.0 / 1.6, rel=1e-12)
    assert found["litres_per_kg_day"] == pytest.approx(collected / 365.0 / 8.0, rel=1e-12)
    sun = float(data["sun_on_plane"].sum()) * 3600.0 / 3.6e6  # kWh/m2
    assert found["sun_kwh_per_litre"] == pytest.approx(sun / collected, rel=1e-12)
    assert found["latent_efficiency"] == pytest.approx(
        collected * 2453.5e3 / 3.6e6 / sun, rel=1e-9
    )  # 2453.5 kJ/kg at 20 C, IAPWS-95
    assert found["electricity_kwh_per_litre"] == 0.0
    condensed = sum(
        np.maximum(data[name].values, 0.0).sum() * 3600.0
        for name in ("condensation", "glazing_condensation", "air_to_condenser", "air_to_glazing")
    )
    assert found["litres_condensed_per_day"] == pytest.approx(condensed * 18.0 / 365.0, rel=1e-12)
    assert found["litres_condensed_per_day"] >= found["litres_per_day"]
    json.dumps(found, allow_nan=False)


def test_heat_per_litre_is_what_the_closed_bed_got():
    """While closed every watt of the four flows counts; an hour that is part open counts its closed part, so
    the figure lies between the sums over fully closed hours and over all hours with any closed time."""
    data = year()
    net = (
        data["sun_absorber"] - data["cover_radiation"] - data["cover_convection"] - data["edge_loss"]
    ).values * 3600.0
    closed = data["open_share"].values == 0.0
    mixed = (data["open_share"].values > 0.0) & (data["open_share"].values < 1.0)
    slack = np.abs(net[mixed]).sum()
    assert float(data["release_heat"].sum()) == pytest.approx(net[closed].sum(), abs=2.0 * slack)
    assert np.allclose(data["release_heat"].values[closed], net[closed], rtol=1e-9)


def test_litres_by_month_add_up_to_the_year():
    for keep in ("hours", "months"):
        found = figures(year(keep))
        assert len(found["litres_by_month"]) == 12
        assert sum(found["litres_by_month"]) == pytest.approx(found["litres_per_day"] * 365.0, rel=1e-9)
    assert figures(year("hours"))["litres_by_month"] == pytest.approx(
        figures(year("months"))["litres_by_month"], rel=1e-9
    )
    assert daily(year(), "water_collected").sum() == pytest.approx(
        monthly(year(), "water_collected").sum(), rel=1e-12
    )


@pytest.mark.parametrize("option", ["starter", "both above", "inclined, steep"])
def test_the_water_account_closes(option):
    """What was taken up was collected, lost or kept; kept is what stocks gained: under a month's litres."""
    account = water_account(year(option=option))
    parts = sum(value for name, value in account.items() if name != "water_taken_up")
    assert parts == pytest.approx(account["water_taken_up"], rel=1e-12)
    assert abs(account["water_kept"]) < 8.0
    assert all(value >= -1e-6 for name, value in account.items() if name != "water_kept")


def test_the_heat_account_is_the_sum_of_its_paths():
    """The bed's books over the year: sun in, and out to cover, condenser, edges, night air and sorption."""
    data = year()
    paths = [name for name in data.data_vars if data[name].attrs["units"] == "W/m2"]
    account = {name: float(data[name].sum()) * 3600.0 for name in paths}
    rest = account["sun_absorber"]
    for name in ("cover_radiation", "cover_convection", "rear_radiation", "rear_convection", "edge_loss"):
        rest -= account[name]
    rest -= account["bed_convection"]
    # what is left is the heat of the vapour itself: from the bed with the vapour that it gives off to the
    # gap, 2.573 MJ/kg (latent heat at 0 C and 40 K of vapour), to the bed with what it takes from the air
    vapour = float((data["air_to_bed"] + data["gap_to_bed"]).sum()) * 3600.0 * (2.5009e6 + 1816.0 * 40.0)
    vapour += float(data["air_vapour_to_bed"].sum()) * 3600.0
    rest -= float((data["leak_heat_bed"] + data["bed_longwave"] + data["bed_runoff_heat"]).sum()) * 3600.0
    assert rest + vapour == pytest.approx(0.0, abs=2e-4 * account["sun_absorber"])


def test_the_year_cannot_be_changed():
    data = year()
    with pytest.raises(ValueError, match="read-only"):
        data["water_collected"].values[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        data["bed_temperature"].values += 1.0


def test_a_year_saved_and_loaded_is_the_same(tmp_path):
    path = tmp_path / "year.nc"
    save_year(year(), path)
    again = load_year(path)
    xr.testing.assert_identical(again.load(), year())
    assert figures(again) == figures(year())


def test_another_file_is_refused_by_name(tmp_path):
    other = tmp_path / "other.nc"
    xr.Dataset({"a": ("x", [1.0])}).to_netcdf(other, engine="h5netcdf")
    with pytest.raises(FileError, match="schema_version"):
        load_year(other)
    with pytest.raises(FileError, match="no such file"):
        load_year(tmp_path / "missing.nc")


def test_it_says_what_made_it():
    attributes = year().attrs
    assert attributes["sorbent"] == SILICA
    assert attributes["weather_hash"] == site_of("coast").climate.attrs["content_hash"]
    assert json.loads(attributes["design"])["modules"] == 9
    cited = json.loads(attributes["citations"])
    bibliography = resources.files("welkinwell").joinpath("sources.bib").read_text(encoding="utf-8")
    assert [key for key in cited if f"{{{key}," not in bibliography] == []
    assert len(set(cited)) == len(cited)


def test_shares_outside_the_measured_range_are_counted():
    attributes = year().attrs
    for name in ("hours_outside_temperature_range", "water_outside_temperature_range"):
        assert 0.0 <= attributes[name] <= 1.0
    T = year()["bed_temperature"].values
    low, high = sorbent(SILICA).temperature_range
    assert attributes["hours_outside_temperature_range"] == pytest.approx(
        np.mean((low - 0.5 > T) | (high + 0.5 < T))
    )
    assert attributes["highest_bed_temperature"] >= T.max()
