"""The result of a simulated year: one immutable Dataset with names, units, balance and provenance.

Per m2 of aperture and in SI; sums over the bucket (hour, month or year) where the unit has no "per second".
`figures(year)` gives the numbers that people read, one definition each (docs/glossary.md).
"""

from __future__ import annotations

import importlib.metadata
import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT, LATENT_HEAT_AT_FREEZING
from welkinwell.errors import FileError, Problem, SolverError
from welkinwell.harvesters.air import PRESSURE, SUN_PLANE, TEMPERATURE, VAPOUR_PRESSURE, WIND, AirRecord
from welkinwell.harvesters.harvester import Kind
from welkinwell.harvesters.passive_box import PassiveBox
from welkinwell.harvesters.passive_box_audit import audited_flows, audited_stocks, boundary
from welkinwell.limits.least_work import least_work, solar_exergy_factor
from welkinwell.moist_air import saturation_pressure
from welkinwell.numerics.balance import Balance, balance, recomputed_flows
from welkinwell.numerics.march import MarchResult, MarchState
from welkinwell.sorbents.sorbent import Sorbent

SCHEMA_VERSION: Final = 1
REFERENCE_LATENT_HEAT: Final = 2.4535e6  # J/kg at 20 C (IAPWS-95), for the latent efficiency
BALANCE_LIMIT: Final = 1e-9  # relative; a year that does not close to this is not returned
FLOW_LIMIT: Final = 1e-4  # relative; above the noise of the outsider, far below any wrong term
AUDIT_SCALES: Final = np.array([300.0, 300.0, 300.0, 0.1, 0.05, 0.05, 0.05, 2000.0, 2000.0])
DAYS_IN_MONTH: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)

CITATIONS: Final = (
    *("Wagner2002", "Murphy2005", "IAPWS_R14_08", "Massman1998"),
    *("Hollands1976", "Watmuff1977", "Walton1983", "Hay1980", "Brandemuehl1980", "Duffie2013"),
    *("Sandu1997", "Kim2020", "Petela1964"),
)


@dataclass(frozen=True)
class Run:
    """What one simulation was made of and what the march gave."""

    name: str
    kind: Kind
    design: PassiveBox
    sorbent: Sorbent
    air: AirRecord
    climate: xr.Dataset
    start: MarchState
    result: MarchResult
    keep: str
    accuracy: str
    audited: bool


def year_dataset(run: Run) -> xr.Dataset:
    """Make the Dataset of a run; raises SolverError when its balance does not close."""
    flows = run.result.flows
    seconds = _bucket_seconds(run)
    data: dict[str, tuple[str, NDArray[np.float64], dict[str, str]]] = {}
    dim = {"hours": "time", "months": "month", "year": "year"}[run.keep]
    for i, flow in enumerate(run.kind.flows):
        data[flow.name] = (
            dim,
            flows[:, :, i].sum(axis=1) / seconds,
            {"units": flow.unit, "long_name": _words(flow.name) + ", mean"},
        )
    if run.keep == "hours":
        for i, unknown in enumerate(run.kind.unknowns):
            data[unknown.name] = (
                dim,
                run.result.states[:, i],
                {"units": unknown.unit, "long_name": _words(unknown.name) + " at the end of the hour"},
            )
    data |= _water(run, dim)
    data |= _surroundings(run, dim, seconds)
    coordinates: dict[str, Any] = {}
    if run.keep == "hours":
        coordinates["time"] = run.climate["time"].values
    elif run.keep == "months":
        coordinates["month"] = np.arange(1, 13)
    year = xr.Dataset(data, coords=coordinates, attrs=_attributes(run))
    for variable in year.variables.values():
        variable.values.flags.writeable = False
    return year


def figures(year: xr.Dataset) -> dict[str, Any]:
    """The figures that people read of a year kept by hours or months, JSON-ready; None where meaningless.

    Litres are those collected: run off into the gutter. Definitions: docs/glossary.md.
    """
    area = year.attrs["aperture_area"] * year.attrs["modules"]
    days = year.attrs["days"]
    collected = _total(year, "water_collected")
    litres = collected * area
    sun = _total_energy(year, "sun_on_plane")
    heat = _total(year, "release_heat")
    electricity = 0.0
    exergy = sun * float(solar_exergy_factor(year.attrs["mean_temperature"])) + electricity
    per_litre = 3.6e6 * collected
    mass = year.attrs["sorbent_mass"]
    return {
        "litres_per_day": litres / days,
        "litres_per_m2_day": collected / days,
        "litres_per_m2_footprint_day": collected / days / year.attrs["footprint_ratio"],
        "litres_per_kg_day": collected / days / mass,
        "litres_by_month": [float(x) * area for x in monthly(year, "water_collected")],
        "litres_condensed_per_day": _total(year, "water_condensed") * area / days,
        "sun_kwh_per_litre": sun / per_litre if collected > 0.0 else None,
        "heat_kwh_per_litre": heat / per_litre if collected > 0.0 else None,
        "electricity_kwh_per_litre": electricity / per_litre if collected > 0.0 else None,
        "latent_efficiency": collected * REFERENCE_LATENT_HEAT / sun if sun > 0.0 else None,
        "second_law_efficiency": collected * year.attrs["least_work"] / exergy if exergy > 0.0 else None,
        "balance": {
            "water_residual_relative": year.attrs["water_residual_relative"],
            "energy_residual_relative": year.attrs["energy_residual_relative"],
            "largest_flow_difference": year.attrs["largest_flow_difference"],
        },
    }


def monthly(year: xr.Dataset, name: str) -> NDArray[np.float64]:
    """Sum a per-bucket variable over the calendar months of the site's standard time; shape (12,)."""
    values = year[name].values
    if "month" in year.dims:
        return values
    return np.array([part.sum() for part in np.split(values, np.cumsum(DAYS_IN_MONTH)[:-1] * 24)])


def daily(year: xr.Dataset, name: str) -> NDArray[np.float64]:
    """Sum an hourly per-bucket variable over days; shape (365,)."""
    return year[name].values.reshape(-1, 24).sum(axis=1)


def water_account(year: xr.Dataset) -> dict[str, float]:
    """Where the year's water went, kg per m2 of aperture; what is taken up equals the sum of the rest."""
    names = ("water_collected", "water_leaked", "water_vented", "water_released_open", "water_run_off")
    account = {name: _total(year, name) for name in names}
    taken = _total(year, "water_taken_up")
    account["water_kept"] = taken - sum(account.values())
    return {"water_taken_up": taken, **account}


def heat_account(year: xr.Dataset) -> dict[str, float]:
    """Where the sun's energy went, J per m2 of aperture through the year, by path."""
    flows = {
        "sun_on_plane": 1.0,
        "sun_absorber": 1.0,
        "sun_glazing": 1.0,
        "sun_condenser": 1.0,
        "cover_radiation": 1.0,
        "cover_convection": 1.0,
        "rear_radiation": 1.0,
        "rear_convection": 1.0,
        "glazing_convection": 1.0,
        "glazing_longwave": 1.0,
        "condenser_convection": 1.0,
        "condenser_longwave": 1.0,
        "edge_loss": 1.0,
        "bed_convection": 1.0,
    }
    account = {name: factor * _total_energy(year, name) for name, factor in flows.items()}
    account["release_heat"] = _total(year, "release_heat")
    account["latent_heat_condensed"] = _total(year, "water_condensed") * REFERENCE_LATENT_HEAT
    return account


def save_year(year: xr.Dataset, path: Path) -> None:
    """Write a year to netCDF."""
    year.to_netcdf(path, engine="h5netcdf")


def load_year(path: Path) -> xr.Dataset:
    """Read a year that `save_year` wrote; raises FileError when it is something else."""
    if not Path(path).is_file():
        raise FileError(Problem(str(path), "no such file", "a year saved as netCDF"))
    year = xr.load_dataset(path, engine="h5netcdf")
    if year.attrs.get("schema_version") != SCHEMA_VERSION:
        given = year.attrs.get("schema_version", "none")
        raise FileError(Problem(f"{path}, schema_version", str(given), str(SCHEMA_VERSION)))
    return year


def _bucket_seconds(run: Run) -> NDArray[np.float64]:
    if run.keep == "hours":
        return np.full(run.result.flows.shape[0], 3600.0)
    if run.keep == "months":
        return np.array(DAYS_IN_MONTH) * 86400.0
    return np.array([run.air.hours * 3600.0])


def _flow(run: Run, name: str, mode: int | None = None) -> NDArray[np.float64]:
    """Integral of a flow in each bucket, in one mode or both."""
    of_modes = run.result.flows[:, :, run.kind.flow_number(name)]
    return of_modes.sum(axis=1) if mode is None else of_modes[:, mode]


def _water(run: Run, dim: str) -> dict[str, Any]:
    """Water accounts in each bucket, kg per m2."""
    onto = {
        name: _flow(run, name)
        for name in ("condensation", "glazing_condensation", "air_to_condenser", "air_to_glazing")
    }
    drained = _flow(run, "glazing_drained")
    gutter = run.design.glazing_gutter
    bed = _flow(run, "air_to_bed")
    dew = sum(np.maximum(onto[name], 0.0) for name in ("air_to_condenser", "air_to_glazing"))
    lost_dew = sum(np.maximum(-onto[name], 0.0) for name in ("air_to_condenser", "air_to_glazing"))
    leak = _flow(run, "leak")
    closed_leak = _flow(run, "leak", 0)
    # The open gap breathes: what it gives while open counts with what the open bed gives.
    aired = leak - closed_leak
    accounts = {
        "water_taken_up": (
            np.maximum(bed, 0.0) + dew + _flow(run, "rain_on_bed") + np.maximum(-aired, 0.0),
            "Water taken from the open air by bed, surfaces and gap",
        ),
        "water_condensed": (
            sum(np.maximum(flow, 0.0) for flow in onto.values()),
            "Water condensed on all surfaces",
        ),
        "water_reevaporated": (
            sum(np.maximum(-flow, 0.0) for flow in onto.values()),
            "Water that evaporated from surfaces again",
        ),
        "water_collected": (
            _flow(run, "collected") + (drained if gutter else 0.0),
            "Water that ran into the gutter",
        ),
        "water_leaked": (closed_leak, "Vapour that leaked from the closed box"),
        "water_vented": (_flow(run, "vent"), "Vapour lost through the over-temperature vent"),
        "water_released_open": (
            np.maximum(-bed, 0.0) + lost_dew + np.maximum(aired, 0.0),
            "Water given back to the open air",
        ),
        "water_run_off": (
            _flow(run, "bed_runoff") + (0.0 if gutter else drained),
            "Water that dripped to the ground",
        ),
    }
    heat = (
        _flow(run, "sun_absorber", 0)
        - _flow(run, "cover_radiation", 0)
        - _flow(run, "cover_convection", 0)
        - _flow(run, "edge_loss", 0)
    )
    data = {
        name: (dim, np.asarray(values), {"units": "kg/m2", "long_name": words})
        for name, (values, words) in accounts.items()
    }
    data["release_heat"] = (
        dim,
        heat,
        {
            "units": "J/m2",
            "long_name": "Heat that reached the bed while closed: sun less losses through cover and edges",
        },
    )
    data["open_share"] = (
        dim,
        run.result.open_seconds / _bucket_seconds(run),
        {"units": "1", "long_name": "Share of the time open"},
    )
    return data


def _surroundings(run: Run, dim: str, seconds: NDArray[np.float64]) -> dict[str, Any]:
    """Surroundings of the device as means over each bucket."""
    nodes = run.air.nodes
    hourly = 0.25 * (nodes[0:-1:2] + 2.0 * nodes[1::2] + nodes[2::2])
    if run.keep == "months":
        means = np.array([p.mean(axis=0) for p in np.split(hourly, np.cumsum(DAYS_IN_MONTH)[:-1] * 24)])
    elif run.keep == "year":
        means = hourly.mean(axis=0, keepdims=True)
    else:
        means = hourly[: seconds.size]
    return {
        "temperature": (dim, means[:, TEMPERATURE], {"units": "K", "long_name": "Outdoor air temperature"}),
        "vapour_pressure": (
            dim,
            means[:, VAPOUR_PRESSURE],
            {"units": "Pa", "long_name": "Water vapour pressure of the outdoor air"},
        ),
        "wind_at_device": (dim, means[:, WIND], {"units": "m/s", "long_name": "Wind at the device"}),
        "sun_on_plane": (dim, means[:, SUN_PLANE], {"units": "W/m2", "long_name": "Sun on the aperture"}),
    }


def _attributes(run: Run) -> dict[str, Any]:
    design, sorbent, climate = run.design, run.sorbent, run.climate
    found = outsiders_balance(run) if run.audited else None
    nodes = run.air.nodes
    uptake = np.maximum(_flow(run, "air_to_bed"), 0.0)
    attributes: dict[str, Any] = {
        "schema_version": SCHEMA_VERSION,
        "title": run.name,
        "kind": run.kind.name,
        "sorbent": sorbent.key,
        "sorbent_name": sorbent.name,
        "aperture_area": design.aperture_area,
        "modules": design.modules,
        "footprint_ratio": design.footprint_ratio,
        "sorbent_mass": design.sorbent_mass,
        "days": run.air.hours / 24.0,
        "mean_temperature": float(nodes[:, TEMPERATURE].mean()),
        "mean_pressure": float(nodes[:, PRESSURE].mean()),
        "least_work": _least_work(run, uptake),
        "weather_hash": str(climate.attrs.get("content_hash", "")),
        "weather_source": str(climate.attrs.get("source", "")),
        "accuracy": run.accuracy,
        "steps": run.result.steps,
        "rejected_steps": run.result.rejected,
        "highest_bed_temperature": float(run.result.extremes[1, 1]),
        "highest_glazing_temperature": float(run.result.extremes[1, 0]),
        "lowest_condenser_temperature": float(run.result.extremes[0, 2]),
        "design": json.dumps(asdict(design)),
        "version": importlib.metadata.version("welkinwell"),
        "citations": json.dumps([*CITATIONS, *(s for s in sorbent.sources if s not in CITATIONS)]),
        "water_residual_relative": found.water_residual_relative if found else float("nan"),
        "energy_residual_relative": found.energy_residual_relative if found else float("nan"),
        "largest_flow_difference": found.flow_difference if found else float("nan"),
    }
    if run.keep == "hours":
        attributes |= _validity(run)
        attributes["condenser_excess"] = _condenser_excess(run)
    return attributes


def outsiders_balance(run: Run, flip: int | None = None) -> Balance:
    """Close the year's balance from recorded states; raises SolverError when it does not close.

    flip: number of a flow whose sign the outsider turns, to show that the balance notices.
    """
    result, design, sorbent = run.result, run.design, run.sorbent

    def flows(states: Any, air: Any, mode: Any) -> Any:
        found = audited_flows(states, air, mode, design, sorbent, run.air.pressure)
        if flip is not None:
            found[flip] *= -1.0
        return found

    steps = recomputed_flows(
        result.record, result.record_time, run.air.nodes, run.air.spacing, flows, AUDIT_SCALES
    )
    before = audited_stocks(run.start.y, design, sorbent)
    after = audited_stocks(result.state.y, design, sorbent)
    water_in, energy_in = boundary()
    march = result.flows.sum(axis=(0, 1))
    sun = sum(march[run.kind.flow_number(n)] for n in ("sun_absorber", "sun_glazing", "sun_condenser"))
    # Taken up: what entered, step by step, so that a closed dark box is judged by what it holds
    entered = float(np.maximum(steps, 0.0).sum(axis=0) @ np.maximum(water_in, 0.0))
    water_scale = max(entered, before["water"])
    energy_scale = max(float(sun), LATENT_HEAT_AT_FREEZING * water_scale)
    bucket = np.zeros(len(steps), dtype=np.int64)
    if run.keep == "hours":
        first = result.record_time[0, 0] // 3600
        bucket = ((result.record_time[:, 0] + 0.5 * result.record_time[:, 1]) // 3600 - first).astype(
            np.int64
        )
        bucket = np.minimum(bucket, len(result.flows) - 1)  # a last step of round-off's length
    by_bucket = result.flows.sum(axis=1)
    found = balance(
        steps,
        bucket,
        by_bucket if run.keep == "hours" else march[None, :],
        water_in,
        energy_in,
        after["water"] - before["water"],
        after["energy"] - before["energy"],
        entered if entered > 0.0 else water_scale,
        float(sun) if sun > 0.0 else energy_scale,
        np.array([flow.unit == "kg/(m2 s)" for flow in run.kind.flows]),
    )
    if flip is None and not (
        abs(found.water_residual) <= BALANCE_LIMIT * water_scale
        and abs(found.energy_residual) <= BALANCE_LIMIT * energy_scale
        and found.flow_difference <= FLOW_LIMIT
    ):
        raise SolverError(
            f"the balance of {run.name!r} does not close: water {found.water_residual_relative:.1e}, "
            f"energy {found.energy_residual_relative:.1e}, flows {found.flow_difference:.1e}"
        )
    return found


def _least_work(run: Run, uptake: NDArray[np.float64]) -> float:
    """Least work at the outdoor air of the hours in which water was taken up, weighted by it [J/kg]."""
    nodes = run.air.nodes
    humidity = nodes[:, VAPOUR_PRESSURE] / saturation_pressure(nodes[:, TEMPERATURE])
    work = least_work(nodes[:, TEMPERATURE], np.clip(humidity, 1e-4, 1.0))
    hourly = 0.5 * (work[0:-1:2] + work[2::2])
    if run.keep != "hours" or uptake.sum() <= 0.0:
        return float(hourly.mean())
    return float((hourly[: uptake.size] * uptake).sum() / uptake.sum())


def _validity(run: Run) -> dict[str, float]:
    """Shares of hours, and of condensed water, with the bed outside the points that its sheet rests on."""
    T, p = run.result.states[:, 1], np.maximum(run.result.states[:, 7], 1e-3)
    potential = GAS_CONSTANT * T * np.log(saturation_pressure(T) / p)
    low_T, high_T = run.sorbent.temperature_range
    low_A, high_A = run.sorbent.potential_range
    out_T = (low_T - 0.5 > T) | (high_T + 0.5 < T)
    out_A = (potential < low_A) | (potential > high_A)
    water = np.maximum(_flow(run, "condensation") + _flow(run, "glazing_condensation"), 0.0)
    total = water.sum()

    def share(mask: NDArray[np.bool_]) -> float:
        return float(water[mask].sum() / total) if total > 0.0 else 0.0

    return {
        "hours_outside_temperature_range": float(out_T.mean()),
        "hours_outside_potential_range": float(out_A.mean()),
        "water_outside_temperature_range": share(out_T),
        "water_outside_potential_range": share(out_A),
    }


def _condenser_excess(run: Run) -> float:
    """Condenser over air temperature, weighted by what condenses [K]."""
    water = np.maximum(_flow(run, "condensation"), 0.0)
    if water.sum() <= 0.0:
        return 0.0
    excess = run.result.states[:, 2] - run.air.nodes[2::2, TEMPERATURE][: water.size]
    return float((excess * water).sum() / water.sum())


def _total(year: xr.Dataset, name: str) -> float:
    return float(year[name].values.sum())


def _total_energy(year: xr.Dataset, name: str) -> float:
    """Integrate a mean power over the year [J/m2]."""
    values = year[name].values
    if "time" in year.dims:
        seconds: Any = 3600.0
    elif "month" in year.dims:
        seconds = np.array(DAYS_IN_MONTH) * 86400.0
    else:
        seconds = year.attrs["days"] * 86400.0
    return float((values * seconds).sum())


def _words(name: str) -> str:
    return name.replace("_", " ").capitalize()
