"""Names of changes beside their bars: short enough that both values can be read."""

from welkinwell.report.decision_charts import LONGEST_NAME, _short_name


def test_names_are_cut_between_words():
    assert _short_name("Outer, finned area of the condenser per aperture") == "Outer, finned area of the …"
    assert _short_name("Area of sorbent layer per aperture (fins count)") == "Area of sorbent layer per …"
    assert _short_name("Gap between bed and condenser") == "Gap between bed and …"
    assert _short_name("Modules") == "Modules"
    assert _short_name("Calcium chloride, crystals") == "Calcium chloride"
    for name in ("A" * 60, "Thermal emissivity of the absorber towards the glass"):
        assert len(_short_name(name)) <= LONGEST_NAME + 2
