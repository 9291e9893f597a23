"""The report and the site report, made of a real simulated case, read back as a browser would."""

import json
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from welkinwell.answer import Answer, answer_case, answer_site
from welkinwell.case import case_from_text
from welkinwell.report.document import write_report, write_site_report
from welkinwell.year import load_year

WEATHER = Path(__file__).parents[2] / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
CASE = f"""
schema_version = 1
name = "A made-up post"
note = "Invented scenario."
[site]
name = "Somewhere"
weather = "{WEATHER.name}"
[demand]
litres_per_day = "20 L/day"
[tank]
volume = "300 L"
[[harvester]]
name = "Gel box"
kind = "passive_box"
sorbent = "silica_gel_regular_density"
modules = 9
"""


class Page(HTMLParser):
    """What a test needs of a page: headings, figures without words, addresses that would be loaded."""

    def __init__(self, text: str):
        super().__init__()
        self.levels: list[int] = []
        self.silent: list[str] = []
        self.loaded: list[str] = []
        self.language = ""
        self.text: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "html":
            self.language = given.get("lang", "")
        if len(tag) == 2 and tag[0] == "h" and tag[1].isdigit():
            self.levels.append(int(tag[1]))
        if tag == "img" and not given.get("alt"):
            self.silent.append(tag)
        named = given.get("aria-label") or given.get("aria-labelledby") or given.get("aria-hidden") == "true"
        if tag == "svg" and not named:
            self.silent.append(tag)
        for name in ("src", "href") if tag not in ("a",) else ("src",):
            if str(given.get(name, "")).startswith(("http", "//")):
                self.loaded.append(given[name])

    def handle_data(self, data):
        self.text.append(data)


@pytest.fixture(scope="module")
def answer() -> Answer:
    return answer_case(case_from_text(CASE, WEATHER.parent / "case.toml"))


@pytest.fixture(scope="module")
def folder(answer, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("report")
    assert write_report(answer, out) == out / "report.html"
    return out


def sound(page: Page) -> None:
    assert page.language == "en"
    assert page.loaded == []
    assert page.silent == []
    assert page.levels[0] == 1 and page.levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(page.levels, page.levels[1:], strict=False))


def test_the_page_opens_offline_and_speaks_to_a_screen_reader(folder):
    sound(Page((folder / "report.html").read_text()))
    assert (folder / "report.html").stat().st_size < 3e6


def test_the_summary_has_what_scripts_rely_on(folder):
    summary = json.loads((folder / "summary.json").read_text())
    assert {"source", "hours", "repairs", "hash"} <= summary["weather"].keys()
    assert summary["weather"]["hours"] == 8760 and len(summary["weather"]["hash"]) == 64
    one = summary["harvesters"][0]
    assert {
        *("name", "kind", "sorbent", "litres_per_day", "litres_per_m2_day", "litres_per_kg_day"),
        *("litres_by_month", "sun_kwh_per_litre", "heat_kwh_per_litre", "electricity_kwh_per_litre"),
        *("latent_efficiency", "second_law_efficiency", "balance"),
    } <= one.keys()
    assert len(one["litres_by_month"]) == 12
    assert sum(one["litres_by_month"]) == pytest.approx(365.0 * one["litres_per_day"], rel=1e-12)
    assert one["litres_per_m2_day"] * 18.0 == pytest.approx(one["litres_per_day"], rel=1e-12)
    for key in ("water_residual_relative", "energy_residual_relative"):
        assert abs(one["balance"][key]) <= 1e-9


def test_the_page_says_what_the_summary_says(answer, folder):
    words = " ".join(" ".join(Page((folder / "report.html").read_text()).text).split())
    figures = answer.harvesters[0].figures
    assert f"{figures['litres_per_day']:.1f} L/day" in words
    assert "Invented scenario." in words
    assert "never a guarantee" in words
    for part in ("Condensed", "Collected", "Delivered", "Cautions", "Assumptions", "The balance"):
        assert part in words


def test_the_year_comes_back_from_its_file(answer, folder):
    (path,) = folder.glob("year*.nc")
    year = load_year(path)
    kept = answer.harvesters[0].year
    np.testing.assert_array_equal(year["water_collected"].values, kept["water_collected"].values)
    assert year.attrs["weather_hash"] == kept.attrs["weather_hash"]


def test_a_place_without_sun_is_no_error(tmp_path, monkeypatch):
    """No sun at all: zero litres, figures without meaning are null, and a warning says why."""
    from welkinwell import answer as module

    real = module.read_climate

    def dark(path):
        climate = real(path).copy(deep=True)
        for name in ("ghi", "dni", "dhi"):
            climate[name] = climate[name] * 0.0
        return climate

    monkeypatch.setattr(module, "read_climate", dark)
    answer = answer_case(case_from_text(CASE, WEATHER.parent / "case.toml"))
    write_report(answer, tmp_path)
    one = json.loads((tmp_path / "summary.json").read_text())["harvesters"][0]
    assert one["litres_per_day"] == 0.0
    assert one["sun_kwh_per_litre"] is None and one["latent_efficiency"] is None
    assert any("No sun at all" in words for words in one["warnings"])
    page = Page((tmp_path / "report.html").read_text())
    sound(page)
    assert "nan" not in " ".join(page.text).lower().split()


def test_the_site_report_stands_alone(tmp_path):
    answer = answer_site(WEATHER)
    assert write_site_report(answer, tmp_path) == tmp_path / "site.html"
    page = Page((tmp_path / "site.html").read_text())
    sound(page)
    summary = json.loads((tmp_path / "summary.json").read_text())
    assert len(summary["by_month"]["night_vapour_pressure"]) == 12
