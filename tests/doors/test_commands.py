"""The command as a person starts it: help, exit codes, the starter case, the crash file."""

import json
import re
import resource
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import welkinwell.case
from welkinwell import compile_cache
from welkinwell.case import STARTER_WEATHER, TABLES, Tank, explained, read_case, write_starter_case
from welkinwell.cli import exit_code
from welkinwell.cli.compiling import say_what_compiles
from welkinwell.declare import declared_fields
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.power_cuts import PowerCuts
from welkinwell.supply.field import Field
from welkinwell.supply.power import OffGridSupply
from welkinwell.supply.sound_level import SoundPlace

EXAMPLES = Path(__file__).parents[2] / "examples"
COMMANDS = (
    *("new", "check", "run", "site", "limits", "schema", "check-claim", "rank", "validate"),
    *("losses", "uncertainty", "compare", "optimise", "reach"),
)
HEAVY = ("numpy", "numba", "pandas", "xarray", "scipy", "pvlib", "altair", "dask", "pint", "jinja2")


def command(*arguments, cwd=None):
    return subprocess.run(
        [sys.executable, "-m", "welkinwell", *arguments], capture_output=True, text=True, cwd=cwd, check=False
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name, capsys):
    assert exit_code([name, "--help"]) == 0
    assert f"Example: welkinwell {name}" in " ".join(capsys.readouterr().out.split())


def test_help_is_quick():
    """At most twice the processor time of the library that prints it, best of five; nothing heavy is in."""

    def spent(*arguments):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    library = ("-c", "import typer.rich_utils, rich.markdown, rich.traceback")
    pairs = [(spent("-m", "welkinwell", "--help"), spent(*library)) for _ in range(5)]
    assert min(ours for ours, _ in pairs) < 2.0 * min(other for _, other in pairs)
    probe = f"import sys, welkinwell.cli; print([m for m in {HEAVY!r} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["chek", "case.toml"], "Did you mean 'check'"),
        (["run"], "Missing argument 'CASE'"),
        (["run", "case.toml"], "Missing option '-o'"),
        (["check", "--al", "case.toml"], "No such option"),
    ],
)
def test_a_wrong_command_line_is_explained(arguments, words, capsys):
    assert exit_code(arguments) == 2
    assert words in capsys.readouterr().err


def test_version(capsys):
    assert exit_code(["--version"]) == 0
    assert capsys.readouterr().out.startswith("welkinwell 0.")


def test_bad_input_as_a_process(tmp_path):
    (tmp_path / "case.toml").write_text("schema_version = 2\n")
    done = command("check", "case.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith("welkinwell: case.toml, schema_version: got 2; expected 1")
    assert "Traceback" not in done.stderr and done.stdout == ""
    assert [p.name for p in tmp_path.iterdir()] == ["case.toml"]


def test_our_own_fault_leaves_a_crash_file(tmp_path, monkeypatch, capsys):
    def broken(path):
        raise ZeroDivisionError("the sun went out")

    monkeypatch.setattr(welkinwell.case, "read_case", broken)
    monkeypatch.chdir(tmp_path)
    assert exit_code(["check", "my case.toml"]) == 1
    (crash,) = tmp_path.glob("*.crash.txt")
    said = capsys.readouterr().err
    assert str(crash) in said and "Traceback" not in said
    text = crash.read_text()
    for words in (
        "welkinwell check 'my case.toml'",
        "ZeroDivisionError: the sun went out",
        "numba ",
        "Python 3.",
    ):
        assert words in text


def test_a_crash_file_where_the_current_folder_is_gone(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(welkinwell.case, "read_case", lambda path: 1 / 0)
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    assert exit_code(["check", "case.toml"]) == 1
    place = Path(capsys.readouterr().err.split("the details are in ")[1].split(";")[0])
    assert "ZeroDivisionError" in place.read_text()
    place.unlink()


def test_stopping_is_no_fault(tmp_path, monkeypatch, capsys):
    def interrupted(path):
        raise KeyboardInterrupt

    monkeypatch.setattr(welkinwell.case, "read_case", interrupted)
    monkeypatch.chdir(tmp_path)
    assert exit_code(["check", "case.toml"]) == 130
    assert "stopped" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_new_then_check(tmp_path, capsys):
    folder = tmp_path / "a" / "b"
    assert exit_code(["new", str(folder)]) == 0
    assert sorted(p.name for p in folder.iterdir()) == sorted(["case.toml", STARTER_WEATHER])
    assert str(folder / "case.toml") in capsys.readouterr().out
    assert exit_code(["check", str(folder / "case.toml")]) == 0
    out = capsys.readouterr().out
    for words in (
        "Tern Hollow ranger post",
        "Invented scenario",
        "Demand: 20 L/day for drinking: 4 residents at 4 L and 8 visitors at 0.5 L",
        "Tank: 300 L in the shade, 15 days of the demand when full",
        "Harvester 1 of 3: Silica gel box",
        "9 modules of 2 m2, 18 m2 of aperture in all",
        "144 kg of dry sorbent in all",
        "passive solar box (one cycle a day)",
        "8760 hours",
        "caution: ",
        "Nothing is wrong with this case",
    ):
        assert words in out, words


def test_new_leaves_areas_and_sorbent_uncommented(tmp_path):
    assert exit_code(["new", str(tmp_path / "place")]) == 0
    lines = (tmp_path / "place" / "case.toml").read_text().splitlines()
    for key in ("aperture_area = ", "condenser_outer_area = ", "bed_area = ", "sorbent = "):
        assert any(line.startswith(key) for line in lines), key


def test_the_starter_case_is_the_starter_module():
    """The starter module's figures in SI; for the two alternatives the defaults give them."""
    case = read_case(EXAMPLES / "tern_hollow" / "case.toml")
    silica, lithium, fumarate = (harvester.design for harvester in case.harvesters)
    given = {
        "modules": 9, "aperture_area": 2.0, "glazing_thickness": 3.2e-3, "front_gap": 0.06, "rear_gap": 0.06,
        "absorber_absorptance": 0.95, "absorber_emissivity": 0.15, "bed_area": 4.0, "bed_effectiveness": 0.6,
        "bed_metal": 3.0, "bed_condenser_emissivity": 0.5, "edge_loss": 0.6, "condenser_mass": 6.0,
        "condenser_outer_area": 3.0, "condenser_fin_efficiency": 0.85, "condenser_stray_sun": 0.03,
        "condenser_holdup": 0.08, "leak": 0.5 / 3600, "gap_air_volume": 0.15, "wind_constant": 2.8,
        "wind_slope": 3.0, "shelter": 0.5, "close_above": 30.0, "front_gap_sealed": True,
        "tilt": 0.5235987755982988,
    }  # fmt: skip
    for design in (silica, lithium, fumarate):
        for name, value in given.items():
            assert getattr(design, name) == pytest.approx(value, rel=1e-12), name
    bed = [(d.sorbent_mass, d.layer_thickness) for d in (silica, lithium, fumarate)]
    assert bed == [(8.0, pytest.approx(0.003)), (2.0, pytest.approx(0.001)), (5.0, pytest.approx(0.003))]
    assert case.demand.litres_per_day == pytest.approx(20.0)
    assert case.tank.volume == pytest.approx(0.3) and case.tank.shaded


def test_the_examples_are_the_starter_case_at_two_places(tmp_path):
    assert exit_code(["new", str(tmp_path / "place")]) == 0
    starter = tomllib.loads((tmp_path / "place" / "case.toml").read_text())
    for name in ("case.toml", "hot_desert.toml"):
        example = tomllib.loads((EXAMPLES / "tern_hollow" / name).read_text())
        for table in ("demand", "tank", "harvester", "note"):
            assert example[table] == starter[table], (name, table)
    weather = (EXAMPLES / "weather" / STARTER_WEATHER).read_bytes()
    assert (tmp_path / "place" / STARTER_WEATHER).read_bytes() == weather


@pytest.mark.parametrize("name", sorted(path.name for path in (EXAMPLES / "tern_hollow").glob("*.toml")))
def test_check_reads_like_a_page(name):
    """No exponent, no Python word, one is one, and litres per m2 name the area."""
    case = read_case(EXAMPLES / "tern_hollow" / name)
    for line in explained(case, everything=True):
        assert not re.search(r"\de\+?\d|\bNone\b|\bnan\b|\b1 modules|\ba inpatient", line), line
        if "L a day from each m2" in line:
            assert re.search(
                r"from each m2 of (still aperture|aperture|bed face|wheel face|coil face|sheet)$", line
            )
    assert any("L a day from each m2 of" in line for line in explained(case))


def test_check_writes_a_large_need_out(tmp_path, capsys):
    """A village on one small coil was told of 1.5e+04 L a day from each m2."""
    path = tmp_path / "case.toml"
    weather = EXAMPLES / "weather" / "coast_western_australia_2020.csv.gz"
    path.write_text(
        f'schema_version = 1\nname = "Village"\n[site]\nname = "S"\nweather = "{weather}"\n'
        '[demand]\nlitres_per_day = "1500 L/day"\n'
        '[[harvester]]\nname = "Coil"\nkind = "cooling_coil"\ncoil_face = "0.1 m2"\n'
    )
    assert exit_code(["check", str(path)]) == 0
    out = capsys.readouterr().out
    assert "1 module of 0.1 m2, 0.1 m2 of coil face in all: the demand is " in out
    assert "15,000 L a day from each m2 of coil face" in out


def test_every_field_is_listed_on_request():
    case = read_case(EXAMPLES / "tern_hollow" / "case.toml")
    few, all_fields = explained(case), explained(case, everything=True)
    assert any(line.split()[:3] == ["vent_temperature", "not", "given"] for line in all_fields)
    assert any(line.split()[:3] == ["dwell", "30", "min"] for line in all_fields)
    assert not any("vent_temperature" in line for line in few)
    assert any("more fields are at their defaults" in line for line in few)


CUTS = """
[power_cuts]
daily = ["18:00-22:00"]
months = [6, 7]
purge = "10 min"
"""


def test_tables_of_sound_and_power_are_listed_on_request(tmp_path, capsys):
    """Every field of them, with what the case gives told from what stands by default."""
    case = read_case(EXAMPLES / "tern_hollow" / "off_grid.toml")
    lines = [" ".join(line.split()) for line in explained(case, everything=True)]
    for table in (SoundPlace, OffGridSupply, Field, Tank):
        for name in declared_fields(table):
            assert any(line.startswith(f"{name} ") for line in lines), name
    assert any(line.startswith("unserved 0.02 ") and "default" not in line for line in lines)
    assert any(line.startswith("battery_price 400 USD/kWh ") and "(default)" in line for line in lines)
    assert not any(line.startswith("night_limit") for line in map(str.strip, explained(case)))
    path = tmp_path / "case.toml"
    text = (EXAMPLES / "tern_hollow" / "case.toml").read_text()
    path.write_text(text.replace("../weather", str(EXAMPLES / "weather")) + CUTS)
    cut = [" ".join(line.split()) for line in explained(read_case(path), everything=True)]
    assert any(line.startswith("purge 10 min ") for line in cut)
    assert "months 6, 7 Months of these spans" in cut
    assert exit_code(["check", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["power_cuts"]["daily"] == [[18, 22]] and found["power_cuts"]["months"] == [6, 7]
    assert found["power_cuts"]["fields"]["purge"] == {
        "value": 600.0, "unit": "s", "written": "10 min", "given": True,
        "sentence": declared_fields(PowerCuts)["purge"].sentence,
    }  # fmt: skip
    assert found["power"] is None


@pytest.mark.parametrize("name", ["machine_and_dew", "off_grid", "all_kinds"])
def test_a_case_of_any_kind_as_data(name, capsys):
    """Kinds without a sorbent stopped it with an AttributeError."""
    path = EXAMPLES / "tern_hollow" / f"{name}.toml"
    assert exit_code(["check", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    case = read_case(path)
    assert [one["sorbent"] for one in found["harvesters"]] == [
        one.sorbent_name or None for one in case.harvesters
    ]
    assert all(one["cautions"] == [] for one in found["harvesters"] if one["sorbent"] is None)
    assert set(found["sound"]["fields"]) == set(declared_fields(SoundPlace))
    assert (found["power"] is None) == (name != "off_grid")
    if name == "off_grid":
        assert set(found["power"]["fields"]) == set(declared_fields(OffGridSupply))
        assert found["power"]["assumptions"]["battery_price"]["value"] == 400.0
    # every table that a case may have is there
    assert {*TABLES} - {*found} == {"harvester"}


def test_a_checked_case_as_data(tmp_path, capsys):
    """Every field of the starter case in SI: 30 degrees, 3.2 mm, half an air change an hour."""
    case = write_starter_case(tmp_path)
    assert exit_code(["check", str(case), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    one = found["harvesters"][0]
    expected = {
        "tilt": (0.5235987755982988, "rad", "30 deg"),
        "glazing_thickness": (0.0032, "m", "3.2 mm"),
        "leak": (0.5 / 3600.0, "1/s", "0.5 1/h"),
        "sorbent_mass": (8.0, "kg/m2", "8 kg/m2"),
        "absorber_emissivity": (0.15, "1", "0.15"),
    }
    for name, (value, unit, written) in expected.items():
        field = one["fields"][name]
        assert field["value"] == pytest.approx(value, rel=1e-12)
        assert (field["unit"], field["written"], field["given"]) == (unit, written, True)
    assert one["fields"]["soiling"]["given"] is False and one["fields"]["soiling"]["value"] == 0.03
    assert one["fields"]["vent_temperature"]["value"] is None
    assert one["fields"]["facing"] == {
        "value": "equator", "given": True, "sentence": "Where the aperture looks"
    }  # fmt: skip
    assert set(one["fields"]) == set(declared_fields(PassiveBox))
    assert found["tank"]["fields"]["volume"]["value"] == pytest.approx(0.3)
    assert found["demand"]["litres_per_day"] == pytest.approx(20.0)
    assert found["weather"]["hours"] == 8760 and {"repairs", "warnings"} <= set(found["weather"])
    assert found["site"]["of_the_weather_file"]["latitude"] == pytest.approx(-28.46, abs=0.05)


def test_bad_input_is_no_data(tmp_path, capsys):
    (tmp_path / "case.toml").write_text("schema_version = 1\n")
    assert exit_code(["check", str(tmp_path / "case.toml"), "--json"]) == 2
    said = capsys.readouterr()
    assert said.out == "" and "no [site]" in said.err


def test_check_shows_the_case_before_it_loads_what_reads_weather(tmp_path):
    """First words come while the libraries that read weather are still to be loaded."""
    write_starter_case(tmp_path)
    probe = (
        "import sys, typer\n"
        "first, said = [], typer.echo\n"
        "def echo(*words, **how):\n"
        "    first.append(sorted(m for m in ('pvlib', 'welkinwell.climate.audit') if m in sys.modules))\n"
        "    said(*words, **how)\n"
        "typer.echo = echo\n"
        "from welkinwell.cli import exit_code\n"
        f"code = exit_code(['check', {str(tmp_path / 'case.toml')!r}])\n"
        "print(code, first[0], len(first[-1]))"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "0 [] 2"


@pytest.mark.parametrize(
    ("warm", "words"),
    [
        ((), "Compiling for this machine, once, about a minute each: passive box, dew condenser.\n"),
        (("dew_condenser",), "Compiling for this machine, once, about a minute: passive box.\n"),
        (("dew_condenser", "passive_box"), ""),
    ],
)
def test_what_compiles_is_said_for_each_kind_that_is_cold(warm, words, monkeypatch, capsys):
    monkeypatch.setattr(compile_cache, "is_warm", lambda kind="*": kind in warm)
    say_what_compiles(["passive_box", "dew_condenser", "passive_box"])
    assert capsys.readouterr().err == words
