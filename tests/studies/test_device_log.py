"""Logs of built devices: what is read, what is refused and in which words, and days against the model."""

import datetime

import numpy as np
import pytest

from box_cases import SILICA, site_of
from welkinwell.errors import FileError
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.passive_box import PassiveBox
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import TOLERANCES, prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.device_log import on_the_logs_weather, read_device_log
from welkinwell.studies.monitor import hours_of, known_weather


def written(tmp_path, text):
    file = tmp_path / "log.csv"
    file.write_text(text, encoding="utf-8")
    return file


def daily(start, count, hour=None, litres=2.0):
    first = datetime.date.fromisoformat(start)
    stamps = [first + datetime.timedelta(days=k) for k in range(count)]
    clock = "" if hour is None else f"T{hour:02d}:00"
    return "time,litres [L]\n" + "".join(f"{day}{clock},{litres}\n" for day in stamps)


def hourly(start, days, columns, row):
    begin = datetime.datetime.fromisoformat(start)
    lines = [f"{begin + datetime.timedelta(hours=k + 1):%Y-%m-%dT%H:%M},{row(k)}" for k in range(24 * days)]
    return f"time,{columns}\n" + "\n".join(lines) + "\n"


def test_dates_alone_are_ends_of_days_and_morning_readings_belong_to_the_day_before(tmp_path):
    by_date = read_device_log(written(tmp_path, daily("2021-03-01", 10)))
    assert (by_date.first, by_date.first_day, by_date.days) == (datetime.date(2021, 3, 1), 59, 10)
    morning = read_device_log(written(tmp_path, daily("2021-03-02", 10, hour=7)))
    assert morning.first == datetime.date(2021, 3, 1)
    assert morning.day.tolist() == list(range(10))


def test_the_model_is_read_over_the_same_intervals(tmp_path):
    """Water of the model at noon only: a reading at 7 h holds yesterday's noon."""
    log = read_device_log(written(tmp_path, daily("2021-03-02", 10, hour=7)))
    model = np.zeros(24 * log.days)
    model[12::24] = 1.0 + np.arange(log.days)
    measured, expected = log.daily_litres(model)
    assert expected[1:10] == pytest.approx(2.0 + np.arange(9))
    assert measured[1:10] == pytest.approx(2.0)


def test_leap_day_is_left_out_and_the_calendar_goes_on(tmp_path):
    log = read_device_log(written(tmp_path, daily("2024-02-25", 10)))
    assert log.days == 9
    assert log.date(4) == datetime.date(2024, 3, 1)
    assert any("29 February" in words for words in log.warnings)
    assert np.isfinite(log.daily_litres(np.ones(24 * 9))[0]).sum() == 9


@pytest.mark.parametrize(
    "text",
    [
        daily("2024-02-29", 10),
        hourly("2024-02-29", 10, "litres [L],sun [W/m2]", lambda k: f"0.1,{k // 24}"),
    ],
)
def test_a_log_that_begins_on_a_leap_day_begins_on_the_first_of_march(tmp_path, text):
    """Its readings of 29 February are dropped, so that its first day is 1 March: day 59 of the model."""
    log = read_device_log(written(tmp_path, text))
    assert (log.first, log.first_day) == (datetime.date(2024, 3, 1), 59)
    assert log.days == 9 and log.date(8) == datetime.date(2024, 3, 9)
    assert any("29 February" in words for words in log.warnings)
    assert log.at[0] > 0.0 and log.at[-1] <= 9 * 86400.0
    whole = np.isfinite(log.daily_litres(np.ones(24 * 9))[0])
    assert whole[1:].all()
    if "sun" in log.values:
        climate = site_of("coast").climate
        laid = on_the_logs_weather(climate, log)[0]["ghi"].values.reshape(-1, 24)
        assert laid[58] == pytest.approx(climate["ghi"].values.reshape(-1, 24)[58])  # 28 February as filed
        assert laid[59].max() == pytest.approx(1.0)  # 1 March, the second day of the log


def test_a_log_that_ends_on_a_leap_day_ends_on_the_day_before(tmp_path):
    text = hourly("2024-02-20", 10, "litres [L]", lambda k: "0.1")
    cut = "\n".join(text.splitlines()[:-6]) + "\n"
    assert read_device_log(written(tmp_path, cut)).days == 9


def test_a_gap_loses_its_litres_and_says_so(tmp_path):
    text = daily("2021-05-01", 20).splitlines()
    log = read_device_log(written(tmp_path, "\n".join([*text[:8], *text[11:]]) + "\n"))
    assert "1 readings came more than 36 h" in log.warnings[0]
    assert np.isnan(log.daily_litres(np.ones(24 * 20))[0]).sum() == 4


def test_units_of_the_header_are_understood(tmp_path):
    text = hourly("2021-06-01", 8, "litres [mL],bed_temperature [degF],mood", lambda k: "100,212,fine")
    log = read_device_log(written(tmp_path, text))
    assert log.litres[0] == pytest.approx(0.1)
    assert log.sunny_mean("bed_temperature") == pytest.approx(373.15)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: t.replace("2021-03-04,2.0", "2021-03-04,two"), "line 5, column 'litres [L]': got 'two'"),
        (lambda t: t.replace("2021-03-04,2.0", "2021-03-04,-3"), "got -3; expected 0 to 1,000,000 L"),
        (lambda t: t.replace("2021-03-04", "the fourth"), "line 5, column 'time': got 'the fourth'"),
        (lambda t: t.replace("2021-03-04", "2021-03-02"), "line 5, column 'time'"),
        (lambda t: t.replace("[L]", "[K]"), "line 1, column 'litres [K]': got 'K'"),
        (lambda t: t.replace("litres [L]", "litres"), "no unit; expected a unit as in 'litres [m3]'"),
        (lambda t: t.replace("litres", "liters"), "Did you mean"),
        (lambda t: "\n".join(t.splitlines()[:4]), "3 readings; expected at least 7 days"),
        (lambda t: "", "an empty file"),
    ],
)
def test_bad_logs_are_refused_with_their_place(tmp_path, change, words):
    with pytest.raises(FileError) as told:
        read_device_log(written(tmp_path, change(daily("2021-03-01", 12))))
    assert words.lower() in str(told.value).lower().replace("[l]'", "[m3]'" if "m3" in words else "[l]'")


def test_the_logs_weather_is_laid_over_the_year(tmp_path):
    climate = site_of("coast").climate
    text = hourly(
        "2021-06-01",
        8,
        "litres [L],air_temperature [degC],relative_humidity [%],sun [W/m2]",
        lambda k: f"0.1,{20.0 + k % 24 / 10},50,{max(0, 900 - 150 * abs(k % 24 - 12))}",
    )
    log = read_device_log(written(tmp_path, text))
    laid, replaced = on_the_logs_weather(climate, log)
    assert replaced == ("air_temperature", "relative_humidity", "sun")
    first = 24 * log.first_day
    assert laid["temperature"].values[first : first + 24] == pytest.approx(293.15 + np.arange(24) / 10)
    assert laid["temperature"].values[:first] == pytest.approx(climate["temperature"].values[:first])
    # direct on the horizontal and diffuse make up the global sun that was logged
    noon = first + 12
    assert laid["ghi"].values[noon] == pytest.approx(900.0)
    assert laid["dhi"].values[noon] < 900.0


def test_the_files_own_weather_logged_gives_the_files_litres(tmp_path):
    """The file's temperature, humidity and global sun as a log: only the split of the sun is new."""
    climate, first = site_of("coast").climate, 100
    hours = slice(24 * first, 24 * (first + 10))
    warm, sun = climate["temperature"].values[hours], climate["ghi"].values[hours]
    humid = climate["vapour_pressure"].values[hours] / saturation_pressure(warm)
    text = hourly(
        "2021-04-11",
        10,
        "litres [L],air_temperature [degC],relative_humidity [1],sun [W/m2]",
        lambda k: f"0.1,{warm[k] - 273.15:.3f},{humid[k]:.4f},{sun[k]:.1f}",
    )
    log = read_device_log(written(tmp_path, text))
    assert log.first_day == first
    laid, replaced = on_the_logs_weather(climate, log)
    assert known_weather(climate, log, replaced) == ("warmth", "humidity", "sun")
    material = sorbent(SILICA)
    filed, logged = (
        hours_of(prepare(PassiveBox(), material, site), 24 * first, 240, TOLERANCES["fast"])[0].sum()
        for site in (site_of("coast"), surroundings(laid))
    )
    assert logged == pytest.approx(filed, rel=0.03)
    assert logged != filed
