"""What a person reads when a case is wrong: file, key, value, range, advice; exit code 2, no traceback."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.case import KINDS, case_from_text, explained, read_case, write_starter_case
from welkinwell.cli import exit_code
from welkinwell.errors import InputError
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.supply.demand import PURPOSES


@pytest.fixture
def starter(tmp_path):
    return write_starter_case(tmp_path / "place")


def complaint(starter, old, new, capsys):
    """Change the starter case, check it, and give what was printed."""
    text = starter.read_text()
    assert old in text
    starter.write_text(text.replace(old, new, 1))
    return refusal(["check", str(starter)], capsys)


def refusal(arguments, capsys):
    assert exit_code(arguments) == 2
    printed = capsys.readouterr()
    assert "Traceback" not in printed.err + printed.out
    assert printed.out == ""
    assert all(line.startswith("welkinwell: ") for line in printed.err.splitlines())
    return printed.err


SILICA = "case.toml, [[harvester]] 'Silica gel box'"
CHANGES = {
    "negative size": (
        'aperture_area = "2 m2"',
        'aperture_area = "-2 m2"',
        [f"{SILICA}, aperture_area: got '-2 m2'", "from 0.01 m2 to 100 m2"],
    ),
    "impossible unit": (
        'aperture_area = "2 m2"',
        'aperture_area = "2 kg"',
        [f"{SILICA}, aperture_area: got '2 kg'", "'kg' is the unit of a mass", '"2 m2"'],
    ),
    "no unit": (
        'aperture_area = "2 m2"',
        "aperture_area = 2",
        [f"{SILICA}, aperture_area: got 2;", 'Write the unit, as in "2 m2"'],
    ),
    "out of range": (
        'tilt = "30 deg"',
        'tilt = "95 deg"',
        [f"{SILICA}, tilt: got '95 deg'", "from 0 deg to 90 deg"],
    ),
    "misspelt key": (
        'aperture_area = "2 m2"',
        'aperature_area = "2 m2"',
        [f"{SILICA}: got the key 'aperature_area'", "Did you mean 'aperture_area'?"],
    ),
    "misspelt table": ("[tank]", "[tnak]", ["case.toml: got the key 'tnak'", "Did you mean 'tank'?"]),
    "unknown sorbent": (
        'sorbent = "silica_gel_regular_density"',
        'sorbent = "silca_gel_regular_density"',
        [f"{SILICA}, sorbent", "silca_gel_regular_density", "Did you mean 'silica_gel_regular_density'?"],
    ),
    "missing sheet": (
        'sorbent = "silica_gel_regular_density"',
        'sorbent = "mine.toml"',
        [f"{SILICA}, sorbent", "mine.toml"],
    ),
    "no sorbent": ('sorbent = "silica_gel_regular_density"', "", [f"{SILICA}, sorbent: got nothing"]),
    "unknown kind": (
        'kind = "passive_box"',
        'kind = "pasive_box"',
        [f"{SILICA}, kind: got 'pasive_box'", "Did you mean 'passive_box'?"],
    ),
    "bed thicker than box": (
        'layer_thickness = "3 mm"',
        'layer_thickness = "70 mm"',
        [f"{SILICA}, layer_thickness: got 70 mm", "Make the bed smaller or the box deeper"],
    ),
    "sorbent denser than stone": (
        'layer_thickness = "3 mm"',
        'layer_thickness = "0.5 mm"',
        [f"{SILICA}, sorbent_mass: got 8 kg/m2 in 2 L/m2 of layer (4000 kg/m3)", "10 to 2500 kg/m3"],
    ),
    "sorbent denser than its solid can pack": (
        'layer_thickness = "3 mm"',
        'layer_thickness = "1 mm"',
        [
            f"{SILICA}, sorbent_mass: got 8 kg/m2 in 1 mm on 4 m2 per m2 of aperture (2,000 kg/m3); expected "
            "at most 1,629 kg/m3 of Silica gel, regular density: 0.74, the densest packing of equal spheres",
            "one of these would fit: sorbent_mass = 2.8 kg/m2, layer_thickness = 2.86 mm or bed_area = 11.4",
        ],
    ),
    "form that no layer has": (
        'layer_thickness = "3 mm"',
        'layer_thickness = "3 mm"\nlayer_form = "pelets"',
        [f"{SILICA}, layer_form: got 'pelets'", "'grains', 'coating', 'pellets', 'carrier'", "'pellets'?"],
    ),
    "two of one name": (
        'name = "Aluminium fumarate box"',
        'name = "silica gel box"',
        ["[[harvester]] 'silica gel box', name: got 'silica gel box' a second time"],
    ),
    "no name": ('name = "Silica gel box"', "", ["case.toml, [[harvester]] 1, name: got nothing"]),
    "no modules": ("modules = 9", "modules = 0", [f"{SILICA}, modules: got 0", "from 1 to"]),
    "modules are no number": ("modules = 9", "modules = true", [f"{SILICA}, modules: got True"]),
    "tank in watts": (
        'volume = "300 L"',
        'volume = "300 W"',
        ["case.toml, [tank], volume: got '300 W'", "unit of a power"],
    ),
    "negative people": ("residents = 4", "residents = -4", ["case.toml, [demand], residents: got -4"]),
    "no residents": ("residents = 4", "", ["case.toml, [demand]: got no residents", "litres_per_day"]),
    "demand twice": (
        "residents = 4",
        'litres_per_day = "20 L/day"\nresidents = 4',
        ["case.toml, [demand]: got litres_per_day and residents and visitors; expected either"],
    ),
    "unknown purpose": (
        'purpose = "drinking"',
        'purpose = "drinkin"',
        ["case.toml, [demand], purpose: got 'drinkin'", "Did you mean 'drinking'?"],
    ),
    "two currencies": (
        "# One [[harvester]]",
        '[cost]\ndevice_price = "200 EUR/m2"\n[alternatives]\ntrucked = "5 USD/m3"\n# One [[harvester]]',
        [
            "got money in 2 currencies",
            "EUR at case.toml, [cost], device_price",
            "USD at case.toml, [alternatives]",
        ],
    ),
    "negative price": (
        "# One [[harvester]]",
        '[alternatives]\ntrucked = "-5 USD/m3"\n# One [[harvester]]',
        ["case.toml, [alternatives], trucked: got '-5 USD/m3'; expected a price from 0 USD/m3 up"],
    ),
    "drips over all": (
        "[tank]",
        "[collection]\ndrips = 2\n[tank]",
        ["case.toml, [collection], drips: got 2", "from 0 to 0.9"],
    ),
    "latitude": (
        '# latitude = "-28.46 deg"',
        'latitude = "-128 deg"',
        ["case.toml, [site], latitude: got '-128 deg'", "from -90 deg to 90 deg"],
    ),
    "no weather": (
        'weather = "coast_',
        'weather = "caost_',
        ["case.toml, [site], weather: got 'caost_", "which is not there", "Did you mean 'coast_"],
    ),
    "foreign schema": (
        "schema_version = 1",
        "schema_version = 7",
        ["case.toml, schema_version: got 7; expected 1", "Write schema_version = 1"],
    ),
    "no schema": ("schema_version = 1", "", ["case.toml, schema_version: got nothing; expected 1"]),
    "not TOML": (
        'volume = "300 L"',
        "volume = 300 L",
        ["case.toml: got text that is not TOML", "line", "quotes"],
    ),
    "broken table": ("[tank]", "[tank", ["case.toml: got text that is not TOML", "line"]),
    "note is no text": (
        'note = "Invented',
        'note = 3 # "Invented',
        ["case.toml, note: got 3; expected text"],
    ),
}


@pytest.mark.parametrize("mistake", CHANGES)
def test_each_mistake_is_named(starter, capsys, mistake):
    old, new, expected = CHANGES[mistake]
    said = complaint(starter, old, new, capsys)
    for words in expected:
        assert words in said, said
    assert len(said.splitlines()) == 1, said


def test_all_mistakes_at_once(starter, capsys):
    text = starter.read_text()
    for old, new in (
        ("residents = 4", "residents = -4"),
        ('volume = "300 L"', 'volume = "0 L"'),
        ('sorbent = "silica_gel_regular_density"', 'sorbent = "silca_gel_regular_density"'),
        ('sorbent_mass = "2 kg/m2"', 'sorbent_mass = "2 kg"'),
        ('tilt = "30 deg"', 'tlit = "30 deg"'),
    ):
        text = text.replace(old, new, 1)
    starter.write_text(text)
    lines = refusal(["check", str(starter)], capsys).splitlines()
    assert len(lines) == 5
    for words in ("residents", "volume", "silca_gel_regular_density", "sorbent_mass", "tlit"):
        assert sum(words in line.split("; expected")[0] for line in lines) == 1, words


@pytest.mark.parametrize("tables", ["site", "demand", "harvester"])
def test_a_missing_table_is_named(starter, capsys, tables):
    lines = starter.read_text().splitlines()
    kept, inside = [], False
    for line in lines:
        if line.startswith("["):
            inside = line.strip("[]") == tables
        kept += [] if inside else [line]
    starter.write_text("\n".join(kept))
    said = refusal(["check", str(starter)], capsys)
    assert f"case.toml: got no [{tables}]" in said or f"case.toml: got no [[{tables}]]" in said


def test_one_bracket_for_a_harvester(starter, capsys):
    text = starter.read_text().split("# The same box with other sorbents")[0]
    starter.write_text(text.replace("[[harvester]]\n", "[harvester]\n"))
    assert "got [harvester]; expected [[harvester]]" in refusal(["check", str(starter)], capsys)


def test_a_tank_below_a_day_is_a_note_and_no_error(starter, capsys):
    starter.write_text(starter.read_text().replace('volume = "300 L"', 'volume = "10 L"'))
    assert exit_code(["check", str(starter)]) == 0
    said = capsys.readouterr().out
    assert "the tank holds 9.5 L above its tap, 48 % of a day's demand (20 L)" in said


def test_a_layer_far_too_light_is_a_note_with_what_would_fit(starter, capsys):
    """50 mm instead of 3: 40 kg/m3. Declared as a sorbent in a carrier with air-filled pores it passes."""
    text = starter.read_text().replace('layer_thickness = "3 mm"', 'layer_thickness = "50 mm"', 1)
    starter.write_text(text)
    assert exit_code(["check", str(starter)]) == 0
    said = capsys.readouterr().out
    assert (
        "Note: Silica gel box: 8 kg/m2 in 50 mm on 4 m2 per m2 of aperture (40 kg/m3) is 0.057 times" in said
    )
    assert "sorbent_mass = 140 kg/m2, layer_thickness = 2.86 mm or bed_area = 0.229" in said
    assert 'layer_form = "carrier" (10 to 910 kg/m3' in said
    starter.write_text(text.replace('"50 mm"', '"50 mm"\nlayer_form = "carrier"', 1))
    assert exit_code(["check", str(starter)]) == 0
    assert "(40 kg/m3)" not in capsys.readouterr().out


def test_the_commented_tables_can_be_uncommented(starter, capsys):
    """[collection] to [alternatives] as they stand in the starter, with the # taken away."""
    lines, inside = [], False
    for line in starter.read_text().splitlines():
        if line.startswith("# ["):
            inside = line[2:].split("]")[0].strip("[") in TABLES
        inside = inside and line.startswith("#")
        lines.append(line[2:] if inside else line)
    starter.write_text("\n".join(lines))
    case = read_case(starter)
    assert exit_code(["check", str(starter)]) == 0
    assert "Other water: no piped, trucked 6 USD/m3, bottled 300 USD/m3" in capsys.readouterr().out
    assert case.field.rows == 3 and case.cost.rows["work_price"].high == 15.0
    assert case.cost.for_plant(sorbent("mof_303"))["sorbent_price"].value == 2.0


TABLES = ("collection", "treatment", "field", "cost", "alternatives")


def test_missing_case_offers_the_neighbour(starter, capsys):
    said = refusal(["run", str(starter.with_name("caes.toml")), "-o", "x"], capsys)
    assert "no such file; expected a case file in TOML. Did you mean 'case.toml'?" in said


def test_a_folder_instead_of_a_case(starter, tmp_path, capsys):
    assert f"Did you mean '{starter}'?" in refusal(["check", str(starter.parent)], capsys)
    assert "welkinwell new DIR" in refusal(["check", str(tmp_path)], capsys)


@pytest.mark.parametrize("content", [b"\xff\xfe\x00\x81", b"\x1f\x8b\x08\x00"])
def test_a_file_that_is_not_text(tmp_path, capsys, content):
    file = tmp_path / "case.toml"
    file.write_bytes(content)
    assert "a file that is not text" in refusal(["check", str(file)], capsys)


@pytest.mark.parametrize(
    "text", ["", "42", "[[site]]\n", "schema_version = 1\nsite = 3\ndemand = []\nharvester = 5\n"]
)
def test_nonsense_is_refused_in_words(tmp_path, capsys, text):
    file = tmp_path / "case.toml"
    file.write_text(text)
    assert "case.toml" in refusal(["check", str(file)], capsys)


def test_the_output_folder_is_a_file(starter, tmp_path, capsys):
    taken = tmp_path / "out"
    taken.write_text("")
    assert f"{taken}: got a file; expected a folder" in refusal(
        ["run", str(starter), "-o", str(taken)], capsys
    )


def test_new_writes_over_nothing(starter, capsys):
    before = starter.read_text()
    assert "already there" in refusal(["new", str(starter.parent)], capsys)
    assert starter.read_text() == before


def test_site_without_its_file(tmp_path, capsys):
    said = refusal(["site", str(tmp_path / "weather.epw"), "-o", str(tmp_path / "out")], capsys)
    assert "weather.epw: got no such file; expected an hourly weather file" in said


def test_every_choice_of_the_messages_can_be_given(starter):
    """The words that a message offers are words that the reader takes."""
    text = starter.read_text()
    for purpose in PURPOSES:
        starter.write_text(text.replace('purpose = "drinking"', f'purpose = "{purpose}"'))
        assert read_case(starter).demand.purpose == purpose
    assert set(re.findall(r'kind = "(\w+)"', text)) <= set(KINDS)


@settings(deadline=None, derandomize=True, max_examples=150)
@given(data=st.data())
def test_a_spoilt_case_is_read_or_refused_and_never_crashes(tmp_path_factory, data):
    """Lines dropped, doubled or swapped, values taken from other keys, characters changed."""
    starter = write_starter_case(tmp_path_factory.mktemp("spoilt") / "place")
    lines = starter.read_text().splitlines()
    numbers = [n for n, line in enumerate(lines) if line and not line.startswith("#")]
    for _ in range(data.draw(st.integers(1, 3))):
        here, there = data.draw(st.sampled_from(numbers)), data.draw(st.sampled_from(numbers))
        spoil = data.draw(st.sampled_from(["drop", "double", "swap", "value", "character"]))
        if spoil == "drop":
            lines[here] = ""
        elif spoil == "double":
            lines[here] += "\n" + lines[there]
        elif spoil == "swap":
            lines[here], lines[there] = lines[there], lines[here]
        elif spoil == "value":
            lines[here] = lines[here].split("=")[0] + "=" + lines[there].split("=")[-1]
        elif lines[here]:
            at = data.draw(st.integers(0, len(lines[here]) - 1))
            lines[here] = lines[here][:at] + data.draw(st.characters()) + lines[here][at + 1 :]
    text = "\n".join(lines)
    try:
        case = case_from_text(text, starter)
    except InputError as error:
        assert all(problem.where.startswith("case.toml") for problem in error.problems)
        return
    assert case.harvesters and explained(case, everything=True)


def test_problems_hold_their_parts(starter):
    """The same problem as data, for a form that shows it beside its field."""
    starter.write_text(starter.read_text().replace('"300 L"', '"-3 L"'))
    with pytest.raises(InputError) as caught:
        read_case(starter)
    (problem,) = caught.value.problems
    assert (problem.where, problem.given) == ("case.toml, [tank], volume", "'-3 L'")


def test_only_a_name_that_is_near_is_offered(starter, capsys):
    """That both end in .toml makes nowhere.toml no misspelling of negative.toml."""
    (starter.parent / "negative.toml").write_text("")
    assert "Did you mean" not in refusal(["check", str(starter.parent / "nowhere.toml")], capsys)
    assert "'negative.toml'" in refusal(["check", str(starter.parent / "negativ.toml")], capsys)


def test_a_note_is_not_followed_by_nothing_is_wrong(starter, capsys):
    """A tank below a day's demand can be run, but not as if nothing were to be said."""
    starter.write_text(starter.read_text().replace('volume = "300 L"', 'volume = "3 L"', 1))
    assert exit_code(["check", str(starter)]) == 0
    said = capsys.readouterr().out
    assert "Note: the tank holds" in said
    assert "This case can be run; mind the note above." in said
    assert "Nothing is wrong" not in said
