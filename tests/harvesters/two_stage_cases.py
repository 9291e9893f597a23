"""Two-stage boxes that several tests share."""

from functools import cache

from box_cases import SILICA, site_of
from welkinwell.harvesters.two_stage_box.design import TwoStageBox
from welkinwell.simulation import prepare
from welkinwell.sorbents.sorbent import sorbent

DESIGNS = {
    "plain": {},
    # little sorbent, hot and leaky, so that the vent opens; circulation in the gaps
    "hot": {
        "sorbent_mass": 2.0,
        "layer_thickness": 1.0e-3,
        "vent_temperature": 345.15,
        "operation": "clock",
        "gap_circulation": "inclined",
        "second_share": 0.3,
        "leak": 3.0 / 3600.0,
        "front_insulation": 0.3,
        "open_faces": 2,
    },
}


@cache
def ready_of(name="plain", material=SILICA, place="coast"):
    return prepare(TwoStageBox(**DESIGNS[name]), sorbent(material), site_of(place))


def made(material=SILICA, place="coast", **fields):
    """A prepared two-stage box."""
    return prepare(TwoStageBox(**fields), sorbent(material), site_of(place))
