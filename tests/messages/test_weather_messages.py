"""The words of a refusal: the file, the line or field, what was given, what was expected, what to do."""

from pathlib import Path

import pytest

from welkinwell.climate import read_climate
from welkinwell.errors import ClimateError, FileError, InputError

DENVER = Path(__file__).parents[2] / "examples" / "weather" / "highland_denver_colorado_tmy3.epw.gz"


def told(path, **options):
    with pytest.raises(InputError) as refusal:
        read_climate(path, **options)
    return refusal.value


@pytest.fixture
def spoilt(tmp_path):
    import gzip

    def write(change, name="site.epw"):
        path = tmp_path / name
        path.write_text("\n".join(change(gzip.decompress(DENVER.read_bytes()).decode().splitlines())))
        return path

    return write


def one_cell(line, position, new):
    def change(lines):
        row = lines[line - 1].split(",")
        row[position] = new
        lines[line - 1] = ",".join(row)
        return lines

    return change


def test_missing_file_and_folder(tmp_path):
    refusal = told(tmp_path / "nowhere.epw")
    assert isinstance(refusal, FileError)
    assert "nowhere.epw: got no such file; expected a weather file. Check the path" in str(refusal)
    assert "got a folder" in str(told(tmp_path))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "got an empty file"),
        (b"  \n \n", "got an empty file"),
        (
            b"\x7fELF\x00\x00",
            "got a NUL character; expected a weather file, a text file (plain",
        ),
        (b"\x1f\x8bnot gzip at all", "damaged gzip file"),
        (b"hello world\n1,2,3\n", "line 1: got 'hello world'; expected the first line of a weather file"),
    ],
)
def test_wrong_kind_of_file(tmp_path, content, words):
    path = tmp_path / "weather.dat"
    path.write_bytes(content)
    refusal = told(path)
    assert isinstance(refusal, FileError)
    assert words in str(refusal)
    assert "weather.dat" in str(refusal)


def test_text_in_a_number(spoilt):
    refusal = told(spoilt(one_cell(500, 6, "warm")))
    assert isinstance(refusal, ClimateError)
    assert str(refusal).startswith("site.epw, line 500, dry bulb temperature: got 'warm'; expected a number")


def test_value_out_of_range_names_line_field_value_range_and_code(spoilt):
    words = str(told(spoilt(one_cell(501, 13, "5000"))))
    assert words.startswith(
        "site.epw, line 501, global horizontal radiation: got 5000 Wh/m2; expected -20 to 1500 Wh/m2, "
        "or 9999 for missing."
    )


def test_impossible_date(spoilt):
    assert "line 502, month: got 13; expected a whole number from 1 to 12" in str(
        told(spoilt(one_cell(502, 1, "13")))
    )
    assert "line 503, hour: got 25; expected a whole number from 1 to 24" in str(
        told(spoilt(one_cell(503, 3, "25")))
    )
    assert "line 504, day: got 32; expected a whole number from 1 to 31" in str(
        told(spoilt(one_cell(504, 2, "32")))
    )


def test_truncated(spoilt):
    words = str(told(spoilt(lambda lines: [*lines[:5000], lines[5000][:40]])))
    assert "site.epw, line 5001: got" in words and "The file may be cut short" in words
    words = str(told(spoilt(lambda lines: lines[:5000])))
    assert "got 4992 hours of a year; expected 8760, of which at most 5 % may be missing" in words


def test_header(spoilt):
    words = str(told(spoilt(one_cell(1, 6, "123.4"))))
    assert "site.epw, line 1, latitude: got '123.4'; expected a number from -90 to 90" in words
    assert "DATA PERIODS" in str(told(spoilt(lambda lines: lines[:7] + lines[8:])))


def test_an_hour_twice(spoilt):
    words = str(told(spoilt(lambda lines: [*lines[:100], lines[99], *lines[100:]])))
    assert "site.epw, line 101: got the hour of line 100 again" in words
    assert "not summer time" in words


def test_unknown_option_offers_the_nearest():
    words = str(told(DENVER, wind_hieght=2.0))
    assert "option wind_hieght" in words and "Did you mean 'wind_height'?" in words
    assert "got -5; expected a number from 0.5 to 300" in str(told(DENVER, wind_height=-5))
    assert "Did you mean 'nsrdb'?" in str(told(DENVER, kind="nsrbd"))


def test_nsrdb_and_tmy3_headers(tmp_path):
    path = tmp_path / "sun.csv"
    path.write_text("Source,Location ID,Latitude\nNSRDB,1,ninety\nYear,Month\n2020,1\n")
    assert "sun.csv, line 2, Time Zone: got nothing" in str(told(path))
    path.write_text("1,A,B,zone,1,2,3\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2)\n01/01/1988,01:00,0\n")
    words = str(told(path))
    assert "no column DNI (W/m^2), DHI (W/m^2)" in words


def test_pvgis_json(tmp_path):
    path = tmp_path / "tmy.json"
    path.write_text('{"inputs": {"location"')
    assert "broken JSON" in str(told(path))
    path.write_text(
        '{"inputs": {"location": {"latitude": 45, "longitude": 8, "elevation": 250}}, "outputs": {}}'
    )
    assert "no 'tmy_hourly'" in str(told(path))


def test_a_table_tells_every_wrong_option_at_once(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text("when,T\n2024-01-01T00:00,20\n")
    refusal = told(
        path, columns={"time": "when", "temprature": "T [degC]"}, stamp="beginning", latitude=95, elevaton=3
    )
    words = str(refusal)
    for part in (
        "Did you mean 'temperature'?",
        "expected start, middle or end",
        "latitude: got 95; expected a number from -90 to 90",
        "Did you mean 'elevation'?",
        "wind_speed among them",
    ):
        assert part in words
    assert len(refusal.problems) >= 7


TABLE = {"latitude": 10.0, "longitude": 20.0, "elevation": 5.0, "utc_offset": 1.0, "stamp": "end"}
MAP = {
    "time": "when",
    "temperature": "T [degC]",
    "relative_humidity": "RH [%]",
    "ghi": "G [W/m2]",
    "wind_speed": "V [m/s]",
}


@pytest.mark.parametrize(
    ("change", "row", "words"),
    [
        (
            {"temperature": "T [kg]"},
            "2024-01-01T00:00,20,50,0,1",
            "columns, temperature: got T [kg]; expected a unit of K",
        ),
        ({"temperature": "T"}, "2024-01-01T00:00,20,50,0,1", "a unit of K in square brackets"),
        ({"ghi": "G [mm]"}, "2024-01-01T00:00,20,50,0,1", "or a sum over the row"),
        ({"wind_speed": "wind [m/s]"}, "2024-01-01T00:00,20,50,0,1", "no column 'wind'"),
        ({}, "yesterday,20,50,0,1", "line 2, time: got 'yesterday'; expected a time as 2024-01-31T23:00"),
        ({}, "2024-01-01T00:00,20,50,zero,1", "line 2, G: got 'zero'; expected a number"),
        (
            {},
            "2024-01-01T00:00,20,50",
            "line 2: got 3 fields; expected at least 5, as a row of",
        ),
    ],
)
def test_tables(tmp_path, change, row, words):
    path = tmp_path / "own.csv"
    path.write_text(f"when,T,RH,G,V\n{row}\n2024-01-01T01:00,20,50,0,1\n")
    assert words in str(told(path, columns=MAP | change, **TABLE))


def test_rows_too_far_apart(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text(
        "when,T,RH,G,V\n" + "".join(f"2024-01-01T{h:02d}:00,20,50,0,1\n" for h in range(0, 24, 3))
    )
    assert "rows 180 minutes apart; expected an hour or an even part of one" in str(
        told(path, columns=MAP, **TABLE)
    )
