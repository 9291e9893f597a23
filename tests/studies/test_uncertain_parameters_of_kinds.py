"""Uncertain parameters and variables of every kind: fields that the kind has and is simulated with."""

import numpy as np
import pytest

from box_cases import site_of
from welkinwell.declare import declared_fields
from welkinwell.harvesters.kinds import KINDS
from welkinwell.simulation import prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.drawn import drawn
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.studies.variables import variables_of

SHEETS = {"liquid_desiccant": "licl_brine"}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_uncertain_parameter_of_a_kind_moves_what_is_simulated(kind):
    listed = KINDS[kind]
    design = listed.load()()
    material = sorbent(SHEETS.get(kind, "silica_gel_regular_density")) if listed.takes_sorbent else None
    ready = prepare(design, material, site_of("coast"))
    for parameter in uncertain_parameters_of(ready.design, ready.sorbent):
        moved = drawn(ready, [parameter], np.array([float(parameter.value(np.array(0.9)))]))
        same = moved.numbers == ready.numbers and np.array_equal(moved.row, ready.row)
        same = same and np.array_equal(moved.air.nodes, ready.air.nodes)
        assert not same, parameter.key


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_variable_of_a_kind_lies_in_its_fields_range(kind):
    design = KINDS[kind].load()()
    fields = declared_fields(type(design))
    for variable in variables_of(design):
        entry = fields[variable.key]
        assert entry.low is None or variable.low >= entry.low
        assert entry.high is None or variable.high <= entry.high
        assert variable.at(variable.share(variable.now(design, None))) == pytest.approx(
            min(max(variable.now(design, None), variable.low), variable.high)
        )
