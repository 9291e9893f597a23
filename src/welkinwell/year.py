"""The result of a simulated year: one immutable Dataset with names, units, balance and provenance.

Per m2 of the kind's basis area (the aperture of a box) and in SI; sums over the bucket (hour, month or
year) where the unit has no "per second".
`figures(year)` gives the numbers that people read, one definition each (docs/glossary.md).
"""

from __future__ import annotations

import importlib.metadata
import json
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH, GAS_CONSTANT, LATENT_HEAT_AT_FREEZING
from welkinwell.errors import FileError, Problem, SolverError
from welkinwell.harvesters.air import (
    COLUMNS,
    LONGWAVE,
    PRESSURE,
    SUN_PLANE,
    TEMPERATURE,
    VAPOUR_PRESSURE,
    WIND,
    AirRecord,
)
from welkinwell.harvesters.harvester import Accounts, Bucketed, Harvester, Kind
from welkinwell.harvesters.kinds import LISTED
from welkinwell.harvesters.power_cuts import Outage
from welkinwell.limits.least_work import least_work, solar_exergy_factor
from welkinwell.limits.solar_bounds import sky_exergy, swing_exergy
from welkinwell.moist_air import saturation_pressure
from welkinwell.numerics.balance import Balance, balance, recomputed_flows
from welkinwell.numerics.march import MarchResult, MarchState
from welkinwell.sorbents.brine_limits import brine_limits
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.writing import write_bytes

SCHEMA_VERSION: Final = 1
REFERENCE_LATENT_HEAT: Final = 2.4535e6  # J/kg at 20 C (IAPWS-95), for the latent efficiency
BALANCE_LIMIT: Final = 1e-9  # relative; a year that does not close to this is not returned
FLOW_LIMIT: Final = 1e-4  # relative; above the noise of the audit, far below any wrong term
LEAST_WATER: Final = 10.0  # kg/m2: by no less is a year judged, so that 1e-8 kg/m2 may always be missing

SKY: Final = len(COLUMNS)  # place of the sky's exergy beside the record's columns
WATER_OF_EVERY_KIND: Final = ("water_taken_up", "water_condensed", "water_reevaporated", "water_collected")

CITATIONS: Final = (
    *("Wagner2002", "Murphy2005", "IAPWS_R14_08", "Massman1998"),
    *("Hay1980", "Sandu1997", "Kim2020", "Petela1964"),
)


@dataclass(frozen=True)
class Run:
    """What one simulation was made of and what the march gave."""

    name: str
    harvester: Harvester
    design: Any
    sorbent: Sorbent | None
    air: AirRecord
    climate: xr.Dataset
    start: MarchState
    result: MarchResult
    keep: str
    accuracy: str
    audited: bool
    outage: Outage | None = None

    @property
    def kind(self) -> Kind:
        """The kind as the march sees it."""
        return self.harvester.kind

    @property
    def by_bucket(self) -> Bucketed:
        """The flow integrals by bucket."""
        return Bucketed(self.kind, self.design, self.result.flows)

    @cached_property
    def audited_steps(self) -> NDArray[np.float64]:
        """Every flow's integral over each recorded step by the audit, shape (steps, flows)."""
        result = self.result
        off = np.zeros(len(result.record), dtype=bool)
        if self.outage is not None:
            off = self.outage.holds(result.record_time[:, 0] + 0.5 * result.record_time[:, 1])
        steps = np.zeros((len(result.record), len(self.kind.flows)))
        for rows, design in (
            (~off, self.design),
            (off, self.outage.design if self.outage else self.design),
        ):
            if rows.any():
                steps[rows] = self._recomputed(rows, design)
        return steps

    def _recomputed(self, rows: NDArray[np.bool_], design: Any) -> NDArray[np.float64]:
        """The audit's integrals over some of the steps, of a design with or without electricity."""

        def flows(states: Any, air: Any, mode: Any) -> Any:
            return self.harvester.audited_flows(states, air, mode, design, self.sorbent, self.air.pressure)

        unknowns = self.kind.unknowns
        return recomputed_flows(
            self.result.record[rows],
            self.result.record_time[rows],
            self.air.nodes,
            self.air.spacing,
            flows,
            np.array([unknown.size for unknown in unknowns]),
            tuple(i for i, unknown in enumerate(unknowns) if unknown.unit == "kg/m2"),
        )


def year_dataset(run: Run) -> xr.Dataset:
    """Make the Dataset of a run; raises SolverError when its balance does not close."""
    flows = run.result.flows
    seconds = _bucket_seconds(run)
    data: dict[str, tuple[str, NDArray[np.float64], dict[str, str]]] = {}
    dim = {"hours": "time", "months": "month", "year": "year"}[run.keep]
    for name, places in run.kind.shown_flows().items():
        data[name] = (
            dim,
            flows[:, :, places].sum(axis=(1, 2)) / seconds,
            {"units": run.kind.flows[places[0]].unit, "long_name": _words(name) + ", mean"},
        )
    if run.keep == "hours":
        for name, places in run.kind.shown_unknowns().items():
            data[name] = (
                dim,
                _mean_state(run, places),
                {
                    "units": run.kind.unknowns[places[0]].unit,
                    "long_name": _words(name) + " at the end of the hour",
                },
            )
    accounts = run.harvester.accounts(run.by_bucket)
    data |= _accounts(accounts, dim, seconds)
    data |= _surroundings(run, dim, seconds)
    coordinates: dict[str, Any] = {}
    if run.keep == "hours":
        coordinates["time"] = run.climate["time"].values
    elif run.keep == "months":
        coordinates["month"] = np.arange(1, 13)
    year = xr.Dataset(data, coords=coordinates, attrs=_attributes(run, accounts))
    for variable in year.variables.values():
        variable.values.flags.writeable = False
    return year


def figures(year: xr.Dataset) -> dict[str, Any]:
    """The figures that people read of a year kept by hours or months, JSON-ready; None where meaningless.

    Litres are those collected: run off into the gutter. Definitions: docs/glossary.md.
    """
    area = year.attrs["basis_area"] * year.attrs["modules"]
    days = year.attrs["days"]
    collected = _total(year, "water_collected")
    litres = collected * area
    sun = _total_energy(year, "sun_on_plane") if year.attrs["takes_sun"] else 0.0
    exergy = sum(exergy_supplied(year).values())
    mass = year.attrs["sorbent_mass"]

    def per_litre(energy: float | None) -> float | None:
        return energy / (3.6e6 * collected) if energy is not None and collected > 0.0 else None

    return {
        "litres_per_day": litres / days,
        "litres_per_m2_day": collected / days,
        "litres_per_m2_footprint_day": collected / days / year.attrs["footprint_ratio"],
        "litres_per_kg_day": collected / days / mass if mass > 0.0 else None,
        "litres_by_month": [float(x) * area for x in monthly(year, "water_collected")],
        "litres_condensed_per_day": _total(year, "water_condensed") * area / days,
        "sun_kwh_per_litre": per_litre(sun if year.attrs["takes_sun"] else None),
        "heat_kwh_per_litre": per_litre(_total(year, "release_heat") if "release_heat" in year else None),
        "electricity_kwh_per_litre": per_litre(_total(year, "electricity")),
        "latent_efficiency": collected * REFERENCE_LATENT_HEAT / sun if sun > 0.0 else None,
        "second_law_efficiency": collected * year.attrs["least_work"] / exergy if exergy > 0.0 else None,
        "balance": {
            "water_residual_relative": year.attrs["water_residual_relative"],
            "energy_residual_relative": year.attrs["energy_residual_relative"],
            "largest_flow_difference": year.attrs["largest_flow_difference"],
        },
    }


def exergy_supplied(year: xr.Dataset) -> dict[str, float]:
    """Exergy that went into a device in the year, by where it came from [J per m2 of basis area].

    sun: Petela1964's share of the sun on its plane, for kinds that it drives; electricity; heat: Carnot's
    share at the temperature of its source; sky: a third of what its surfaces can lose to the sky at air
    temperature (limits.solar_bounds); swing: of the heat of the water that a bed carries from the day's
    coldest to its warmest air, (1 - T_cold/T_warm) of it, in the mean; sensible heat of the stores comes on
    top and is left out.
    """
    surroundings = year.attrs["mean_temperature"]
    sun = _total_energy(year, "sun_on_plane") if year.attrs["takes_sun"] else 0.0
    heat = sum(
        _total(year, name) * max(1.0 - surroundings / temperature, 0.0)
        for name, temperature in json.loads(year.attrs["supplied_heat"]).items()
    )
    return {
        "sun": sun * float(solar_exergy_factor(surroundings)),
        "electricity": _total(year, "electricity"),
        "heat": heat,
        "sky": _total_energy(year, "sky_exergy"),
        "swing": _total(year, "water_taken_up") * year.attrs["swing_exergy"],
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
    """Where the year's water went, kg per m2 of basis area; what is taken up equals the sum of the rest."""
    account = {
        name: _total(year, name) for name in ("water_collected", *json.loads(year.attrs["water_lost"]))
    }
    taken = _total(year, "water_taken_up")
    account["water_kept"] = taken - sum(account.values())
    return {"water_taken_up": taken, **account}


def save_year(year: xr.Dataset, path: Path) -> None:
    """Write a year to netCDF, whole or not at all; raises FileError where it cannot be written.

    The file is made in memory: the HDF5 library does not survive a disk that fills up under it.
    """
    write_bytes(path, year.to_netcdf(engine="h5netcdf"))


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


def _accounts(
    accounts: Accounts, dim: str, seconds: NDArray[np.float64]
) -> dict[str, tuple[str, NDArray[np.float64], dict[str, str]]]:
    """Water, heat and electricity of each bucket, as the kind accounts for them."""
    data = {
        name: (dim, np.asarray(values), {"units": "kg/m2", "long_name": words})
        for name, (values, words) in accounts.water.items()
    }
    energies = {
        "electricity": (sum(accounts.electricity.values(), np.zeros(seconds.size)), "Electricity used")
    }
    if accounts.release_heat is not None:
        energies["release_heat"] = accounts.release_heat
    for name, values in accounts.electricity.items():
        energies[f"electricity_{name}"] = (values, f"Electricity used: {name.replace('_', ' ')}")
    for name, (values, _) in accounts.supplied_heat.items():
        energies[name] = (values, _words(name))
    data |= {
        name: (dim, np.asarray(values), {"units": "J/m2", "long_name": words})
        for name, (values, words) in energies.items()
    }
    return data


def _surroundings(run: Run, dim: str, seconds: NDArray[np.float64]) -> dict[str, Any]:
    """Surroundings of the device as means over each bucket."""
    nodes = run.air.nodes
    looking = run.harvester.sky_area(run.design)
    cold = looking * sky_exergy(nodes[:, TEMPERATURE], nodes[:, LONGWAVE])
    nodes = np.column_stack([nodes, cold])
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
        "sun_on_plane": (
            dim,
            means[:, SUN_PLANE],
            {"units": "W/m2", "long_name": "Sun on the device"},
        ),
        "sky_exergy": (
            dim,
            means[:, SKY],
            {"units": "W/m2", "long_name": "Work that the cold sky could yield to the device"},
        ),
        "open_share": (
            dim,
            run.result.open_seconds / seconds,
            {"units": "1", "long_name": "Share of the time open to the air"},
        ),
    }


def _attributes(run: Run, accounts: Accounts) -> dict[str, Any]:
    design, sorbent, climate, harvester = run.design, run.sorbent, run.climate, run.harvester
    found = audited_balance(run) if run.audited else None
    nodes = run.air.nodes
    taken = np.asarray(accounts.water["water_taken_up"][0])
    cited = (*CITATIONS, *harvester.citations, *(sorbent.sources if sorbent else ()))
    attributes: dict[str, Any] = {
        "schema_version": SCHEMA_VERSION,
        "title": run.name,
        "kind": design.kind,
        "depth": getattr(design, "depth", ""),
        "sorbent": sorbent.key if sorbent else "",
        "sorbent_name": sorbent.name if sorbent else "",
        "basis": LISTED[design.kind].basis,
        "basis_area": design.basis_area,
        "takes_sun": int(harvester.takes_sun),
        "modules": design.modules,
        "footprint_ratio": design.footprint_ratio,
        "sorbent_mass": float(getattr(design, "sorbent_mass", 0.0)),
        "days": run.air.hours / 24.0,
        "mean_temperature": float(nodes[:, TEMPERATURE].mean()),
        "mean_pressure": float(nodes[:, PRESSURE].mean()),
        "least_work": _least_work(run, taken),
        "swing_exergy": _swing_exergy(run),
        "water_lost": json.dumps([name for name in accounts.water if name not in WATER_OF_EVERY_KIND]),
        "supplied_heat": json.dumps({name: t for name, (_, t) in accounts.supplied_heat.items()}),
        "weather_hash": str(climate.attrs.get("content_hash", "")),
        "weather_source": str(climate.attrs.get("source", "")),
        "accuracy": run.accuracy,
        "hours_without_power": 0.0
        if run.outage is None
        else float((run.outage.spells[:, 1] - run.outage.spells[:, 0]).sum() / 3600.0),
        "steps": run.result.steps,
        "rejected_steps": run.result.rejected,
        "design": json.dumps(asdict(design)),
        "version": importlib.metadata.version("welkinwell"),
        "citations": json.dumps(list(dict.fromkeys(cited))),
        "water_residual_relative": found.water_residual_relative if found else float("nan"),
        "energy_residual_relative": found.energy_residual_relative if found else float("nan"),
        "largest_flow_difference": found.flow_difference if found else float("nan"),
    }
    for name, places in run.kind.shown_unknowns().items():
        if run.kind.unknowns[places[0]].unit == "K":
            attributes[f"lowest_{name}"] = float(run.result.extremes[0, places].min())
            attributes[f"highest_{name}"] = float(run.result.extremes[1, places].max())
    if hasattr(design, "aperture_area"):
        attributes["aperture_area"] = design.aperture_area
    if run.keep == "hours":
        attributes |= _validity(run, np.asarray(accounts.water["water_condensed"][0]))
        attributes["condenser_excess"] = _condenser_excess(run)
        attributes |= _brine_limits(run)
        attributes |= _layer_profile(run)
    return attributes


def audited_balance(run: Run, flip: int | None = None) -> Balance:
    """Close the year's balance from recorded states; raises SolverError when it does not close.

    flip: number of a flow whose sign the audit turns, to show that the balance notices.
    """
    result, design, sorbent, harvester = run.result, run.design, run.sorbent, run.harvester
    steps = run.audited_steps
    if flip is not None:
        steps = steps.copy()
        steps[:, flip] *= -1.0
    before = harvester.audited_stocks(run.start.y, design, sorbent)
    after = harvester.audited_stocks(result.state.y, design, sorbent)
    water_in, energy_in = harvester.boundary()
    march = result.flows.sum(axis=(0, 1))
    # what goes to and fro counts both ways: a machine that is off all year still breathes heat
    driven = sum(float(np.abs(result.flows[:, :, run.kind.flow_number(n)]).sum()) for n in harvester.drives)
    # Taken up: what entered, step by step, so that a closed dark box is judged by what it holds
    entered = float(np.maximum(steps, 0.0).sum(axis=0) @ np.maximum(water_in, 0.0))
    water_scale = max(entered, before["water"])
    energy_scale = max(driven, LATENT_HEAT_AT_FREEZING * water_scale)
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
        driven if driven > 0.0 else energy_scale,
        np.array([flow.unit == "kg/(m2 s)" for flow in run.kind.flows]),
    )
    if flip is None and not (
        abs(found.water_residual) <= BALANCE_LIMIT * max(water_scale, LEAST_WATER)
        and abs(found.energy_residual)
        <= BALANCE_LIMIT * max(energy_scale, LATENT_HEAT_AT_FREEZING * LEAST_WATER)
        and found.flow_difference <= FLOW_LIMIT
    ):
        raise SolverError(
            f"the balance of {run.name!r} does not close: water {found.water_residual_relative:.1e}, "
            f"energy {found.energy_residual_relative:.1e}, flows {found.flow_difference:.1e}"
        )
    return found


def _swing_exergy(run: Run) -> float:
    """Exergy of the day's swing for a kg of water that a bed carries through it, mean of the days [J/kg].

    Nothing for kinds without a bed, which keep no water from one hour to another.
    """
    if run.sorbent is None:
        return 0.0
    hourly = run.air.nodes[:-1, TEMPERATURE]
    days = hourly[: hourly.size // 48 * 48].reshape(-1, 48)
    coldest, warmest = days.min(axis=1), days.max(axis=1)
    return float(swing_exergy(REFERENCE_LATENT_HEAT, coldest, warmest).mean())


def _least_work(run: Run, uptake: NDArray[np.float64]) -> float:
    """Least work at the outdoor air of the hours in which water was taken up, weighted by it [J/kg]."""
    nodes = run.air.nodes
    humidity = nodes[:, VAPOUR_PRESSURE] / saturation_pressure(nodes[:, TEMPERATURE])
    work = least_work(nodes[:, TEMPERATURE], np.clip(humidity, 1e-4, 1.0))
    hourly = 0.5 * (work[0:-1:2] + work[2::2])
    if run.keep != "hours" or uptake.sum() <= 0.0:
        return float(hourly.mean())
    return float((hourly[: uptake.size] * uptake).sum() / uptake.sum())


def _mean_state(run: Run, places: list[int]) -> NDArray[np.float64]:
    """Hourly values of the unknowns that are shown under one name: their mean."""
    return run.result.states[:, places].mean(axis=1)


def _state(run: Run, name: str) -> NDArray[np.float64] | None:
    """Hourly values of an unknown as it is shown, or None where the kind has none of that name."""
    places = run.kind.shown_unknowns().get(name)
    return None if places is None else _mean_state(run, places)


def _validity(run: Run, condensed: NDArray[np.float64]) -> dict[str, float]:
    """Shares of hours, and of condensed water, with the bed outside the points that its sheet rests on."""
    T, p = _state(run, "bed_temperature"), _state(run, "bed_vapour_pressure")
    names = [
        f"{of}_outside_{what}_range" for what in ("temperature", "potential") for of in ("hours", "water")
    ]
    if run.sorbent is None or T is None or p is None:
        return dict.fromkeys(names, 0.0)
    potential = GAS_CONSTANT * T * np.log(saturation_pressure(T) / np.maximum(p, 1e-3))
    low_T, high_T = run.sorbent.temperature_range
    low_A, high_A = run.sorbent.potential_range
    out_T = (low_T - 0.5 > T) | (high_T + 0.5 < T)
    out_A = (potential < low_A) | (potential > high_A)
    total = condensed.sum()
    found = []
    for mask in (out_T, out_A):
        found += [float(mask.mean()), float(condensed[mask].sum() / total) if total > 0.0 else 0.0]
    return dict(zip(names, found, strict=True))


def _layer_profile(run: Run) -> dict[str, str]:
    """Loading of each cell of a layered bed, carrier first, at the day's fullest and emptiest hour [kg/kg].

    The mean over the days; nothing where the bed has one loading.
    """
    places = run.kind.shown_unknowns().get("loading", [])
    if len(places) < 2:
        return {}
    days = run.result.states.shape[0] // 24
    by_day = run.result.states[: 24 * days, places].reshape(days, 24, len(places))
    mean = by_day.mean(axis=2)
    ends = {"fullest": mean.argmax(axis=1), "emptiest": mean.argmin(axis=1)}
    found = {name: by_day[np.arange(days), hours].mean(axis=0).tolist() for name, hours in ends.items()}
    return {"layer_profile": json.dumps(found)}


def _brine_limits(run: Run) -> dict[str, float]:
    """Hours and water beyond the limits of a brine, where a bed holds one."""
    T, pressure, loading = (
        _state(run, name) for name in ("bed_temperature", "bed_vapour_pressure", "loading")
    )
    if run.sorbent is None or T is None or pressure is None or loading is None:
        return {}
    return brine_limits(run.sorbent, run.design.sorbent_mass, T, pressure, loading)


def _condenser_excess(run: Run) -> float:
    """Condenser over air temperature, weighted by what condenses on it [K]; nan where nothing does."""
    condenser = _state(run, "condenser_temperature")
    if condenser is None or all(flow.name != "condensation" for flow in run.kind.flows):
        return float("nan")
    water = np.maximum(run.by_bucket.flow("condensation"), 0.0)
    if water.sum() <= 0.0:
        return float("nan")
    excess = condenser - run.air.nodes[2::2, TEMPERATURE][: water.size]
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
