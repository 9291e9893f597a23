"""`welkinwell sorbents` and `welkinwell fit` as a person starts them."""

import json
import re

import pytest

from welkinwell.cli import exit_code
from welkinwell.sorbents.fit import read_points
from welkinwell.sorbents.sorbent import points_path, sheet_names, sorbent


def lab_file(tmp_path, sheet="mof_801_powder"):
    points = read_points(points_path(f"{sheet}.csv"))
    path = tmp_path / "points.csv"
    rows = zip(points.temperature - 273.15, points.pressure, points.loading, strict=True)
    lines = [f"{T:.2f},{p},{q}" for T, p, q in rows]
    path.write_text("\n".join(["temperature [degC],pressure [Pa],loading [kg/kg]", *lines]), encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["sorbents", "fit"])
def test_help_with_an_example(name, capsys):
    assert exit_code([name, "--help"]) == 0
    assert f"Example: welkinwell {name}" in " ".join(capsys.readouterr().out.split())


def test_list_names_every_sheet(capsys):
    assert exit_code(["sorbents"]) == 0
    shown = capsys.readouterr().out
    assert all(name in shown for name in sheet_names())


def test_list_as_json(capsys):
    assert exit_code(["sorbents", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert [row["sheet"] for row in rows] == list(sheet_names())
    gel = next(row for row in rows if row["sheet"] == "licl_gel")
    assert gel["loading_at_25_degC"]["RH 0.7"] == pytest.approx(3.9, abs=0.05)


@pytest.mark.parametrize("name", sheet_names())
def test_a_sheet_reads_like_a_page(name, capsys):
    """It printed Python's dicts and lists, and a brine that leaves at a humidity of 1.0."""
    assert exit_code(["sorbents", name]) == 0
    shown = capsys.readouterr().out
    assert not re.search(r"[\[\]{}]|'RH|\bNone\b|\bnan\b|\d\.\d{5}|\de[+-]?\d|: (0|1)\.0$", shown, re.M), (
        shown
    )
    assert re.search(
        r"loading at 25 degC, kg/kg dry: [\d.]+ at RH 0.2, [\d.]+ at RH 0.4, [\d.]+ at RH 0.7", shown
    )
    assert re.search(
        r"isosteric heat: \d,\d{3} kJ/kg of water, at 25 degC and [\d.]+ kg/kg, in equilibrium", shown
    )
    assert re.search(r"price: [\d.]+ USD/kg \([\d.]+ to [\d.,]+, estimated, from memory\)", shown)


@pytest.mark.parametrize("name", sheet_names())
def test_the_heat_listed_is_that_of_the_branch_in_use(name, capsys):
    """Calcium salts were listed with 1,364 kJ/kg, of crystals that dissolve.

    In use the water is held in solution, whose heat at 25 degC lies up to 10 % above the latent heat of 2,442
    kJ/kg (IAPWS); no sheet's heat in use is below that.
    """
    assert exit_code(["sorbents", name, "--json"]) == 0
    row = json.loads(capsys.readouterr().out)
    found, at = sorbent(name), row["heat_at"]
    assert row["heat_kJ_per_kg"] > 2442
    assert float(found.loading(298.15, at["relative_humidity"])) == pytest.approx(
        at["loading"], rel=0.02, abs=2e-3
    )
    if found.phases is not None:
        assert at["relative_humidity"] > row["crystallisation_humidity_25_degC"]
        assert row["heat_kJ_per_kg"] < 1.1 * 2442


def test_page_of_a_sheet_stands_alone(tmp_path, capsys):
    assert exit_code(["sorbents", "cacl2_in_silica", "-o", str(tmp_path)]) == 0
    page = (tmp_path / "cacl2_in_silica.html").read_text(encoding="utf-8")
    assert "Page:" in capsys.readouterr().out
    assert not re.search(r"(src|href)=\"(https?:)?//", page)
    assert page.count("<svg") == 4
    for words in ("relative humidity 0.46", "Brine fills the pores", "Conde", "<b>memory</b>", "Pankrat"):
        assert words in page
    for number in ("hydrate 1", "host 1"):  # the form's own tables are all shown
        assert number in page
    assert sorted(path.suffix for path in (tmp_path / "charts").iterdir()) == [".svg"] * 4


def test_page_of_a_sheet_without_checks(tmp_path):
    assert exit_code(["sorbents", "libr_brine", "-o", str(tmp_path)]) == 0
    assert "Nothing to compare with was found." in (tmp_path / "libr_brine.html").read_text(encoding="utf-8")


def test_unknown_sheet(capsys):
    assert exit_code(["sorbents", "mof_802"]) == 2
    assert "Did you mean 'mof_801'?" in capsys.readouterr().err
    assert exit_code(["sorbents", "-o", "out"]) == 2
    assert "a NAME before -o" in capsys.readouterr().err


def test_fit_writes_a_sheet_a_picture_and_says_what_is_doubtful(tmp_path, capsys):
    out = tmp_path / "new" / "my_mof.toml"
    assert exit_code(["fit", str(lab_file(tmp_path)), "-o", str(out)]) == 0
    said = capsys.readouterr().out
    assert "Warning: One temperature only (25 degC)" in said
    assert "Isosteric heat at" in said
    assert out.with_suffix(".png").read_bytes().startswith(b"\x89PNG")
    found = sorbent(out)
    assert found.name == "My mof"
    assert float(found.loading(298.15, 0.3)) == pytest.approx(0.31, abs=0.01)
    assert exit_code(["sorbents", str(out), "-o", str(tmp_path)]) == 0
    assert "own data" in (tmp_path / "my_mof.html").read_text(encoding="utf-8")


def test_fit_of_a_library_sheet_through_python(tmp_path):
    import welkinwell as ww

    out = tmp_path / "again.toml"
    assert exit_code(["fit", str(lab_file(tmp_path, "alpo_5")), "-o", str(out), "--name", "Again"]) == 0
    assert float(ww.sorbent(out).loading(298.15, 0.5)) == pytest.approx(0.206, abs=0.012)


def test_bad_input_of_fit(tmp_path, capsys):
    bad = tmp_path / "bad.csv"
    bad.write_text("temperature [degC],relative_humidity [1],loading [kg/kg]\n25,0.3,-5\n", encoding="utf-8")
    assert exit_code(["fit", str(bad), "-o", str(tmp_path / "x.toml")]) == 2
    assert (
        "bad.csv: line 2, column 'loading [kg/kg]': got -5 kg/kg; expected 0 to 100 kg/kg of dry sorbent"
        in capsys.readouterr().err
    )
    assert not (tmp_path / "x.toml").exists()
    assert exit_code(["fit", str(tmp_path / "none.csv"), "-o", str(tmp_path / "x.toml")]) == 2
    assert "got no such file; expected a CSV or AIF file" in capsys.readouterr().err
    assert exit_code(["fit", str(bad), "-o", str(tmp_path / "x.txt")]) == 2
    assert "ends with .toml" in capsys.readouterr().err
    assert exit_code(["fit", str(bad), "-o", str(tmp_path / "x.toml"), "--grain-radius", "3 m"]) == 2
    assert "expected 0.0001 to 50 mm" in capsys.readouterr().err
