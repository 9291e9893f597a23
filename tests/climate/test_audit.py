"""Every named warning and every repair, each provoked by one change to a real file."""

import json

import numpy as np
import pytest

from welkinwell.climate import read_climate
from welkinwell.errors import ClimateError

FIRST = 8  # header lines of the EPW file


def edit(lines, hours, **fields):
    """Set EPW fields (by position, f6="99.9") in some hours."""
    for hour in hours:
        row = lines[FIRST + hour].split(",")
        for position, cell in fields.items():
            old = row[int(position[1:])]
            row[int(position[1:])] = cell(old) if callable(cell) else cell
        lines[FIRST + hour] = ",".join(row)
    return lines


def audit(path):
    climate = read_climate(path)
    warnings = json.loads(climate.attrs["warnings"])
    return climate, {w.split(":")[0]: w for w in warnings}, json.loads(climate.attrs["repairs"])


def test_dew_point_slightly_above_air_is_clipped_and_counted(epw):
    hours = range(4000, 4300, 3)
    path = epw(lambda lines: edit(lines, hours, f6="20.0", f7="20.4", f8="100"))
    climate, warnings, repairs = audit(path)
    # RH of 103 % from the dew point is the same excess; the pair is clipped to saturation
    assert repairs["humidity_clipped"] == len(hours)
    assert "humidity_pair" in warnings
    from welkinwell.moist_air.saturation import saturation_pressure

    at = climate["vapour_pressure"].values[list(hours)]
    np.testing.assert_allclose(at, saturation_pressure(293.15))


def test_dew_point_far_above_air_in_few_hours_is_not_believed(epw):
    path = epw(lambda lines: edit(lines, range(4000, 4080), f6="20.0", f7="25.0", f8="60"))
    climate, warnings, repairs = audit(path)
    assert repairs["humidity_refused"] == 80
    assert "humidity_beyond" in warnings
    assert repairs["dew_point_from_humidity"] == 80
    from welkinwell.moist_air.saturation import saturation_pressure

    assert float(climate["vapour_pressure"][4040]) == pytest.approx(0.6 * saturation_pressure(293.15))


def test_dew_point_far_above_air_in_more_than_one_percent_is_refused(epw):
    path = epw(lambda lines: edit(lines, range(4000, 4100), f6="20.0", f7="25.0"))
    with pytest.raises(ClimateError, match=r"line 40\d\d, dew point: .*more than 0.5 K in 1.1 % of hours"):
        read_climate(path)


@pytest.mark.parametrize(
    ("humidity", "hours", "refused"), [("108", 2000, False), ("115", 80, False), ("115", 100, True)]
)
def test_relative_humidity_above_hundred(epw, humidity, hours, refused):
    path = epw(lambda lines: edit(lines, range(4000, 4000 + hours), f8=humidity))
    if refused:
        with pytest.raises(ClimateError, match=r"relative humidity above 110 % in 1\.1 % of hours"):
            read_climate(path)
        return
    _, _, repairs = audit(path)
    assert repairs["humidity_clipped" if humidity == "108" else "humidity_refused"] >= hours


def test_zero_humidity_without_dew_point_is_missing(epw):
    path = epw(lambda lines: edit(lines, range(4000, 4003), f7="99.9", f8="0"))
    _, warnings, repairs = audit(path)
    assert repairs["zero_humidity_missing"] == 3
    assert repairs["vapour_pressure_interpolated"] == 3
    assert "zero_humidity" in warnings and "gaps" in warnings


def test_a_pair_that_disagrees_is_told_and_the_dew_point_used(epw):
    path = epw(lambda lines: edit(lines, range(4000, 5000), f8=lambda old: str(min(99, int(old) + 20))))
    climate, warnings, _ = audit(path)
    plain, _, _ = audit(epw())
    assert "differ by over 5 points" in warnings["humidity_pair"]
    np.testing.assert_array_equal(climate["vapour_pressure"].values, plain["vapour_pressure"].values)


def test_a_run_of_identical_hours_is_told_and_the_converters_values_named(epw):
    path = epw(lambda lines: edit(lines, range(5000, 5600), f6="6.0", f7="3.0", f21="2.5"))
    _, warnings, _ = audit(path)
    runs = [w for w in json.loads(read_climate(path).attrs["warnings"]) if w.startswith("constant_run")]
    told = {w.split("hours of ")[1].split(" stand")[0]: w for w in runs}
    for name in ("temperature", "dew point", "wind speed"):
        assert "longest 600 h" in told[name] or "longest 601 h" in told[name]
        assert "at a value that converters put in" in told[name]
    assert "constant_run" in warnings


def test_five_identical_hours_are_not_told(epw):
    def change(lines):
        """Give every hour its own temperature, then five equal hours."""
        for hour in range(8760):
            edit(lines, [hour], f6=lambda old, h=hour: f"{float(old) + 0.001 * (h % 7):.3f}")
        return edit(lines, range(5000, 5005), f6="21.2345")

    _, _, _ = audit(epw(change))
    runs = [
        w
        for w in json.loads(read_climate(epw(change)).attrs["warnings"])
        if "hours of temperature stand" in w
    ]
    assert runs == []


def test_longwave_out_of_band_is_computed_instead(epw):
    path = epw(lambda lines: edit(lines, range(4000, 4100), f12="120"))
    climate, warnings, repairs = audit(path)
    assert repairs["sky_longwave_modelled"] == 100
    assert "longwave_range" in warnings
    black = 5.670374419e-8 * climate["temperature"].values ** 4
    share = climate["sky_longwave"].values / black
    assert share.min() > 0.55 and share.max() < 1.05


def test_missing_longwave_is_computed_from_the_files_sky_cover(epw):
    climate, warnings, _ = audit(epw(lambda lines: edit(lines, range(8760), f12="9999")))
    assert "longwave_modelled" in warnings
    assert climate.attrs["longwave_model"].endswith("cloud cover of the file")
    assert climate["sky_longwave"].attrs["how"] == "modelled"
    plain, _, _ = audit(epw())
    # Against the file's own (computed by another pair of formulas): no referee, but it must be near
    assert abs(float((climate["sky_longwave"] - plain["sky_longwave"]).mean())) < 5.0


def test_missing_cloud_is_estimated_and_total_cover_is_told(epw):
    path = epw(lambda lines: edit(lines, range(8760), f12="9999", f22="99", f23="99"))
    climate, warnings, _ = audit(path)
    assert "cloud_modelled" in warnings
    assert climate["cloud_cover"].attrs["how"] == "modelled"
    _, warnings, _ = audit(epw(lambda lines: edit(lines, range(8760), f23="99")))
    assert "total_cloud_cover" in warnings


def test_pressure_of_sea_level_on_a_plateau_is_told(epw):
    _, warnings, _ = audit(epw(lambda lines: edit(lines, range(8760), f9="101300")))
    assert "pressure_elevation" in warnings and "+2" in warnings["pressure_elevation"]
    climate, warnings, _ = audit(epw(lambda lines: edit(lines, range(8760), f9="999999")))
    assert "pressure_modelled" in warnings
    assert float(climate["pressure"].mean()) == pytest.approx(
        83060.0, rel=5e-3
    )  # 1650 m, standard atmosphere


def test_calms_are_told(epw):
    _, warnings, _ = audit(epw(lambda lines: edit(lines, range(0, 8760, 9), f21="0.0")))
    assert "calms" in warnings
    _, warnings, _ = audit(
        epw(lambda lines: edit(lines, range(8760), f21=lambda old: old if float(old) else "0.6"))
    )
    assert "calms" not in warnings


def shift_sun(lines, hours):
    suns = [line.split(",")[13:16] for line in lines[FIRST:]]
    for i in range(8760):
        row = lines[FIRST + i].split(",")
        row[13:16] = suns[(i - hours) % 8760]
        lines[FIRST + i] = ",".join(row)
    return lines


def test_sun_of_another_hour_is_told_then_refused(epw):
    _, warnings, _ = audit(epw())
    assert "sun_clock" not in warnings
    _, warnings, _ = audit(epw(lambda lines: shift_sun(lines, 1)))
    assert "minutes later" in warnings["sun_clock"]
    _, warnings, _ = audit(epw(lambda lines: shift_sun(lines, -1)))
    assert "minutes earlier" in warnings["sun_clock"]
    assert "sun_below_horizon" in warnings
    with pytest.raises(ClimateError, match=r"time zone -7 h and longitude -104\.65.*UTC or local"):
        read_climate(epw(lambda lines: shift_sun(lines, 7)))


def test_columns_of_the_sun_that_do_not_close_are_told_then_refused(epw):
    def sun(scale, swap=False):
        def change(lines):
            for i in range(FIRST, len(lines)):
                row = lines[i].split(",")
                row[14] = f"{float(row[14]) * scale:.0f}"
                if swap:
                    row[13], row[14] = row[14], row[13]
                lines[i] = ",".join(row)
            return lines

        return epw(change)

    _, warnings, _ = audit(epw())
    assert "sun_closure" not in warnings
    _, warnings, _ = audit(sun(0.85))
    assert "sun_closure" in warnings
    with pytest.raises(ClimateError, match="Two columns may be swapped"):
        read_climate(sun(1.0, swap=True))
    with pytest.raises(ClimateError, match="global, direct and diffuse sun"):
        read_climate(sun(0.001))


def test_no_sun_at_all_is_a_warning_not_an_error(epw):
    climate, warnings, _ = audit(epw(lambda lines: edit(lines, range(8760), f13="0", f14="0", f15="0")))
    assert "no_sun" in warnings
    assert float(climate["ghi"].sum()) == 0.0


def test_small_negatives_are_zero_and_counted(epw):
    night = [i for i in range(100, 108)]
    climate, _, repairs = audit(epw(lambda lines: edit(lines, night, f13="-3", f15="-3")))
    assert repairs["ghi_negative"] == repairs["dhi_negative"] == 8
    assert float(climate["ghi"].min()) == 0.0


@pytest.mark.parametrize(("hidden", "kept"), [("f14", "f15"), ("f15", "f14")])
def test_direct_or_diffuse_alone_is_completed(epw, hidden, kept):
    whole, _, _ = audit(epw())
    climate, warnings, _ = audit(epw(lambda lines: edit(lines, range(8760), **{hidden: "9999"})))
    name = {"f14": "dni", "f15": "dhi"}[hidden]
    assert "sun_modelled" in warnings
    assert climate[name].attrs["how"] == "modelled"
    assert float(climate[name].mean()) == pytest.approx(float(whole[name].mean()), rel=0.1)
    assert float(climate["ghi"].sum()) == float(whole["ghi"].sum())


def test_global_from_direct_and_diffuse(epw):
    whole, _, _ = audit(epw())
    climate, warnings, _ = audit(epw(lambda lines: edit(lines, range(8760), f13="9999")))
    assert "sun_modelled" in warnings
    assert float(climate["ghi"].mean()) == pytest.approx(float(whole["ghi"].mean()), rel=0.02)


def test_five_percent_missing_is_filled_and_more_refused(epw):
    climate, _, repairs = audit(epw(lambda lines: edit(lines, range(0, 8760, 21), f6="99.9")))
    assert repairs["temperature_interpolated"] + repairs["temperature_from_other_days"] == 418
    assert not np.isnan(climate["temperature"].values).any()
    with pytest.raises(
        ClimateError, match=r"temperature: got 5.9 % of hours missing; expected at most 5 % missing"
    ):
        read_climate(epw(lambda lines: edit(lines, range(0, 8760, 17), f6="99.9")))


def test_absent_rows_are_filled_and_counted(epw):
    climate, warnings, repairs = audit(epw(lambda lines: lines[:3000] + lines[3030:]))
    assert repairs["absent_hours"] == 30
    assert "absent_hours" in warnings
    assert climate.sizes["time"] == 8760
    with pytest.raises(ClimateError, match="8260 hours of a year"):
        read_climate(epw(lambda lines: lines[:-500]))


def test_impossible_rain_albedo_and_cloud_are_not_believed(epw):
    path = epw(lambda lines: edit(lines, range(4000, 4010), f32="7.5", f23="-4"))
    climate, warnings, repairs = audit(path)
    assert repairs["albedo_beyond_range"] == repairs["cloud_cover_beyond_range"] == 10
    assert "beyond_range" in warnings
    assert float(climate["albedo"].max()) <= 1.0


def test_empty_rain_and_albedo_columns_are_left_out(epw):
    path = epw(lambda lines: edit(lines, range(8760), f32="0.000", f33="0.0", f34="1"))
    climate, warnings, _ = audit(path)
    assert "albedo" not in climate and "precipitation" not in climate
    assert "no_rain" in warnings


def test_a_typical_year_and_where_humidity_comes_from_are_told(epw, weather):
    _, warnings, _ = audit(epw())
    assert "1991 to 2005" in warnings["typical_year"]
    assert "station_humidity" in warnings
    _, warnings, _ = audit(weather / "coast_western_australia_2020.csv.gz")
    assert "typical_year" not in warnings
    assert "modelled_humidity" in warnings


def test_source_letters_say_how_each_variable_was_got(epw):
    def change(lines):
        flags = "A7A7E7B8E8" + "A1E4E4" + "?0" * 5 + "C8A7A7"
        return edit(lines, range(8760), f5=flags)

    climate, _, _ = audit(epw(change))
    how = {name: climate[name].attrs["how"] for name in climate}
    assert how["temperature"] == how["vapour_pressure"] == how["ghi"] == how["cloud_cover"] == "measured"
    assert how["dni"] == how["dhi"] == "modelled"
    assert how["pressure"] == how["wind_speed"] == "filled"
