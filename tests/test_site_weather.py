"""The weather of a place: plain tables and logs as a case or a file beside a weather file describes them."""

import json
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from welkinwell.case import explained, read_case
from welkinwell.climate import read_climate
from welkinwell.climate.hourly import weather_entry
from welkinwell.climate.moisture import saturation_pressures
from welkinwell.climate.relocate import correction_lines
from welkinwell.errors import CaseError, InputError
from welkinwell.site_weather import (
    case_climate,
    described_rows,
    descriptions_for,
    filed_climate,
    further_climate,
    place_climate,
)

COAST = Path(__file__).parents[1] / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
CASE = """schema_version = 1
[site]
name = "Somewhere"
weather = "{weather}"
{site}
[demand]
litres_per_day = "20 L/day"
[[harvester]]
name = "Gel box"
kind = "passive_box"
sorbent = "silica_gel_regular_density"
"""
COLUMNS = """[site.columns]
latitude = "-28.46 deg"
longitude = "114.55 deg"
elevation = "83 m"
utc_offset = "8 h"
time = "time"
stamp = "middle"
temperature = "T [degC]"
relative_humidity = "RH [%]"
ghi = "sun [W/m2]"
wind_speed = "wind [m/s]"
pressure = "p [hPa]"
"""
CORRECTION = """[site.correction]
log = "log.csv"
time = "t"
temperature = "air [degF]"
relative_humidity = "RH [%]"
"""


@pytest.fixture(scope="module")
def coast():
    return read_climate(COAST)


@pytest.fixture(scope="module")
def hours():
    table = pd.read_csv(COAST, skiprows=2)
    names = {
        "Temperature": "T",
        "Relative Humidity": "RH",
        "GHI": "sun",
        "Wind Speed": "wind",
        "Pressure": "p",
    }
    when = pd.to_datetime(table[["Year", "Month", "Day", "Hour", "Minute"]])
    return table[list(names)].rename(columns=names).set_index(when)


def assert_same_air(climate, coast):
    """All but two midnights: a snapshot there is half of another year, or of the 29 February left out."""
    off = np.abs(climate["temperature"].values - coast["temperature"].values) > 1e-6
    assert np.count_nonzero(off) <= 2


def write_table(path, hours, warmer=0.0):
    own = hours.assign(T=hours["T"] + warmer)
    own.insert(0, "time", hours.index.strftime("%Y-%m-%d %H:%M"))
    own.to_csv(path, index=False)
    return path


def write_log(path, climate, days=35, warmer=2.0, drier=0.8):
    """What a logger at a site 2 K warmer, with 0.8 of the vapour, would have written from 1 April 2020 on."""
    part = slice(91 * 24, (91 + days) * 24)
    at = climate["time"].values[part] + np.timedelta64(int(climate.attrs["instant_offset"]), "s")
    local = pd.to_datetime(at) + pd.Timedelta(hours=8) + pd.DateOffset(years=1)  # of the nominal year 2019
    warm = climate["temperature"].values[part] + warmer
    humid = drier * climate["vapour_pressure"].values[part] / saturation_pressures(warm)
    frame = pd.DataFrame(
        {"t": local.strftime("%Y-%m-%d %H:%M"), "air": (warm - 273.15) * 1.8 + 32, "RH": 100 * humid}
    )
    frame.to_csv(path, index=False)
    return path


def case_of(folder, site, weather=COAST):
    path = folder / "case.toml"
    path.write_text(CASE.format(weather=weather, site=site), encoding="utf-8")
    return path


def test_a_case_reads_a_plain_table_and_a_further_year_of_the_same_columns(tmp_path, hours, coast):
    write_table(tmp_path / "2020.csv", hours)
    write_table(tmp_path / "2021.csv", hours.set_index(hours.index + pd.DateOffset(years=1)), warmer=1.5)
    shutil.copy(COAST, tmp_path / "known.csv.gz")
    site = 'further_years = ["2021.csv", "known.csv.gz"]\n' + COLUMNS + "year = 2020\n"
    case = read_case(case_of(tmp_path, site, "2020.csv"))
    assert "a plain table: [site.columns] says which column is what" in "\n".join(explained(case))
    climate = case_climate(case)
    assert climate.attrs["site"] == "Somewhere"
    assert_same_air(climate, coast)
    np.testing.assert_array_equal(climate["time"].values, coast["time"].values)
    table, known = (further_climate(case, climate, path) for path in case.further_weather)
    assert float((table["temperature"] - climate["temperature"]).mean()) == pytest.approx(1.5, abs=1e-4)
    assert np.median(table["source_year"].values) == 2021
    np.testing.assert_array_equal(known["dni"].values, coast["dni"].values)
    row = described_rows(case, filed_climate(case))["site.columns"]
    assert row.rows == 8760 and row.cells[0].variable == "temperature"


def test_the_place_of_the_site_stands_for_that_of_the_station(tmp_path, hours):
    write_table(tmp_path / "2020.csv", hours)
    place = "\n".join(COLUMNS.splitlines()[1:4])
    bare = "[site.columns]\n" + "\n".join(COLUMNS.splitlines()[4:]) + "\n"
    case = read_case(case_of(tmp_path, f"{place}\n{bare}", "2020.csv"))
    assert case_climate(case).attrs["latitude"] == pytest.approx(-28.46)
    assert filed_climate(case).attrs["elevation"] == 83.0
    with pytest.raises(
        CaseError, match=r"case.toml, \[site.columns\], latitude: got nothing; expected a number"
    ):
        read_case(case_of(tmp_path, bare, "2020.csv"))


def test_a_log_corrects_the_years_of_a_case(tmp_path, coast):
    """Both years move by the rule that the first one gave; summary and attributes say what was done."""
    write_log(tmp_path / "log.csv", coast)
    shutil.copy(COAST, tmp_path / "again.csv.gz")
    case = read_case(case_of(tmp_path, 'further_years = ["again.csv.gz"]\n' + CORRECTION))
    assert "corrected by the log log.csv" in "\n".join(explained(case))
    climate = case_climate(case)
    warmer = climate["temperature"].values - coast["temperature"].values
    np.testing.assert_allclose(warmer, 2.0, atol=1e-6)
    ratio = climate["vapour_pressure"].values / coast["vapour_pressure"].values
    np.testing.assert_allclose(ratio, 0.8, rtol=1e-6)
    told = weather_entry(climate)["log_correction"]
    assert told["days"] == 35 and told["log"] == "log.csv" and len(told["log_hash"]) == 64
    assert told["temperature"]["file_mean"] - told["temperature"]["log_mean"] == pytest.approx(-2.0)
    lines = "\n".join(correction_lines(climate))
    assert "35 days of log.csv" in lines and "the file's bias is -2.00 K" in lines
    assert "hPa; the file's bias is +" in lines
    again = further_climate(case, climate, case.further_weather[0])
    np.testing.assert_allclose(again["temperature"].values, climate["temperature"].values)


def test_another_year_keeps_its_own_weather_under_the_same_rule(tmp_path, hours, coast):
    """A year 1.5 K warmer than the file stays so: its own mean is not drawn to the log's."""
    write_log(tmp_path / "log.csv", coast)
    write_table(tmp_path / "2020.csv", hours)
    write_table(tmp_path / "2021.csv", hours.set_index(hours.index + pd.DateOffset(years=1)), warmer=1.5)
    site = 'further_years = ["2021.csv"]\n' + COLUMNS + CORRECTION
    case = read_case(case_of(tmp_path, site, "2020.csv"))
    climate = case_climate(case)
    later = further_climate(case, climate, case.further_weather[0])
    assert float((later["temperature"] - climate["temperature"]).mean()) == pytest.approx(1.5, abs=1e-4)


def test_a_weather_file_with_a_description_beside_it(tmp_path, hours, coast):
    write_table(tmp_path / "own.csv", hours)
    (tmp_path / "own.toml").write_text('[site]\nname = "Lighthouse"\n' + COLUMNS)
    climate = place_climate(tmp_path / "own.csv", tmp_path / "own.toml")
    assert climate.attrs["site"] == "Lighthouse"
    assert_same_air(climate, coast)
    write_log(tmp_path / "log.csv", coast)
    (tmp_path / "log.toml").write_text(CORRECTION)
    corrected = place_climate(COAST, tmp_path / "log.toml")
    assert float((corrected["temperature"] - coast["temperature"]).mean()) == pytest.approx(2.0)
    both = case_of(tmp_path, COLUMNS + CORRECTION, "own.csv")
    as_case, as_file = place_climate(both), place_climate(tmp_path / "own.csv", both)
    np.testing.assert_array_equal(as_case["temperature"].values, as_file["temperature"].values)
    with pytest.raises(InputError, match=r"--columns: got .*expected a weather file to describe"):
        place_climate(both, tmp_path / "own.toml")


def test_which_description_is_for_which_file():
    files, told = [Path("a"), Path("b")], [Path("x"), Path("y")]
    assert descriptions_for(files, []) == [None, None]
    assert descriptions_for(files, told[:1]) == [told[0]] * 2
    assert descriptions_for(files, told) == told
    with pytest.raises(InputError, match="--columns: got 2 files; expected one for all weather files, or 1"):
        descriptions_for(files[:1], told)


@pytest.mark.parametrize(
    ("site", "words"),
    [
        (
            CORRECTION.replace("log.csv", "lgo.csv"),
            "[site.correction], log: got 'lgo.csv', which is not there",
        ),
        (
            CORRECTION.replace("RH [%]", "RH"),
            "[site.correction], relative_humidity: got 'RH'; expected the column",
        ),
        (CORRECTION.replace("temperature =", "temprature ="), "Did you mean 'temperature'?"),
        (CORRECTION + 'utc_offset = "20 h"', "[site.correction], utc_offset: got '20 h'"),
        ("columns = 3", "[site.columns]: got 3; expected a table that says which column is what"),
        (COLUMNS.replace("middle", "noon"), "[site.columns], stamp: got 'noon'"),
    ],
)
def test_what_is_wrong_in_a_case_is_told_with_its_place(tmp_path, coast, site, words):
    write_log(tmp_path / "log.csv", coast)
    with pytest.raises(CaseError) as told:
        read_case(case_of(tmp_path, site))
    assert words in str(told.value) and "case.toml, [site" in str(told.value)


def test_a_log_of_three_weeks_is_too_short(tmp_path, coast):
    write_log(tmp_path / "log.csv", coast, days=21)
    with pytest.raises(CaseError) as told:
        case_climate(read_case(case_of(tmp_path, CORRECTION)))
    words = str(told.value)
    assert "case.toml, [site.correction], log log.csv: got 21 days with at least 20 hours" in words


def test_the_correction_is_in_the_data_of_a_case(tmp_path, coast, capsys):
    from welkinwell.cli import exit_code

    write_log(tmp_path / "log.csv", coast)
    path = case_of(tmp_path, CORRECTION)
    assert exit_code(["check", str(path), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["weather"]["log_correction"]["temperature"]["shift"] == pytest.approx(2.0)
    assert data["site"]["correction"]["fields"]["log"]["value"] == "log.csv"
    assert data["weather"]["first_rows"]["site.correction"]["values"]["temperature"]["column"] == "air"
    assert exit_code(["check", str(path), "--all"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for words in (
        "[site.correction] time t Column of the stamps",
        "log log.csv File of the log, relative to the case file",
        "Correction by your own log 35 days of log.csv",
        "log.csv, as [site.correction] has it understood",
    ):
        assert words in out, words
