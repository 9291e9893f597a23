"""A planner's own logger CSV goes through `site`, `check` and `run` from the command line, without Python.

docs/how_to/bring_your_own_weather.md tells this walk. The table is the desert's year of examples/weather
under a logger's headings: ten-minute rows, semicolons, decimal commas, and a clock with summer time.
"""

import json
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from welkinwell.case import starter_file
from welkinwell.cli import exit_code
from welkinwell.climate import read_climate
from welkinwell.climate.column_map import LogCorrection, WeatherColumns, read_form

DESERT = Path(__file__).parents[2] / "examples" / "weather" / "desert_daggett_california_tmy.csv.gz"
TITLES = {
    "Temperature": "Lufttemperatur (°C)",
    "Dew Point": "Taupunkt (°C)",
    "GHI": "Globalstrahlung (W/m²)",
    "Wind Speed": "Windgeschwindigkeit (km/h)",
}
PLACE = (("deg", "34.85"), ("deg", "-116.78"), ("m", "561"), ("h", "-8"), ("", "America/Los_Angeles"))


def logger_table(path, minutes=10):
    """The desert's year as a logger in summer time would write it, each row stamped at its end."""
    table = pd.read_csv(DESERT, skiprows=2)
    middle = pd.to_datetime(table[["Year", "Month", "Day", "Hour", "Minute"]].assign(Year=2023))
    own = table[list(TITLES)].assign(**{"Wind Speed": 3.6 * table["Wind Speed"]}).rename(columns=TITLES)
    rows = 60 // minutes
    begin = middle - pd.Timedelta(minutes=30) + pd.Timedelta(hours=8)
    ends = np.repeat(begin.values, rows) + np.tile(np.arange(1, rows + 1), 8760) * np.timedelta64(
        minutes, "m"
    )
    shown = pd.DatetimeIndex(ends).tz_localize("UTC").tz_convert("America/Los_Angeles")
    own = own.loc[own.index.repeat(rows)]
    own.insert(0, "Datum/Zeit", shown.strftime("%d.%m.%Y %H:%M"))
    body = own.to_csv(index=False, sep=";", decimal=",", float_format="%.2f")
    path.write_text("Wetterstation;;;;\n" + body, encoding="latin-1")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("planner")
    logger_table(folder / "station.csv")
    return folder


def said(arguments, capsys, code=0):
    capsys.readouterr()
    assert exit_code([str(one) for one in arguments]) == code
    told = capsys.readouterr()
    return told.out if code == 0 else told.err


def block_of(words):
    return "[site.columns]" + words.split("[site.columns]", 1)[1]


def filled_in(block):
    for unit, value in PLACE:
        end = f' {unit}"' if unit else '"'
        assert f'"FILL IN{end}' in block
        block = block.replace(f'"FILL IN{end}', f'"{value}{end}', 1)
    return block


@pytest.fixture(scope="module")
def described(folder):
    """The block that the refusal proposes, with the place filled in, in a file of its own."""
    from welkinwell.errors import FileError

    with pytest.raises(FileError) as refusal:
        read_climate(folder / "station.csv")
    path = folder / "station.toml"
    path.write_text(filled_in(block_of(str(refusal.value))), encoding="utf-8")
    return path


@pytest.mark.parametrize("command", ["site", "limits"])
def test_an_unknown_table_is_answered_with_a_block(folder, command, capsys):
    words = said([command, folder / "station.csv", "-o", folder / "out"], capsys, 2)
    assert "station.csv, line 1: got 'Wetterstation;;;;'; expected the first line of a weather file" in words
    assert "Paste this into the case below [site] (or into a file of its own, given with --columns)" in words
    assert words.count("FILL IN") == 6  # the sentence, four of the place, and the zone of the clock
    table = tomllib.loads(block_of(words))["site"]["columns"]
    assert table["temperature"] == "Lufttemperatur (°C) [degC]" and table["decimal"] == "comma"


def test_a_block_that_was_not_filled_in_says_what_is_missing(folder, capsys):
    words = said(["site", folder / "station.csv", "-o", folder / "out"], capsys, 2)
    blank = folder / "blank.toml"
    blank.write_text(block_of(words), encoding="utf-8")
    words = said(["site", folder / "station.csv", "--columns", blank, "-o", folder / "out"], capsys, 2)
    for key in ("latitude", "longitude", "elevation", "utc_offset"):
        assert f"blank.toml, [site.columns], {key}: got 'FILL IN" in words
    assert "Traceback" not in words


def test_site_and_limits_read_the_table(folder, described, capsys):
    options = [folder / "station.csv", "--columns", described, "--json"]
    site = json.loads(said(["site", *options, "-o", folder / "site"], capsys))
    known = json.loads(said(["site", DESERT, "-o", folder / "known", "--json"], capsys))
    for name in ("night_vapour_pressure", "sun_on_plane"):
        np.testing.assert_allclose(site["by_month"][name], known["by_month"][name], rtol=0.05, err_msg=name)
    assert site["site"]["latitude"] == pytest.approx(34.85)
    assert (folder / "site" / "site.html").is_file()
    limits = json.loads(said(["limits", *options], capsys))
    assert limits["site"]["elevation"] == 561.0


def case_with(folder, described, more=""):
    """The starter case with its first harvester, its weather replaced as the how-to says."""
    text = starter_file("cases", "starter.toml").decode().split("\n[[harvester]]\n")
    text = f"{text[0]}\n[[harvester]]\n{text[1]}"
    head, demand = text.split("[demand]", 1)
    head = head.replace("@WEATHER@", "station.csv")
    path = folder / "case.toml"
    path.write_text(f"{head}{described.read_text()}{more}\n[demand]{demand}", encoding="utf-8")
    return path


def test_check_reads_it_back_and_shows_the_first_row(folder, described, capsys):
    out = " ".join(said(["check", case_with(folder, described)], capsys).split())
    for words in (
        "a plain table: [site.columns] says which column is what",
        "station.csv, as [site.columns] has it understood",
        "52560 rows, 10 minutes apart; the first, line 3, is stamped '01.01.2023 00:10'",
        "2023-01-01 00:10 local standard time (UTC-8), 2023-01-01 08:10 UTC",
        "it speaks for 2023-01-01 00:00 to 2023-01-01 00:10 local standard time (UTC-8)",
        "Outdoor air temperature -1 degC from '-1' in 'Lufttemperatur (°C)'",
        "Wind speed at the height of measurement 3.4 m/s from '12,24' in 'Windgeschwindigkeit (km/h)'",
        "station.csv (34.85, -116.78, 561 m)",
        "Nothing is wrong with this case.",
    ):
        assert words in out, words


def test_run_simulates_it(folder, described, capsys):
    """But for the split of the sun the table is the desert's year, and so are its litres."""
    case = case_with(folder, described)
    own = json.loads(said(["run", case, "-o", folder / "own", "--json"], capsys))
    assert (folder / "own" / "report.html").is_file()
    text = case.read_text()
    before, after = text.split("\n[site.columns]\n", 1)
    known = folder / "known.toml"
    known.write_text(
        before.replace("station.csv", str(DESERT)) + "\n[demand]\n" + after.split("\n[demand]\n", 1)[1]
    )
    file = json.loads(said(["run", known, "-o", folder / "file", "--json"], capsys))
    litres = [answer["harvesters"][0]["litres_per_m2_day"] for answer in (own, file)]
    assert litres[0] == pytest.approx(litres[1], rel=0.05) and litres[0] > 0.05


def test_rank_takes_the_table(folder, described, capsys):
    given = ["rank", folder / "station.csv", "--columns", described, "--only", "silica_gel_regular_density"]
    ranked = json.loads(said([*given, "--masses", "4, 8 kg/m2", "--json"], capsys))
    (place,) = ranked["places"]
    assert place["sheets"][0]["best"]["litres_per_m2_day"] > 0.05


@pytest.mark.parametrize(
    "arguments",
    [
        ["site", "{csv}", "-o", "{out}"],
        ["limits", "{csv}"],
        ["rank", "{csv}"],
        ["compare", "{case}", "--weather", "{csv}"],
        ["check-claim", "--per-kwh", "2 L/kWh", "--temperature", "25 degC", "--weather", "{csv}"],
        ["monitor", "{case}", "{csv}"],
    ],
)  # fmt: skip
def test_a_description_that_is_not_there_is_told_by_every_command(folder, described, arguments, capsys):
    places = {"csv": folder / "station.csv", "out": folder / "out", "case": case_with(folder, described)}
    given = [one.format(**places) for one in arguments]
    words = said([*given, "--columns", folder / "statoin.toml"], capsys, 2)
    assert "statoin.toml: got no such file; expected a TOML file that says which column is what." in words
    assert "Did you mean 'station.toml'?" in words


def test_a_month_of_own_readings_corrects_the_file(folder, described, capsys):
    """A log of the site, 2 K cooler than the file in May: `check` says so, `site` uses it."""
    climate = read_climate(DESERT)
    part = slice(120 * 24, 160 * 24)
    local = pd.to_datetime(climate["time"].values[part]) + pd.Timedelta(minutes=30, hours=-8)
    frame = pd.DataFrame({
        "Zeit": local.strftime("%d.%m.%Y %H:%M"),
        "Temp. (°C)": climate["temperature"].values[part] - 275.15,
        "Dampfdruck (hPa)": climate["vapour_pressure"].values[part] / 100.0,
    })  # fmt: skip
    frame.to_csv(folder / "garden.csv", index=False, sep=";", decimal=",")
    words = said(["site", folder / "garden.csv", "-o", folder / "out"], capsys, 2)
    assert "can correct a weather file of the place" in words
    block = "[site.correction]" + words.split("[site.correction]", 1)[1]
    case = case_with(folder, described, block)
    out = " ".join(said(["check", case], capsys).split())
    assert "Correction by your own log 40 days of garden.csv" in out
    assert "the file's bias is +2.0" in out or "the file's bias is +1.9" in out
    (folder / "garden.toml").write_text(block)
    given = ["site", DESERT, "--columns", folder / "garden.toml", "-o", folder / "out", "--json"]
    site = json.loads(said(given, capsys))
    assert site["weather"]["log_correction"]["days"] == 40
    assert site["weather"]["log_correction"]["temperature"]["shift"] == pytest.approx(-2.0, abs=0.05)
    as_case = json.loads(said(["site", case, "-o", folder / "out", "--json"], capsys))
    assert as_case["weather"]["log_correction"]["days"] == 40


def test_the_starter_case_shows_both_tables_as_they_are_read():
    """[site.columns] and [site.correction] of the starter's comments, with the # taken away."""
    lines = starter_file("cases", "starter.toml").decode().splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("# [site.columns]"))
    last = next(i for i, line in enumerate(lines) if line == "[demand]")
    site = tomllib.loads("\n".join(line.removeprefix("# ") for line in lines[first:last]))["site"]
    problems = []
    columns = read_form(WeatherColumns, site["columns"], "columns", problems)
    correction = read_form(LogCorrection, site["correction"], "correction", problems)
    assert problems == []
    assert columns.named()["ghi"] == "Solar [W/m2]" and correction.log == "logger.csv"
