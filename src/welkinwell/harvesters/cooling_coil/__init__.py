"""The cooling coil: air below its dew point on fins, by a compressor or thermoelectric modules."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind

KIND: Final = ListedKind(
    key="cooling_coil",
    package=__name__,
    title="cooling coil (compressor or thermoelectric)",
    short_title="cooling coil",
    basis="coil face",
    design="CoolingCoil",
    place=5,
    takes_sorbent=False,
    hazards=("electricity", "refrigerant", "rotor"),
)
