"""Each theory page states the flows of its kind: rows that they join and unknowns that they depend on."""

import re

import pytest
from theory_tables import OUTSIDE, PAGES, Stated, flows_of, lines_of, stated_flows

from welkinwell.harvesters.kinds import LISTED
from welkinwell.harvesters.passive_box.layered_flows import CELLS

BOX = 3 * (CELLS - 1)  # row at which the box around the layer begins
GLASS, CARRIER, CONDENSER, FACE = BOX, BOX + 1, BOX + 2, BOX + 9
LAYER_BEGINS = 37


def page(kind):
    return (PAGES / f"{kind}.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", LISTED)
def test_the_page_states_every_flow_as_the_text_has_it(kind):
    assert stated_flows(page(kind)) == flows_of(LISTED[kind].assembled().kind)


def lines_with_flows(text):
    return [i for i, line in enumerate(text.splitlines()) if re.match(r"\| \d.* (→|meter) ", line)]


@pytest.mark.parametrize("kind", LISTED)
def test_a_page_with_a_line_less_is_noticed(kind):
    text = page(kind)
    program, lines = flows_of(LISTED[kind].assembled().kind), text.splitlines()
    for i in lines_with_flows(text):
        assert stated_flows("\n".join(lines[:i] + lines[i + 1 :])) != program, lines[i]


@pytest.mark.parametrize(
    ("stated", "instead"),
    [
        ("| out → 1 | 0, 1 | `J(hm", "| 1 → out | 0, 1 | `J(hm"),
        ("| out → 1 | 0, 1 | `J(hm", "| out → 1, warms 0 | 0, 1 | `J(hm"),
        ("| 0 → out | 0 | `h (T", "| 0 → out | none | `h (T"),
        ("| 5 | back_loss |", "| 5 | rear_loss |"),
        ("| 5 | back_loss |", "| 8 | back_loss |"),
    ],
)
def test_a_page_that_says_otherwise_is_noticed(stated, instead):
    text = page("dew_condenser")
    assert text.count(stated) == 1
    assert stated_flows(text.replace(stated, instead)) != flows_of(LISTED["dew_condenser"].assembled().kind)


def test_a_flow_that_stands_twice_is_noticed():
    text = page("dew_condenser")
    with pytest.raises(ValueError, match="twice"):
        stated_flows(text.replace("| 5 | back_loss |", "| 4 | back_loss |"))


def row_of(symbol, i):
    """Row of an unknown of the layer by its name on the page, for cell i."""
    if symbol == "Tb":
        return CARRIER
    letter, cell = symbol[0], eval(symbol[1:], {"__builtins__": {}}, {"i": i})
    if cell == CELLS - 1:
        return {"T": FACE, "w": BOX + 3, "p": BOX + 7}[letter]
    return 3 * cell + "Twp".index(letter)


def layer_as_stated(text):
    """Flows of the layer by number, each line of the page read for all its cells."""
    found = {}
    for line in lines_of(text):
        of_cells = "i" in line["no."]
        for i in range(CELLS - 1 if of_cells else 1):
            number = eval(line["no."].strip("`").replace("3 i", "3 * i"), {"__builtins__": {}}, {"i": i})
            places = [row_of(symbol, i) for symbol in re.findall(r"`(.+?)`", line["rows"])]
            uses = [row_of(symbol, i) for symbol in re.findall(r"`(.+?)`", line["uses"])]
            warms = tuple((row, 1) for row in places[2:])
            name = re.sub("_i$", f"_{i}", line["name"])
            found[number] = Stated(name, *places[:2], warms, tuple(sorted(uses)))
    return found


def layered_kind():
    return LISTED["passive_box"].assembled("layered").kind


def test_the_layered_page_states_the_flows_of_the_layer():
    program = flows_of(layered_kind())
    assert layer_as_stated(page("layered_bed")) == {k: f for k, f in program.items() if k >= LAYER_BEGINS}


def test_a_layered_page_with_a_line_less_is_noticed():
    text, program = page("layered_bed"), flows_of(layered_kind())
    lines = [line for line in text.splitlines() if re.match(r"\| (37|`\d)", line) and "_" in line]
    assert len(lines) == 4
    for line in lines:
        assert layer_as_stated(text.replace(line + "\n", "")) != {
            k: f for k, f in program.items() if k >= LAYER_BEGINS
        }


def test_around_the_layer_stand_the_flows_of_the_lumped_box():
    """As its page has them, with carrier or face where the lumped box has its bed: the page says which."""
    said = page("layered_bed")
    of_carrier = re.search(r"the carrier at `Tb` takes.*?opens the vent \(7\)", said, re.DOTALL)[0]
    at_face = re.search(r"the face at `Ts` meets.*?its flows \([\d, ]+\)", said, re.DOTALL)[0]
    carriers, faces = (
        {int(n) for group in re.findall(r"\(([\d, ]+)\)", words) for n in group.split(", ")}
        for words in (of_carrier, at_face)
    )
    lumped, layered = stated_flows(page("passive_box")), flows_of(layered_kind())
    assert set(lumped) == set(range(LAYER_BEGINS))

    def around(row, bed):
        return row if row == OUTSIDE else bed if row == 1 else row + BOX

    for number, flow in lumped.items():
        bed = CARRIER if number in carriers else FACE
        if 1 in (flow.start, flow.end, *(row for row, _ in flow.warms)):
            assert (number in carriers) != (number in faces | {0}), flow.name
        found = layered[number]
        assert (found.name, found.start, found.end) == (
            flow.name,
            around(flow.start, bed),
            around(flow.end, bed),
        )
        assert found.warms == tuple((around(row, FACE), sign) for row, sign in flow.warms)
