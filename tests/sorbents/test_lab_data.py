"""What a laboratory hands in: units in the header, both branches, AIF, bad input by file, line, column."""

from pathlib import Path

import numpy as np
import pytest

from welkinwell.constants import WATER_MOLAR_MASS
from welkinwell.errors import FileError
from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.sorbents.lab_data import read_lab_points, read_uptake

DATA = Path(__file__).parent / "data"
HEADER = "temperature [degC],relative_humidity [1],loading [kg/kg]\n"
GOOD = "".join(f"25,{rh},{0.3 * rh}\n" for rh in (0.1, 0.2, 0.3, 0.5, 0.7))


def written(tmp_path, text, name="mine.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def problems(path, read=lambda path: read_lab_points([path])):
    with pytest.raises(FileError) as caught:
        read(path)
    return [str(problem) for problem in caught.value.problems]


def test_units_are_those_of_the_header(tmp_path):
    plain = read_lab_points([written(tmp_path, HEADER + GOOD)])
    rows = "".join(f"298.15,{100 * rh},{300 * rh}\n" for rh in (0.1, 0.2, 0.3, 0.5, 0.7))
    other = written(tmp_path, "# a comment\nTemperature [K],relative humidity [%],loading [mg/g]\n" + rows)
    pressures = "".join(
        f"25,{rh * saturation_pressure(298.15) / 100},{0.3 * rh / WATER_MOLAR_MASS}\n"
        for rh in (0.1, 0.2, 0.3, 0.5, 0.7)
    )
    molar = written(
        tmp_path, "temperature [degC],pressure [mbar],loading [mol/kg]\n" + pressures, "molar.csv"
    )
    for again in (read_lab_points([other]), read_lab_points([molar])):
        assert np.allclose(again.temperature, plain.temperature)
        assert np.allclose(again.pressure, plain.pressure, rtol=1e-12)
        assert np.allclose(again.loading, plain.loading, rtol=1e-12)


def test_branches_and_left_out_points(tmp_path):
    text = "temperature [degC],relative_humidity [1],loading [kg/kg],branch\n"
    text += "".join(f"25,{rh},{0.3 * rh},ads\n" for rh in (0.1, 0.2, 0.3, 0.5, 0.7))
    text += "25,0.4,0.2,des\n25,1.0,0.9,ads\n25,0,0,ads\n"
    points = read_lab_points([written(tmp_path, text)])
    assert points.branch(False).loading.size == 5
    assert points.branch(True).loading.tolist() == [0.2]
    assert points.warnings == (
        "1 points at or above saturation were left out: they tell of liquid water.",
        "1 points without water or vapour were left out.",
    )


def test_every_bad_value_is_named_at_once(tmp_path):
    text = HEADER + "25,0.1,0.1\n25,x,0.2\n25,0.3,-5\n999,0.3,0.2\n25,0.4\n25,40,0.3\n"
    assert problems(written(tmp_path, text)) == [
        "mine.csv: line 3, column 'relative_humidity [1]': got 'x'; expected a number: 0 to 1.2 (a fraction, "
        "or % in the header)",
        "mine.csv: line 4, column 'loading [kg/kg]': got -5 kg/kg; expected 0 to 100 kg/kg of dry sorbent",
        "mine.csv: line 5, column 'temperature [degC]': got 999 degC; expected -50 to 300 degC",
        "mine.csv: line 6: got 25,0.4; expected 3 values",
        "mine.csv: line 7, column 'relative_humidity [1]': got 40; expected 0 to 1.2 (a fraction, or % in "
        "the header)",
    ]


@pytest.mark.parametrize(
    ("header", "message"),
    [
        (
            "temperature,relative_humidity [1],loading [kg/kg]",
            "mine.csv: line 1, column 'temperature': got no unit; expected a unit in the header, as in "
            "'temperature [degC]'",
        ),
        (
            "temperature [degC],relative_humidity [1],loading [kg]",
            "mine.csv: line 1, column 'loading [kg]': got 'kg'; expected a unit of the kind '1' or 'mol/kg'",
        ),
        (
            "temperature [degC],relative_humidity [1],loadng [kg/kg]",
            "Did you mean 'loading'?",
        ),
        ("temperature [degC],loading [kg/kg]", "expected one column of relative_humidity or pressure"),
    ],
)
def test_bad_headers(tmp_path, header, message):
    assert any(message in line for line in problems(written(tmp_path, header + "\n" + GOOD)))


def test_too_few_points_and_empty_files(tmp_path):
    assert problems(written(tmp_path, HEADER + "25,0.1,0.1\n")) == [
        "mine.csv: got 1 usable points of uptake; expected at least 5 points"
    ]
    assert "got an empty file" in problems(written(tmp_path, ""))[0]
    assert (
        "got 'up'; expected ads or des"
        in problems(written(tmp_path, HEADER.replace("\n", ",branch\n") + "25,0.1,0.1,up\n"))[0]
    )


def test_aif_written_by_another_library():
    """pygaps 4.6.1 wrote it: 298.15 K, Pa, mmol/g, six points up and two down."""
    points = read_lab_points([DATA / "water_written_by_pygaps.aif"])
    assert points.branch(False).pressure.tolist() == [100, 300, 600, 1200, 2000, 2800]
    assert points.branch(False).loading[1] == pytest.approx(3.0 * WATER_MOLAR_MASS)
    assert points.branch(True).pressure.tolist() == [2000, 800]
    assert points.temperature[0] == 298.15


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("'water'", "'nitrogen'", "_exptl_adsorptive: got 'nitrogen'; expected water"),
        ("_units_loading 'mmol/g'", "_units_loading 'cm3/g'", "_units_loading: got 'cm3/g'"),
        (
            "_exptl_temperature 298.15",
            "_exptl_temperature ?",
            "_exptl_temperature: got ''; expected a number",
        ),
        ("300 3.0", "300 many", "_adsorp_amount, row 2: got 'many'; expected a number"),
        ("loop_", "lop_", "got text that is no AIF"),
    ],
)
def test_bad_aif(tmp_path, old, new, message):
    text = (DATA / "water_written_by_pygaps.aif").read_text()
    assert old in text
    assert any(message in line for line in problems(written(tmp_path, text.replace(old, new, 1), "bad.aif")))


def test_uptake_curves_are_split_by_state(tmp_path):
    text = "time [min],loading [kg/kg],temperature [degC],relative_humidity [1]\n"
    text += "".join(f"{i},{0.1 * i},25,0.4\n" for i in range(6)) + "".join(
        f"{i},{0.1 * i},40,0.4\n" for i in range(5)
    )
    first, second = read_uptake(written(tmp_path, text))
    assert first.time.tolist() == [0, 60, 120, 180, 240, 300]
    assert second.temperature == pytest.approx(313.15)
    short = text + "0,0.1,60,0.4\n"
    assert problems(written(tmp_path, short), read_uptake) == [
        "mine.csv: curve 3: got 1 points; expected at least 5 points of one state"
    ]
