"""The published schemas: made from the declarations, and true of every file that we ship or write."""

import copy
import json
import tomllib
from functools import cache
from pathlib import Path

import pytest
import tomlkit
from jsonschema import Draft202012Validator

from welkinwell.answer import answer_case
from welkinwell.case import STARTER_WEATHER, case_from_text, starter_file, write_starter_case
from welkinwell.cli import exit_code
from welkinwell.errors import InputError
from welkinwell.schemas import SCHEMAS, schema
from welkinwell.sorbents.sheet import read_sheet
from welkinwell.sorbents.sorbent import sheet_names

ROOT = Path(__file__).parents[1]
SHEETS = ROOT / "src" / "welkinwell" / "library" / "sorbents"
CASES = sorted(p for p in (ROOT / "examples").glob("*/*.toml") if p.parent.name != "claims")


@cache
def validator(name):
    return Draft202012Validator(schema(name))


def complaints(name, data):
    return [f"{list(error.absolute_path)}: {error.message}" for error in validator(name).iter_errors(data)]


def starter():
    text = starter_file("cases", "starter.toml").decode().replace("@WEATHER@", STARTER_WEATHER)
    return tomllib.loads(text)


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_published_file_is_what_the_command_prints(name, capsys):
    """After a change: welkinwell schema NAME > docs/reference/NAME.schema.json"""
    assert exit_code(["schema", name]) == 0
    printed = capsys.readouterr().out
    assert (ROOT / "docs" / "reference" / f"{name}.schema.json").read_text(encoding="utf-8") == printed
    Draft202012Validator.check_schema(json.loads(printed))


def test_an_unknown_schema_is_answered_with_the_nearest(capsys):
    assert exit_code(["schema", "shet"]) == 2
    assert "Did you mean 'sheet'?" in capsys.readouterr().err


def test_the_starter_case_and_the_examples_validate():
    assert complaints("case", starter()) == []
    assert len(CASES) >= 2
    for path in CASES:
        assert complaints("case", tomllib.loads(path.read_text(encoding="utf-8"))) == [], path


@pytest.mark.parametrize("name", sheet_names())
def test_every_sheet_validates(name):
    assert complaints("sheet", tomllib.loads((SHEETS / f"{name}.toml").read_text(encoding="utf-8"))) == []


def changed(data, path, value):
    """The data with one place set, or taken away."""
    data = copy.deepcopy(data)
    *way, last = path
    place = data
    for key in way:
        place = place[key]
    if value is None:
        del place[last]
    else:
        place[last] = value
    return data


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("schema_version",), 2),
        (("site",), None),
        (("site", "weather"), None),
        (("site", "albedo"), 1.5),
        (("sight",), {"name": "x"}),
        (("demand", "residents"), 2.5),
        (("demand", "litres_per_day"), "20 L/day"),
        (("demand", "litres_per_visitor_day"), None),
        (("demand", "monthly_factors"), [1.0] * 11),
        (("demand", "litres_per_day_by_month"), ["20 L/day"] * 12),
        (("treatment",), {"rejects": 2.0}),
        (("collection",), {"first_flash": "1 mm"}),
        (("cost",), {"device_price": "-3 USD/m2"}),
        (("cost",), {"device_price": 250}),
        (("cost",), {"discount_rate": "8 percent of it"}),
        (("cost",), {"divice_price": "3 USD/m2"}),
        (("alternatives",), {"trucked": "no"}),
        (("field",), {"rows": 0}),
        (("demand", "purpose"), "swimming"),
        (("tank", "volume"), 300),
        (("tank", "shaded"), "yes"),
        (("harvester",), []),
        (("harvester", 0, "kind"), "passive_bocks"),
        (("harvester", 0, "sorbent"), None),
        (("harvester", 0, "tilt"), "thirty"),
        (("harvester", 0, "tild"), "30 deg"),
        (("harvester", 0, "soiling"), 0.9),
        (("harvester", 0, "facing"), "up"),
        (("harvester", 0, "open_faces"), 3),
    ],
)
def test_what_the_reader_refuses_the_schema_refuses(path, value, tmp_path):
    case = write_starter_case(tmp_path)
    case_from_text(tomlkit.dumps(starter()), case)
    wrong = changed(starter(), path, value)
    assert complaints("case", wrong)
    with pytest.raises(InputError):
        case_from_text(tomlkit.dumps(wrong), case)


@pytest.mark.parametrize(
    "demand",
    [
        {"litres_per_day": "20 L/day", "monthly_factors": [1.0] * 6 + [0.5] * 6, "hours": "even"},
        {"litres_per_day_by_month": ["20 L/day"] * 12, "hourly_shares": [1] * 24},
        {"use": [{"use": "cooking", "heads": 4}, {"use": "cattle", "heads": 3, "monthly_factors": [1] * 12}]},
    ],
)
def test_every_way_to_ask_for_water(demand, tmp_path):
    right = changed(starter(), ("demand",), demand)
    assert complaints("case", right) == []
    case_from_text(tomlkit.dumps(right), write_starter_case(tmp_path))


@pytest.mark.parametrize("written", ["0.5 1/h", "12 1/day", ".5 1/h", "1e-4 1/s"])
def test_units_that_begin_with_one(written, tmp_path):
    right = changed(starter(), ("harvester", 0, "leak"), written)
    assert complaints("case", right) == []
    case_from_text(tomlkit.dumps(right), write_starter_case(tmp_path))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("name",), None),
        (("isotherm", "form"), "langmuir"),
        (("isotherm", "terms"), None),
        (("isotherm", "monolayer"), 1.0),
        (("isotherm", "terms", 0, "capacity"), 0.17),
        (("solid", "grain_density", "seen"), "somewhere"),
        (("solid", "grain_density", "source"), "none"),
        (("solid", "bulk_density", "value"), 7.0),
        (("solid", "bulk_density", "source"), None),
        (("use",), None),
        (("cautions",), "one text"),
        (("checks", 0, "of"), "colour"),
    ],
)
def test_a_wrong_sheet_is_refused_by_both(path, value, tmp_path):
    text = (SHEETS / "silica_gel_regular_density.toml").read_text(encoding="utf-8")
    wrong = changed(tomllib.loads(text), path, value)
    assert complaints("sheet", wrong)
    file = tmp_path / "silica_gel_regular_density.toml"
    file.write_text(tomlkit.dumps(wrong), encoding="utf-8")
    with pytest.raises(InputError):
        read_sheet(file)


@pytest.mark.parametrize("sunless", [False, True])
def test_a_real_summary_validates(sunless, tmp_path, monkeypatch):
    case = write_starter_case(tmp_path)
    given = starter()
    given["harvester"] = given["harvester"][:1]
    checked = case_from_text(tomlkit.dumps(given), case)
    if sunless:
        from welkinwell import site_weather

        seen = site_weather.read_climate

        def dark(path):
            climate = seen(path)
            return climate.assign({name: climate[name] * 0.0 for name in ("ghi", "dni", "dhi")})

        monkeypatch.setattr(site_weather, "read_climate", dark)
    summary = json.loads(json.dumps(answer_case(checked).summary, allow_nan=False))
    assert complaints("summary", summary) == []
    (one,) = summary["harvesters"]
    assert (one["worst_month"] is None) == (one["sun_kwh_per_litre"] is None) == sunless
    wrong = changed(summary, ("harvesters", 0, "litres_by_month"), one["litres_by_month"][:11])
    assert complaints("summary", wrong)
    assert complaints("summary", changed(summary, ("harvesters", 0, "litres_per_day"), "much"))
    assert complaints("summary", changed(summary, ("weather", "hash"), None))
