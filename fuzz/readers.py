"""The readers that are tried, each with sane files to start from and what marks a header as read."""

from __future__ import annotations

import datetime
import gzip
import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any, Final

import pvlib

from welkinwell.case import read_case
from welkinwell.climate import read_climate
from welkinwell.climate.site_log import read_site_log
from welkinwell.sorbents.lab_data import read_lab_points, read_uptake
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.claim import read_claim
from welkinwell.studies.device_log import read_device_log
from welkinwell.studies.experiments import read_experiment

ROOT: Final = Path(__file__).parents[1]
LIBRARY: Final = ROOT / "src" / "welkinwell" / "library"
EXAMPLES: Final = ROOT / "examples" / "weather"
CASES: Final = ROOT / "examples" / "tern_hollow"
PVLIB: Final = Path(pvlib.__file__).parent / "data"
LOG_MAP: Final = {"time": "when", "temperature": "T [degC]", "relative_humidity": "RH [%]"}
TABLE_MAP: Final = {**LOG_MAP, "ghi": "sun [W/m2]", "wind_speed": "wind [m/s]", "pressure": "p [hPa]"}
PLACE: Final = {"latitude": 30.0, "longitude": 35.0, "elevation": 200.0, "utc_offset": 2.0}
SHORT: Final = 60  # lines of a weather file that is refused for its length, but quickly


@dataclass(frozen=True)
class Reader:
    """One reader. read: a path; seeds: sane files; form: how they are built (fuzz.mutants); suffix: of names.

    past: `module:name` of a function that is called once the header is read (with returned: that returns).
    """

    name: str
    read: Callable[[Path], Any]
    seeds: Callable[[], list[bytes]]
    form: str
    suffix: str
    past: str
    returned: bool = False


def _unpacked(path: Path) -> bytes:
    content = path.read_bytes()
    return gzip.decompress(content) if content[:2] == b"\x1f\x8b" else content


def _weather(*paths: Path) -> list[bytes]:
    """Each file whole and cut short."""
    whole = [_unpacked(path) for path in paths]
    return [*whole, *(b"\n".join(content.split(b"\n")[:SHORT]) for content in whole)]


def _json_weather() -> list[bytes]:
    whole = json.loads(_unpacked(ROOT / "tests/climate/data/pvgis_45N_8E_tmy.json.gz"))
    short = json.loads(json.dumps(whole))
    short["outputs"]["tmy_hourly"] = short["outputs"]["tmy_hourly"][:24]
    return [json.dumps(whole).encode(), json.dumps(short).encode()]


def _files(*paths: Path) -> list[bytes]:
    return [path.read_bytes() for path in paths]


def _cases() -> list[bytes]:
    """Cases whose weather file is named so that it is found from any folder."""
    names = ("case", "all_kinds", "off_grid", "brine")
    texts = [(CASES / f"{name}.toml").read_text(encoding="utf-8") for name in names]
    return [text.replace("../weather/", f"{EXAMPLES}/").encode() for text in texts]


@cache
def own_table(hours: int) -> bytes:
    """A table of made-up weather: a warm day and a cool night, again and again."""
    lines = ["when,T,RH,sun,wind,p"]
    begin = datetime.datetime(2021, 1, 1)
    for k in range(hours):
        angle = 2.0 * math.pi * ((k % 24) - 15.0) / 24.0
        sun = 400.0 * max(0.0, math.sin(math.pi * ((k % 24) - 7.0) / 10.0)) ** 2 if 7 <= k % 24 <= 17 else 0.0
        stamp = f"{begin + datetime.timedelta(hours=k + 1):%Y-%m-%dT%H:%M}"
        row = (
            20 + 8 * math.cos(angle) + 5 * math.sin(k / 1400.0),
            50 - 20 * math.cos(angle),
            sun,
            2 + k % 4,
            990,
        )
        lines.append(stamp + "," + ",".join(f"{value:.1f}" for value in row))
    return "\n".join(lines).encode() + b"\n"


def _device_logs() -> list[bytes]:
    begin, hour = datetime.datetime(2021, 3, 1), datetime.timedelta(hours=1)
    daily = [f"{begin + datetime.timedelta(days=k):%Y-%m-%d},{2 + k % 3}" for k in range(20)]
    titles = "time,litres [L],bed temperature [degC],relative humidity [%],sun [W/m2]"
    hourly = [
        f"{begin + k * hour:%Y-%m-%dT%H:%M},{k % 2},{30 + k % 24},{40 + k % 20},{30 * (k % 24)}"
        for k in range(240)
    ]
    return ["\n".join(["time,litres [L]", *daily]).encode(), "\n".join([titles, *hourly]).encode()]


def _isotherms() -> list[bytes]:
    steps = [k / 20.0 for k in range(1, 20)]
    humid = [f"{T},{rh},{0.3 * rh + 0.01},{b}" for T in (25, 40) for b in ("ads", "des") for rh in steps]
    pressures = [f"298.15,{30 * k},{k / 2}" for k in range(1, 40)]
    return [
        "\n".join(
            ["# own", "temperature [degC],relative_humidity [1],loading [kg/kg],branch", *humid]
        ).encode(),
        "\n".join(["temperature [K],pressure [Pa],loading [mol/kg]", *pressures]).encode(),
    ]


def _uptakes() -> list[bytes]:
    rows = [f"{60 * k},{0.2 * (1 - math.exp(-k / 10)):.4f},{T},0.5" for T in (25, 35) for k in range(30)]
    return ["\n".join(["time [s],loading [kg/kg],temperature [degC],relative_humidity [1]", *rows]).encode()]


def _read_hours(path: Path) -> Any:
    """The hours without electricity that a case names, read as the case does."""
    from welkinwell.errors import InputError, Problem
    from welkinwell.harvesters.power_cuts import read_power_cuts

    problems: list[Problem] = []
    cuts = read_power_cuts({"file": path.name}, path.parent, "case.toml, [power_cuts]", problems)
    if problems:
        raise InputError(problems)
    return cuts


_own_table = partial(read_climate, columns=TABLE_MAP, stamp="end", **PLACE)
_own_log = partial(read_site_log, columns=LOG_MAP, utc_offset=2.0)
DATA: Final = ROOT / "tests" / "climate" / "data"
READERS: Final = {
    reader.name: reader
    for reader in (
        Reader("epw", partial(read_climate, kind="epw"),
               partial(_weather, EXAMPLES / "highland_denver_colorado_tmy3.epw.gz"), "rows", "epw",
               "welkinwell.climate.epw:delimited_columns"),
        Reader("nsrdb", partial(read_climate, kind="nsrdb"),
               partial(_weather, EXAMPLES / "desert_daggett_california_tmy.csv.gz",
                       EXAMPLES / "coast_western_australia_2020.csv.gz"), "rows", "csv",
               "welkinwell.climate.nsrdb:delimited_columns"),
        Reader("tmy3", partial(read_climate, kind="tmy3"), partial(_weather, PVLIB / "723170TYA.CSV"),
               "rows", "csv", "welkinwell.climate.tmy:delimited_columns"),
        Reader("tmy2", partial(read_climate, kind="tmy2"), partial(_weather, PVLIB / "12839.tm2"),
               "fixed", "tm2", "welkinwell.climate.tmy:how_of_most"),
        Reader("pvgis-csv", read_climate, partial(_weather, DATA / "pvgis_45N_8E_tmy.csv.gz"), "rows", "csv",
               "welkinwell.climate.pvgis:_year"),
        Reader("pvgis-json", read_climate, _json_weather, "json", "json", "welkinwell.climate.pvgis:_year"),
        Reader("table", _own_table, lambda: [own_table(8760), own_table(60)], "rows", "csv",
               "welkinwell.climate.table:delimited_columns"),
        Reader("site-log", _own_log, lambda: [own_table(240)], "rows", "csv",
               "welkinwell.climate.table:delimited_columns"),
        Reader("device-log", read_device_log, _device_logs, "rows", "csv",
               "welkinwell.studies.device_log:_stamp"),
        Reader("isotherms-csv", lambda path: read_lab_points([path]), _isotherms, "rows", "csv",
               "welkinwell.sorbents.lab_data:_value"),
        Reader("isotherms-aif", lambda path: read_lab_points([path]),
               partial(_files, ROOT / "tests/sorbents/data/water_written_by_pygaps.aif"), "words", "aif",
               "welkinwell.sorbents.lab_data:_value"),
        Reader("uptake-csv", read_uptake, _uptakes, "rows", "csv", "welkinwell.sorbents.lab_data:_value"),
        Reader("case", read_case, _cases, "toml", "toml", "welkinwell.case:_read_site"),
        Reader("sheet", sorbent,
               lambda: _files(*(LIBRARY / "sorbents" / f"{n}.toml" for n in (
                   "silica_gel_regular_density", "aluminium_fumarate", "licl_brine", "calcium_chloride",
                   "mof_303", "zeolite_13x"))),
               "toml", "toml", "welkinwell.sorbents.sheet:_Reader._texts"),
        Reader("claim", read_claim, lambda: _files(*sorted((ROOT / "examples/claims").glob("*.toml"))),
               "toml", "toml", "welkinwell.studies.claim:read_fields"),
        Reader("experiment", read_experiment,
               lambda: _files(*sorted((LIBRARY / "experiments").glob("*.toml"))[:6]),
               "toml", "toml", "welkinwell.studies.experiments:_Reader._sorbents"),
        Reader("power-cut-hours", _read_hours,
               lambda: [b"off\n" + b"".join(b"%d\n" % (k % 24 in (18, 19, 20)) for k in range(8760))],
               "rows", "csv", "welkinwell.harvesters.power_cuts:read_lines", True),
    )
}  # fmt: skip
