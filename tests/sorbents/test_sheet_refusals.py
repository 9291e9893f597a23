"""A bad sheet is refused with file, key, value and range; every problem at once, in a user's words."""

import re
from importlib import resources

import pytest

from welkinwell.errors import FileError, SheetError
from welkinwell.sorbents.sheet import read_sheet
from welkinwell.sorbents.sorbent import sorbent

GOOD = resources.files("welkinwell").joinpath("library/sorbents/silica_gel_regular_density.toml").read_text()


def refused(tmp_path, text, load=read_sheet):
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SheetError) as caught:
        load(path)
    return str(caught.value).splitlines()


def changed(key, old, new):
    """The good sheet with one piece of one number's line changed."""
    lines = GOOD.splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(f"{key} = "))
    assert old in lines[at]
    lines[at] = lines[at].replace(old, new)
    return "\n".join(lines)


def test_good_sheet_passes(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert sorbent(path).key == "silica_gel_regular_density"


@pytest.mark.parametrize(
    ("key", "old", "new", "message"),
    [
        (
            "bulk_density",
            'source = "Sapienza2017"',
            'source = "Sapiensa2017"',
            "mine.toml: solid.bulk_density.source: got 'Sapiensa2017'; expected a key of sources.bib, or "
            "'none' "
            "for an estimate. Did you mean 'Sapienza2017'?",
        ),
        (
            "bulk_density",
            'source = "Sapienza2017", ',
            "",
            "mine.toml: solid.bulk_density.source: got nothing; expected a key of sources.bib, or 'none' "
            "for an "
            "estimate",
        ),
        (
            "bulk_density",
            'source = "Sapienza2017"',
            'source = "none"',
            "mine.toml: solid.bulk_density.source: got 'none'; expected a source for a number that is "
            "measured",
        ),
        (
            "bulk_density",
            'unit = "kg/m3"',
            'unit = "kg"',
            "mine.toml: solid.bulk_density.unit: got 'kg'; expected a unit of the kind 'kg/m3'",
        ),
        (
            "bulk_density",
            "value = 700.0",
            "value = -700.0",
            "mine.toml: solid.bulk_density.value: got -700 kg/m3; expected 50 to 3000 kg/m3: dry mass "
            "over the "
            "volume of the layer",
        ),
        (
            "bulk_density",
            "value = 700.0",
            "value = nan",
            "mine.toml: solid.bulk_density.value: got nan; expected a finite number",
        ),
        (
            "bulk_density",
            "value = 700.0",
            'value = "700"',
            "mine.toml: solid.bulk_density.value: got '700'; expected a finite number",
        ),
        (
            "bulk_density",
            "[620.0, 800.0]",
            "[720.0, 800.0]",
            "mine.toml: solid.bulk_density.spread: got [720.0, 800.0]; expected a range that holds the "
            "value 700",
        ),
        (
            "bulk_density",
            'how = "measured"',
            'how = "guessed"',
            "mine.toml: solid.bulk_density.how: got 'guessed'; expected one of measured, fitted, computed, "
            "estimated, assumed. Did you mean 'assumed'?",
        ),
        (
            "bulk_density",
            "spread =",
            "spred =",
            "mine.toml: solid.bulk_density.spread: got nothing; expected one standard deviation, or "
            "[low, high]",
        ),
        (
            "bulk_density",
            'value = 700.0, unit = "kg/m3", spread = [620.0, 800.0]',
            'value = 1600.0, unit = "kg/m3", spread = 100.0',
            "mine.toml: solid.bulk_density: got 1600 kg/m3; expected at most solid.grain_density (1250 "
            "kg/m3)",
        ),
        (
            "price",
            'unit = "USD/kg"',
            'unit = "EUR/kg"',
            "mine.toml: cost.price.unit: got 'EUR/kg'; expected a unit of the kind 'USD/kg'",
        ),
        (
            "form",
            '"sips_terms"',
            '"sip_terms"',
            "mine.toml: isotherm.form: got 'sip_terms'; expected one of sips_terms, toth, "
            "dubinin_astakhov, dual_site_langmuir, dual_site_sips, gab, freundlich, salt_hydrates. Did "
            "you mean 'sips_terms'?",
        ),
        (
            "schema_version",
            "1",
            "7",
            "mine.toml: schema_version: got 7; expected 1",
        ),
    ],
)
def test_one_problem_is_named_exactly(tmp_path, key, old, new, message):
    assert message in refused(tmp_path, changed(key, old, new))


def test_spread_outside_is_not_hidden_by_units(tmp_path):
    """A grain radius in metres written as millimetres is impossible, not silently accepted."""
    lines = refused(
        tmp_path,
        changed(
            "length", 'value = 0.5, unit = "mm", spread = [0.3, 0.8]', 'value = 0.5, unit = "m", spread = 0.1'
        ),
    )
    assert lines == [
        "mine.toml: kinetics.length.value: got 0.5 m; expected 0.0001 to 50 mm: grain radius, or "
        "thickness of a "
        "slab open on one side"
    ]


def test_bare_number_is_refused(tmp_path):
    text = re.sub(r"^price = .*$", "price = 2.5", GOOD, flags=re.MULTILINE)
    assert refused(tmp_path, text) == [
        "mine.toml: cost.price: got 2.5; expected a table {value, unit, spread, source, where, how, "
        "seen}. Say "
        "where the number comes from."
    ]


def test_all_problems_are_reported_at_once(tmp_path):
    text = changed("bulk_density", "value = 700.0", "value = -1.0")
    text = text.replace("dry_specific_heat =", "dry_specific_heet =").replace(
        'shape = "sphere"', 'shape = "cube"'
    )
    lines = refused(tmp_path, text)
    assert lines == [
        "mine.toml: kinetics.shape: got 'cube'; expected one of sphere, slab",
        "mine.toml: solid.dry_specific_heat: got nothing; expected a number with unit and source: of the dry "
        "sorbent [J/(kg K)]",
        "mine.toml: solid.bulk_density.value: got -1 kg/m3; expected 50 to 3000 kg/m3: dry mass over "
        "the volume "
        "of the layer",
        "mine.toml: solid.dry_specific_heet: got an unknown key; expected the keys of a data sheet. "
        "Did you mean "
        "'dry_specific_heat'?",
    ]


def test_impossible_heat_is_refused_with_its_place(tmp_path):
    """A shift of +40 J/(mol K) makes sorbed water easier to evaporate than water."""
    text = GOOD.replace(
        'slope = { value = 0.0, unit = "J/(mol K)", spread = 2.0',
        'slope = { value = 40.0, unit = "J/(mol K)", spread = 2.0',
    )
    (line,) = refused(tmp_path, text, sorbent)
    assert re.fullmatch(
        r"mine\.toml: isotherm: got a heat of 0\.\d\d times the latent heat at \d+ degC and \d+ "
        r"J/mol; expected at "
        r"least 0\.98 in the working range\. Lower the temperature shift, or give "
        r"isotherm\.low_heat_reason\.",
        line,
    )
    explained = text.replace("[isotherm]\n", '[isotherm]\nlow_heat_reason = "A test."\n')
    (tmp_path / "why.toml").write_text(explained, encoding="utf-8")
    assert sorbent(tmp_path / "why.toml").row[0] == 0.0


def test_text_that_is_not_toml(tmp_path):
    (line,) = refused(tmp_path, "schema_version == 1")
    assert line.startswith("mine.toml: got text that is not TOML: ") and "(at line 1, column" in line
    assert "; expected a readable TOML data sheet. Text and values" in line


def test_empty_sheet_lists_everything_that_is_missing(tmp_path):
    lines = refused(tmp_path, "")
    assert len(lines) > 30
    assert all(line.startswith("mine.toml: ") and "got nothing; expected" in line for line in lines)


def test_folder_is_no_sheet(tmp_path):
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(FileError, match="readable TOML data sheet"):
        read_sheet(tmp_path / "folder.toml")


def test_published_forms_can_be_sheets(tmp_path):
    """The Toth set of Wang2009 and the Dubinin-Astakhov set of Sapienza2017, as a user would write them."""
    head, tail = GOOD.split("[[isotherm.terms]]", 1)
    tail = tail[tail.index("[range]") :]

    def number(value, unit, source):
        return (
            f'{{ value = {value}, unit = "{unit}", spread = 0.0, source = "{source}", where = "table", '
            f'how = "fitted", seen = "second-hand" }}\n'
        )

    toth = (
        f"saturation = {number(0.271875, 'kg/kg', 'Wang2009')}"
        f"affinity = {number(2.408e-10, '1/Pa', 'Wang2009')}"
        f"energy = {number(6852.0, 'K', 'Wang2009')}exponent = {number(0.3974, '1', 'Wang2009')}"
        f"exponent_slope = {number(-4.199, 'K', 'Wang2009')}"
    )
    (tmp_path / "toth.toml").write_text(
        head.replace('"sips_terms"', '"toth"') + toth + tail, encoding="utf-8"
    )
    assert sorbent(tmp_path / "toth.toml").loading(298.15, 44.0 / 3169.8) == pytest.approx(0.183, abs=0.01)
    dubinin = (
        f"capacity = {number(0.327, 'mL/g', 'Thu2013')}energy = {number(4.384, 'kJ/mol', 'Thu2013')}"
        f"exponent = {number(1.35, '1', 'Thu2013')}"
    )
    text = head.replace('"sips_terms"', '"dubinin_astakhov"') + dubinin + tail
    (tmp_path / "da.toml").write_text(text, encoding="utf-8")
    assert sorbent(tmp_path / "da.toml").loading(298.15, 0.3) == pytest.approx(0.17981, rel=1.5e-3)
    steep = text.replace("value = 1.35", "value = 0.5")
    assert refused(tmp_path, steep) == [
        "mine.toml: isotherm.exponent.value: got 0.5; expected 1.05 to 20: "
        "exponent n: how steep the filling is"
    ]
