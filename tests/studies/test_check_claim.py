"""Claims whose verdict is known: possible, impossible and by which bound, or hanging on what is left out."""

import json
from pathlib import Path

import numpy as np
import pytest

from box_cases import WEATHER
from welkinwell.cli import exit_code
from welkinwell.errors import InputError
from welkinwell.studies.check_claim import RANGES, WORDS, at_site, check_claim, held_against
from welkinwell.studies.claim import claim_from, read_claim
from welkinwell.studies.claim_device import judged, steady_air

EXAMPLES = Path(__file__).parents[2] / "examples" / "claims"
AIR = {"temperature": "25 degC", "relative_humidity": 0.5}


def verdict_on(**fields):
    return check_claim(claim_from(fields, "claim"))


def test_per_kg_of_many_cycles():
    """2.8 L/kg a day and 0.25 L/kg a cycle make about 11 cycles a day (worked by hand)."""
    found = check_claim(read_claim(EXAMPLES / "per_kg_of_many_cycles.toml"))
    assert found.verdict == "possible only if"
    assert found.figures["cycles_needed_per_day"] == pytest.approx(11.2)
    assert found.missing[0].field == "cycles_per_day"
    assert "11.2 cycles a day" in found.sentence
    assert any("Per kg of many cycles" in said for said in found.warnings)
    assert any("reckoned from shorter tests" in said for said in found.warnings)
    once = verdict_on(litres_per_kg_day="2.8 L/(kg day)", swing="0.25 kg/kg", cycles_per_day="1", **AIR)
    assert once.verdict == "impossible" and once.held[0].bound.key == "inventory"


def test_a_heat_pump_bed_in_the_field():
    """0.99 L a day at 9.9 L/kg and 2.96 kWh/L: 100 g of sorbent, 122 W, 2 % of what is possible."""
    found = check_claim(read_claim(EXAMPLES / "heat_pump_bed.toml"))
    assert found.figures["sorbent_mass_implied_kg"] == pytest.approx(0.100, rel=1e-3)
    assert found.figures["mean_power_watt"] == pytest.approx(122.0, rel=5e-3)
    by_key = {one.bound.key: one for one in found.held}
    assert not by_key["least_work"].passes
    assert 0.015 < by_key["least_work"].ratio < 0.02
    assert found.verdict == "possible only if"  # cycles and swing are not stated
    whole = verdict_on(
        litres_per_kg_day="9.9 L/(kg day)", electricity="2.96 kWh/L", temperature="25 degC",
        relative_humidity=0.26, swing="0.2 kg/kg", cycles_per_day="60", kind="active_bed",
    )  # fmt: skip
    assert whole.verdict == "possible"


def test_an_impossible_machine():
    """61.5 Wh for the first drop at 25 C and 20 % allow 16.3 L/kWh, not 20."""
    found = check_claim(read_claim(EXAMPLES / "invented_machine.toml"))
    assert found.verdict == "impossible" and "least work of separation" in found.sentence
    by_key = {one.bound.key: one for one in found.held}
    assert by_key["least_work"].bound.value == pytest.approx(1000.0 / 61.5, rel=5e-3)
    assert by_key["least_work"].passes and by_key["dew_point"].passes
    assert any("freezes" in said for said in found.warnings)


def test_more_than_the_sun_can_evaporate_once():
    """6 kWh/m2 over 0.678 kWh/L (25 C) are 8.85 L/m2."""
    found = check_claim(read_claim(EXAMPLES / "invented_box.toml"))
    assert found.verdict == "impossible" and "(one effect)" in found.sentence
    (once,) = [one for one in found.held if one.bound.key == "single_effect"]
    assert once.bound.value == pytest.approx(8.85, rel=5e-3)
    # with the heat of condensation used twice the same figure is allowed
    twice = verdict_on(
        litres_per_m2_day="12 L/(m2 day)", sun="6 kWh/(m2 day)", effects=2, kind="active_bed", **AIR
    )
    assert twice.verdict == "possible"


def test_a_coil_that_lets_its_cold_air_go():
    """A coil at 3 L/kWh and 20 %: allowed by the dew point, not without heat recovery."""
    dry = {"temperature": "25 degC", "relative_humidity": 0.2}
    plain = verdict_on(litres_per_kwh="3 L/kWh", kind="cooling_coil", **dry)
    assert plain.verdict == "possible only if" and "no heat recovery" in plain.sentence
    recovered = verdict_on(litres_per_kwh="3 L/kWh", kind="cooling_coil", heat_recovery=True, **dry)
    assert recovered.verdict == "possible"


def test_heat_too_cool_for_its_condenser():
    """At 25 C and 20 % with a condenser at 25 C nothing comes off below 52.3 C, whatever the sorbent."""
    claim = {
        "litres_per_kg_day": "0.2 L/(kg day)", "cycles_per_day": "1", "swing": "0.2 kg/kg",
        "temperature": "25 degC", "relative_humidity": 0.2, "condenser_temperature": "25 degC",
    }  # fmt: skip
    cool = verdict_on(heat_temperature="50 degC", **claim)
    assert cool.verdict == "impossible" and "release from 52 degC" in cool.sentence
    assert verdict_on(heat_temperature="55 degC", **claim).verdict == "possible"


def test_dew_beyond_a_clear_sky():
    found = verdict_on(litres_per_m2_day="6 L/(m2 day)", kind="dew_condenser", **AIR)
    assert found.verdict == "impossible" and "dew under a clear sky" in found.sentence


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"litres_per_m2_day": "1 L/(m2 day)"}, "Which area is not stated"),
        ({"litres_per_m2_day": "1 L/(m2 day)", "area_is": "absorber"}, "Counted on the absorber"),
        ({"litres_per_day": "1 L/day", "condenser": "cooled"}, "colder than the air"),
        ({"litres_per_day": "1 L/day", "condenser_temperature": "5 degC"}, "colder than the air"),
        ({"litres_per_kwh": "1 L/kWh"}, "Only electricity is stated"),
    ],
)
def test_mixed_bases_are_named(fields, words):
    found = verdict_on(**AIR, **fields)
    assert any(words in said for said in found.warnings)


def test_what_is_missing_is_tried_over_its_range():
    found = verdict_on(litres_per_day="30 L/day", area="2 m2")
    moved = {one.field: one.moves for one in found.missing}
    assert moved["sun"] == pytest.approx(8.0 / 3.0)
    assert moved["area_is"] == pytest.approx(3.0)
    assert [one.moves for one in found.missing] == sorted(moved.values(), reverse=True)
    assert set(RANGES) < set(WORDS)


def test_a_claim_of_litres_alone_cannot_be_judged():
    found = verdict_on(litres_per_day="5 L/day", kind="passive_box", **AIR)
    assert found.verdict == "cannot be judged" and found.held == []


def test_ratios_grow_with_the_claim():
    ratios = [
        held_against(
            claim_from({"litres_per_m2_day": f"{x} L/(m2 day)", "sun": "6 kWh/(m2 day)", **AIR}, "c")
        )
        for x in (1, 2, 4)
    ]
    worst = np.array([max(one.ratio for one in held) for held in ratios])
    assert worst / worst[0] == pytest.approx([1.0, 2.0, 4.0])


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"temperature": "25 degC"}, "no litres"),
        ({"litres_per_day": "1 L/day", "relative_humidity": 1.4}, "0.01 to 1"),
        (
            {"litres_per_day": "10 L/day", "litres_per_kg_day": "5 L/(kg day)", "sorbent_mass": "1 kg"},
            "two figures that agree",
        ),
        ({"litres_per_kwh": "20 L/kWh", "electricity": "1 kWh/L"}, "two figures that agree"),
        ({"litres_per_day": "1 L/day", "sorbent": "mof_80l"}, "Did you mean 'mof_801'?"),
        ({"litre_per_day": "1 L/day"}, "Did you mean 'litres_per_day'?"),
    ],
)
def test_bad_claims_are_refused(fields, words):
    with pytest.raises(InputError) as caught:
        claim_from(fields, "claim.toml")
    assert words in str(caught.value)


def test_beside_a_simulated_box_and_at_a_place():
    claim = claim_from(
        {"litres_per_m2_day": "2 L/(m2 day)", "sun": "6 kWh/(m2 day)", "kind": "passive_box", **AIR}, "claim"
    )
    air = steady_air(claim)
    assert float(air["ghi"].sum()) / 365.0 / 1000.0 == pytest.approx(6.0)
    found = judged(claim, next(WEATHER.glob("coast*.gz")))
    assert 0.2 < found.there["litres_per_m2_day"] < 2.0
    assert 0.2 < found.here["simulated"]["litres_per_m2_day"] < 2.5
    assert found.here["scaled"]["claimed"] == pytest.approx(2.0)
    assert "Western Australia" in found.here["site"]


def test_what_is_assumed_for_the_simulated_box_is_named():
    found = judged(read_claim(EXAMPLES / "per_kg_of_many_cycles.toml"))
    assert found.there["assumed"] == ["sun on the area 6 kWh/(m2 day)"]
    assert found.there["litres_per_kg_day"] < 0.25  # one cycle, as the paper's own swing
    machine = judged(read_claim(EXAMPLES / "invented_machine.toml"))
    assert "only passive boxes" in machine.there["note"]


def test_the_same_air_leaves_the_claim_as_it_is():
    claim = claim_from({"litres_per_kwh": "1 L/kWh", **AIR}, "claim")
    sunny = claim_from({"litres_per_m2_day": "1 L/(m2 day)", "sun": "6 kWh/(m2 day)", **AIR}, "claim")
    here = at_site(claim, steady_air(sunny))
    assert here["year"] == pytest.approx(1.0, rel=1e-6)


def test_the_command(tmp_path, capsys):
    options = [
        "--per-kwh",
        "20 L/kWh",
        "--temperature",
        "25 degC",
        "--humidity",
        "20 %",
        "--kind",
        "cooling_coil",
    ]
    assert exit_code(["check-claim", *options, "-o", str(tmp_path)]) == 0
    assert "Impossible" in capsys.readouterr().out
    page = (tmp_path / "claim.html").read_text()
    assert "least work of separation" in page and "http" not in page.split("<ol class")[0]
    assert json.loads((tmp_path / "summary.json").read_text())["verdict"] == "impossible"
    assert exit_code(["check-claim", *options, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["bounds"]
    assert exit_code(["check-claim", str(EXAMPLES / "invented_box.toml"), "--humidity", "20 %"]) == 2
    assert exit_code(["check-claim", "nothing.toml"]) == 2
    assert exit_code(["check-claim"]) == 2
    assert "no litres" in capsys.readouterr().err
