"""One real simulated case for all tests of this room."""

from pathlib import Path

import pytest

from welkinwell.answer import Answer, answer_case
from welkinwell.case import case_from_text

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


@pytest.fixture(scope="session")
def answer() -> Answer:
    return answer_case(case_from_text(CASE, WEATHER.parent / "case.toml"))
