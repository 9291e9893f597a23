"""Logs of built devices: what is read, what is refused and in which words, and days against the model."""

import datetime

import numpy as np
import pytest

from box_cases import SILICA, site_of
from welkinwell.climate.column_map import DeviceColumns, read_device_columns, read_form
from welkinwell.errors import FileError, InputError
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.passive_box.design import PassiveBox
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


DESCRIBED = {
    "time": "Uhrzeit", "date": "Datum", "time_format": "%d.%m.%Y %H:%M", "decimal": "comma",
    "missing": ["--"], "litres": "Zähler (mL) [mL]", "running_total": True, "bed_temperature": "Bett [degF]",
    "relative_humidity": "r.F. [%]", "clock": "UTC",
}  # fmt: skip


def described_columns(**changes):
    problems = []
    given = {name: value for name, value in (DESCRIBED | changes).items() if value is not None}
    found = read_form(DeviceColumns, given, "case.toml, [device_log]", problems)
    assert problems == []
    return found


def test_a_log_with_columns_of_its_own_is_the_same_log(tmp_path):
    """In German, with a running total, decimal commas, Fahrenheit and UTC, two hours behind the site."""
    begin = datetime.datetime(2021, 6, 1)
    stamps = [begin + datetime.timedelta(hours=k + 1) for k in range(24 * 8)]
    litres = [0.1 + 0.01 * (k % 7) for k in range(24 * 8)]
    plain = "".join(
        f"{stamp:%Y-%m-%dT%H:%M},{'' if k == 0 else amount},{20.0 + k % 24},{30 if k % 5 else ''}\n"
        for k, (stamp, amount) in enumerate(zip(stamps, litres, strict=True))
    )
    (tmp_path / "plain.csv").write_text(
        f"time,litres [L],bed_temperature [degC],relative_humidity [%]\n{plain}"
    )
    total, rows = 5000.0, []
    for k, (stamp, amount) in enumerate(zip(stamps, litres, strict=True)):
        total += 1000.0 * amount
        utc = stamp - datetime.timedelta(hours=2)
        cells = [f"{utc:%d.%m.%Y}", f"{utc:%H:%M}", f"{total:.3f}", f"{(20.0 + k % 24) * 1.8 + 32.0:.6f}",
                 "30,0" if k % 5 else "--"]  # fmt: skip
        rows.append(";".join(cell.replace(".", ",") if i > 1 else cell for i, cell in enumerate(cells)))
    head = "Anlage 7;;;;\nDatum;Uhrzeit;Zähler (mL);Bett;r.F.\n"
    (tmp_path / "own.csv").write_text(head + "\n".join(rows) + "\n")
    expected = read_device_log(tmp_path / "plain.csv", 2.0)
    found = read_device_log(tmp_path / "own.csv", 2.0, described_columns())
    assert (found.first, found.first_day, found.days) == (expected.first, expected.first_day, expected.days)
    np.testing.assert_array_equal(found.at, expected.at)
    np.testing.assert_array_equal(found.since, expected.since)
    for name in expected.values:
        np.testing.assert_allclose(found.values[name], expected.values[name], rtol=1e-6, err_msg=name)
    told = found.first_reading()
    assert "2021-06-01 01:00 local standard time, litres missing, bed temperature 20 degC" in told


def test_a_meter_that_was_set_back_loses_that_row(tmp_path):
    text = daily("2021-05-01", 20).splitlines()
    totals = [3.0 * (k if k < 8 else k - 8) for k in range(20)]
    rows = [f"{line.split(',')[0]},{total}" for line, total in zip(text[1:], totals, strict=True)]
    file = written(tmp_path, "\n".join(["day,total", *rows]) + "\n")
    columns = DeviceColumns(time="day", litres="total [L]", running_total=True)
    log = read_device_log(file, 0.0, columns)
    assert "The running total fell 1 times" in log.warnings[0]
    assert np.flatnonzero(np.isnan(log.values["litres"])).tolist() == [0, 8]
    assert (log.first, log.days) == (datetime.date(2021, 5, 1), 20)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("day,litre count\n2021-03-01,2\n", "no column 'total'; expected one of 'day', 'litre count'"),
        ("day,total\n2021-03-01,two\n", "line 2, total: got 'two'; expected a number"),
        ("day,total\n2021-03-01,-3\n", "line 2, total: got -3 L; expected 0 to 1,000,000 L"),
        ("day,total\nfirst,3\n", "line 2, time: got 'first'; expected a time as"),
        ("when,total\n2021-03-01,3\n", "columns, time: got 'day'; expected a name in a heading line"),
        ("day,total\n2021-03-01,3\n2021-03-01,3\n", "line 3, column 'time': got 2021-03-02 00:00;"),
        ("day,total\n2021-03-01,3\n", "1 readings; expected at least 7 days"),
    ],
)  # fmt: skip
def test_a_log_that_is_not_as_described_is_told(tmp_path, text, words):
    with pytest.raises(InputError) as told:
        read_device_log(written(tmp_path, text), 0.0, DeviceColumns(time="day", litres="total [L]"))
    assert words in str(told.value), str(told.value)


def test_an_unknown_log_is_answered_with_a_block_that_works(tmp_path):
    begin = datetime.datetime(2021, 6, 1)
    rows = [
        f"{begin + datetime.timedelta(hours=k):%d/%m/%Y %H:%M},{5 + 0.1 * k:.1f},{k % 24}" for k in range(200)
    ]
    file = written(tmp_path, "\n".join(["Date Time,Water meter (L),Sorbent temp (°C)", *rows]) + "\n")
    with pytest.raises(FileError) as told:
        read_device_log(file)
    words = str(told.value)
    assert "A log with columns of its own is described: paste this into the case" in words
    block = tmp_path / "block.toml"
    block.write_text("[device_log]" + words.split("[device_log]", 1)[1], encoding="utf-8")
    log = read_device_log(file, 0.0, read_device_columns(block))
    assert np.nanmax(np.abs(log.litres - 0.1)) < 1e-9
    assert log.values["bed_temperature"][10] == pytest.approx(283.15)
