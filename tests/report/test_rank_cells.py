"""The shaded table of sheets and places: heads stand above the cells, and no two numbers in one place."""

import re

import numpy as np
import pytest
import vl_convert

from welkinwell.report.rank_charts import litres_by_place

NAMES = ["Silica gel, regular density", "Zeolite 13X"]
LONG = "Western Australia, Australia (coast_western_australia_2020)"
PLACES = {
    "one": [LONG],
    "two": [LONG, "Daggett Barstow Airport, California, USA"],
    "two of one name": [LONG, LONG],
    "six": [LONG, "A", "B", "Kuala Lumpur", "Denver International Airport", LONG],
}


@pytest.mark.parametrize("which", PLACES)
def test_heads_end_above_the_cells_and_numbers_have_a_cell_each(which):
    places = PLACES[which]
    table = np.arange(1.0, 1.0 + 2 * len(places)).reshape(2, -1)
    chart = litres_by_place(places, NAMES, table).chart
    svg = vl_convert.vegalite_to_svg(chart if isinstance(chart, dict) else chart.to_dict())
    # places in the picture's own coordinates: the cells begin at y = 0 and go down
    text = r'<text text-anchor="middle" transform="translate\((-?[\d.]+),(-?[\d.]+)\)"[^>]*>(.*?)</text>'
    found = [(float(x), float(y), words) for x, y, words in re.findall(text, svg)]
    heads = [one for one in found if one[1] < 0.0]
    assert [x for x, _, _ in heads] == sorted({x for x, _, _ in heads}) and len(heads) == len(places)
    for _, y, words in heads:
        lower = sum(float(step) for step in re.findall(r'dy="([\d.]+)"', words))
        assert y + lower <= -3.0, words  # the foot of its last line; letters go some 3 px below it
    numbers = [one for one in found if re.fullmatch(r"\d+\.\d\d", one[2])]
    assert len({(x, y) for x, y, _ in numbers}) == len(numbers) == table.size
    step = min(np.diff(sorted({x for x, _, _ in numbers})), default=110.0)
    lines = [re.sub(r"<.*?>", "", line) for _, _, words in heads for line in words.split("</tspan>")]
    assert max(map(len, lines)) * 5.0 < step + 10.0  # 12 px letters are some 6 px wide, five at the least
