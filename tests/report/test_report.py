"""The report and the site report, made of a real simulated case, read back as a browser would."""

import json
import re
from contextlib import nullcontext
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from welkinwell.answer import answer_case, answer_site
from welkinwell.report import charts
from welkinwell.report.document import _hero, write_report, write_site_report
from welkinwell.year import load_year


class Page(HTMLParser):
    """What a test needs of a page: headings, figures without words, addresses, anchors, tables."""

    def __init__(self, text: str):
        super().__init__()
        self.levels: list[int] = []
        self.silent: list[str] = []
        self.pictures = 0
        self.loaded: list[str] = []
        self.language = ""
        self.text: list[str] = []
        self.ids: list[str] = []
        self.anchors: set[str] = set()
        self.references: set[str] = set()
        self.captions = 0
        self.tables: list[list[list[str]]] = []
        self.landmarks: list[str] = []
        self.loose_heads = 0
        self.read_mark_by_mark = 0
        self._inside = ""
        self._in_table = False
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "html":
            self.language = given.get("lang", "")
        if len(tag) == 2 and tag[0] == "h" and tag[1].isdigit():
            self.levels.append(int(tag[1]))
        if tag in ("img", "svg"):
            self.pictures += 1
        if tag == "img" and not given.get("alt"):
            self.silent.append(tag)
        if tag == "svg":
            self.references |= {given.get("aria-labelledby", ""), given.get("aria-describedby", "")}
        for name in ("src", "href") if tag != "a" else ("src",):
            if given.get(name) and not str(given[name]).startswith(("data:", "#")):
                self.loaded.append(given[name])
        if tag == "a" and str(given.get("href", "")).startswith("#"):
            self.anchors.add(given["href"][1:])
        if given.get("role") == "region" or tag == "nav":
            self.landmarks.append(given.get("aria-label", ""))
        if tag == "th" and given.get("scope") not in ("row", "col"):
            self.loose_heads += 1
        if str(given.get("role", "")).startswith("graphics-") or "aria-roledescription" in given:
            self.read_mark_by_mark += 1
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "table":
            self.tables.append([])
            self._in_table = True
        if tag == "caption":
            self.captions += 1
        if tag == "tr":
            self.tables[-1].append([])
        if tag in ("td", "th"):
            self.tables[-1][-1].append("")
        self._inside = tag

    def handle_data(self, data):
        if self._inside == "style":
            assert "url(" not in data and "@import" not in data
            return
        self.text.append(data)
        if self._in_table and self._inside in ("td", "th", "b", "a"):
            self.tables[-1][-1][-1] += data

    def handle_endtag(self, tag):
        self._inside = ""
        self._in_table = self._in_table and tag != "table"

    def table(self, *heads: str) -> list[list[str]]:
        """The first table whose head holds these words; without the head."""
        return next(rows[1:] for rows in self.tables if set(heads) <= set(rows[0]))


@pytest.fixture(scope="module")
def folder(answer, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("report")
    assert write_report(answer, out) == out / "report.html"
    return out


def sound(page: Page) -> None:
    """Nothing to load, words for every picture, headings in order, one of each name, no dead end."""
    assert page.language == "en"
    assert page.loaded == []
    assert page.silent == [] and page.pictures > 0
    assert page.levels[0] == 1 and page.levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(page.levels, page.levels[1:], strict=False))
    assert len(page.ids) == len(set(page.ids))
    assert page.references <= set(page.ids)
    assert page.anchors <= set(page.ids)
    assert page.captions == len(page.tables) > 0
    assert page.loose_heads == 0 and page.read_mark_by_mark == 0
    assert "" not in page.landmarks and len(page.landmarks) == len(set(page.landmarks))
    assert not {"nan", "inf", "None"} & set(re.split(r"[\s(]+", " ".join(page.text)))


def luminance(colour):
    """Relative luminance of #rrggbb, by the definition of WCAG 2."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_colour_of_words_stands_out_from_its_ground():
    """4.5 to 1, the least that WCAG 2 asks of small letters."""
    css = (Path(charts.__file__).parent / "templates" / "report.css").read_text()
    named = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", css))
    used = set(re.findall(r"[; {]color: var\(--(\w+)\)", css))
    assert {"ink", "faint", "deep"} <= used
    for words in used:
        for ground in ("#ffffff", named["wash"]):
            dark, light = sorted((luminance(named[words]), luminance(ground)))
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (words, ground)


def test_the_page_opens_offline_and_speaks_to_a_screen_reader(folder):
    sound(Page((folder / "report.html").read_text()))
    assert (folder / "report.html").stat().st_size < 3e6
    assert not re.search(r"https?://", (folder / "report.html").read_text())


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


def test_whether_to_build_stands_first(answer, folder):
    """The decision is the first sentence after the headings; its numbers agree with the summary."""
    text = (folder / "report.html").read_text()
    words = " ".join(" ".join(Page(text).text).split())
    sentence = answer.summary["verdict"]["sentence"]
    assert words.index(sentence) < words.index("Delivered to people")
    page = Page(text)
    one = json.loads((folder / "summary.json").read_text())["harvesters"][0]
    chain = {row[0]: row[1] for row in page.table("Step", "Left, L/day")}
    assert float(chain["Net: reaches the tank"]) == pytest.approx(
        one["delivered"]["litres_per_day"]["net"], abs=0.051
    )
    other = page.table("Water", "Is it there?")
    assert len(other) == 6 and {row[2] for row in other} == {"not said"}
    prices = page.table("Number", "Whose, and from where")
    assert all(row[-1].startswith("assumption") for row in prices)
    assert len(prices) == len(one["cost"]["assumptions"])
    masses = page.table("Part", "Mass, kg")
    assert float(masses[-1][3].replace(",", "")) == pytest.approx(
        sum(part["mass_kg"] for part in one["parts"] if part["mass_kg"]), abs=1.0
    )


def test_a_demand_that_changes_is_met_month_by_month(answer):
    """Each month against its own demand; a month without one says so; the charts take it too."""
    from welkinwell.report import tables

    one = answer.harvesters[0]
    demand = np.full(12, 20.0)
    demand[0], demand[6] = 0.0, 40.0
    delivered = np.full(12, 310.0)
    rows = tables.by_month(one, delivered, demand).rows
    assert rows[0][4] == "nothing asked for"
    assert rows[6][4] == "25\u00a0%"  # 310 L of 31 days of 40 L
    assert rows[7][4] == "50\u00a0%"
    figure = charts.litres_by_month("x", delivered, delivered, demand)
    figure.chart.to_dict()
    assert "The demand is 0 to 40 L/day" in figure.alternative
    charts.litres_of_harvesters(["a", "b"], [delivered, delivered], demand).chart.to_dict()


def test_the_year_comes_back_from_its_file(answer, folder):
    (path,) = folder.glob("year*.nc")
    year = load_year(path)
    kept = answer.harvesters[0].year
    np.testing.assert_array_equal(year["water_collected"].values, kept["water_collected"].values)
    assert year.attrs["weather_hash"] == kept.attrs["weather_hash"]


def test_a_place_without_sun_is_no_error(answer, tmp_path, monkeypatch):
    """No sun at all: zero litres, figures without meaning are null, and a warning says why."""
    from welkinwell import site_weather as module

    real = module.read_climate

    def dark(path):
        climate = real(path).copy(deep=True)
        for name in ("ghi", "dni", "dhi"):
            climate[name] = climate[name] * 0.0
        return climate

    monkeypatch.setattr(module, "read_climate", dark)
    dark_answer = answer_case(answer.case)
    write_report(dark_answer, tmp_path)
    one = json.loads((tmp_path / "summary.json").read_text())["harvesters"][0]
    assert one["litres_per_day"] == 0.0
    assert one["sun_kwh_per_litre"] is None and one["latent_efficiency"] is None
    assert any("No sun at all" in words for words in one["warnings"])
    page = Page((tmp_path / "report.html").read_text())
    sound(page)
    words = " ".join(" ".join(page.text).split())
    assert "There is no sun at all" in words and "No water at all" in words
    effort = {row[0]: row[1] for row in page.table("Figure", "Gel box")}
    assert effort["Sun on the aperture, kWh/L"] == "none"


def test_the_site_report_stands_alone(answer, tmp_path):
    place = answer_site(answer.case.weather_path)
    assert write_site_report(place, tmp_path) == tmp_path / "site.html"
    page = Page((tmp_path / "site.html").read_text())
    sound(page)
    summary = json.loads((tmp_path / "summary.json").read_text())
    assert len(summary["by_month"]["night_vapour_pressure"]) == 12
    months = page.table("Month", "Dew point, °C")
    assert len(months) == 12
    given = [float(row[5]) for row in months]
    assert given == pytest.approx(
        [x / 1000.0 for x in summary["by_month"]["night_vapour_pressure"]], rel=0.005
    )


def test_months_add_up_to_the_year(folder):
    """The printed months, to their last digit, are the printed year, and the year is the summary's."""
    rows = Page((folder / "report.html").read_text()).table("Month", "Collected, L", "What limits")
    printed = [float(row[1].replace(",", "")) for row in rows]
    assert len(printed) == 13
    assert sum(printed[:12]) == pytest.approx(printed[12], abs=12 * 0.05 + 0.05)
    one = json.loads((folder / "summary.json").read_text())["harvesters"][0]
    assert printed[:12] == pytest.approx(one["litres_by_month"], abs=0.051)
    assert printed[12] / 365.0 == pytest.approx(one["litres_per_day"], abs=0.001)


def test_key_figures_of_page_and_summary_agree(folder):
    page = Page((folder / "report.html").read_text())
    one = json.loads((folder / "summary.json").read_text())["harvesters"][0]
    told = {row[0]: float(row[1]) for row in page.table("Litres", "Meaning")}
    assert told["Collected"] == pytest.approx(one["litres_per_day"], abs=0.051)
    assert told["Condensed"] == pytest.approx(one["litres_condensed_per_day"], abs=0.051)
    assert told["Delivered"] == pytest.approx(one["litres_delivered_per_day"], abs=0.051)
    assert told["Net"] == pytest.approx(one["delivered"]["litres_per_day"]["net"], abs=0.051)
    assert told["Taken up"] > told["Condensed"] > told["Collected"] > told["Net"] > told["Delivered"]
    assert told["Net"] - told["Spilled"] == pytest.approx(told["Delivered"], abs=0.1)
    (row,) = page.table("Harvester", "Demand met")
    assert row[3] == f"{one['litres_delivered_per_day']:.1f}"
    assert one["worst_month"] in row[2]


def test_every_field_and_every_number_is_listed(answer, folder):
    """Each declared field once, with where it came from; each number of the sheet with how it was seen."""
    from welkinwell.declare import declared_fields

    page = Page((folder / "report.html").read_text())
    design = answer.harvesters[0].case.design
    fields = declared_fields(type(design))
    listed = page.table("Field", "Gel box")
    assert len(listed) == len(fields)
    came = [re.search(r"\((case|default|worked out)\)$", row[1]) for row in listed]
    assert all(came), [row for row in listed if not row[1].endswith(")")]
    assert sum(match.group(1) == "case" for match in came) == len(answer.harvesters[0].case.given)
    sheet = answer.harvesters[0].case.sorbent.sheet
    numbers = page.table("Number", "Seen")
    assert len(numbers) == len(sheet.numbers) + sum(len(term) for term in sheet.terms)
    assert {row[5] for row in numbers} <= {"source", "second-hand", "memory"}
    memory = sum(row[5] == "memory" for row in numbers)
    assert f"{memory} of its {len(numbers)} numbers come from memory" in " ".join(page.text)


def test_every_citation_of_the_run_has_its_reference(answer, folder):
    from welkinwell.report.citations import reference

    words = (folder / "report.html").read_text()
    for key in answer.summary["citations"]:
        text = reference(key)
        assert text != key, f"{key} is not in sources.bib"
        assert text.split("(")[0].strip() in words


def test_charts_keep_to_the_schema_and_come_out_the_same(answer, folder, tmp_path, monkeypatch):
    """Drawn with every check of the chart library on, byte for byte the same report."""
    monkeypatch.setattr(charts, "quick_charts", nullcontext)
    write_report(answer, tmp_path)
    assert (tmp_path / "report.html").read_bytes() == (folder / "report.html").read_bytes()
    drawn = sorted(path.name for path in (tmp_path / "charts").iterdir())
    assert "gel_box_hours.png" in drawn and "gel_box_litres_by_month.svg" in drawn
    for path in (tmp_path / "charts").glob("*.svg"):
        assert "<title" in path.read_text() and "<desc" in path.read_text()


def test_several_harvesters_without_a_tank(answer, tmp_path):
    """The same simulated year under two names that make one file name, and a case without a tank."""
    one = answer.harvesters[0]
    twin = replace(one, plant=replace(one.plant, entry=replace(one.case, name="Gel-box <2>")))
    rename = replace(answer, harvesters=[one, twin], case=replace(answer.case, tank=None))
    third = replace(one, plant=replace(one.plant, entry=replace(one.case, name="gel BOX")))
    write_report(replace(rename, harvesters=[one, twin, third]), tmp_path)
    assert sorted(path.name for path in tmp_path.glob("*.nc")) == [
        "year_gel_box.nc",
        "year_gel_box_2.nc",
        "year_gel_box_3.nc",
    ]
    text = (tmp_path / "report.html").read_text()
    page = Page(text)
    sound(page)
    assert len(page.table("Harvester", "Demand met")) == 3
    assert "The case has no tank" in text and "Gel-box &lt;2&gt;" in text


def test_without_a_tank_the_answer_names_the_tank_that_is_not_there(answer):
    """Further down the report says that the case has none; the answer had it bridge the worst month's gap."""
    assert "the tank bridges the gap" in _hero(answer)["sentence"]
    without = _hero(replace(answer, case=replace(answer.case, tank=None)))["sentence"]
    assert "bridges" not in without
    assert (
        "does not cover the demand by itself. Every day is met only because the case has no tank" in without
    )
    least = f"{answer.best.supply.peak.volume:,.0f} L above the tap"
    assert f"would take a tank of at least {least}, which is not priced." in without
