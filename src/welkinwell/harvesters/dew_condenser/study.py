"""What studies ask of the dew condenser: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

import math
from typing import Final

from welkinwell.harvesters.changes import other_fields, scale_fields, set_fields
from welkinwell.harvesters.dew_condenser.bounds import bounds_of, size_bounds
from welkinwell.harvesters.easings import Easing
from welkinwell.harvesters.losses import Loss
from welkinwell.harvesters.study import Effort, Study, never
from welkinwell.harvesters.uncertain_parameters import (
    FACTOR,
    MEMORY,
    PRACTICE,
    UNIFORM,
    WIND_COEFFICIENT,
    UncertainParameter,
)

_PARAMETERS: Final = (
    WIND_COEFFICIENT,
    UncertainParameter(
        "emissivity",
        "Emissivity of the sheet, new to aged",
        "upkeep",
        UNIFORM,
        f"0 to 6 % below new; {PRACTICE}",
        low=1.0,
        high=0.94,
        change=other_fields("emissivity", most=1.0),
    ),
    UncertainParameter(
        "back_loss",
        "Heat through the insulation",
        "heat and mass transfer",
        FACTOR,
        f"30 %: workmanship; {PRACTICE}",
        0.3,
        change=other_fields("back_loss"),
    ),
    UncertainParameter(
        "holdup",
        "Water that hangs on the sheet",
        "upkeep",
        FACTOR,
        f"0.02 to 0.1 mm; {MEMORY}",
        0.5,
        change=other_fields("holdup"),
    ),
)


_LOSSES: Final = (
    Loss(
        "sky",
        "Cold of the sky that the sheet does not take",
        "a black sheet that sees nothing but sky",
        set_fields(emissivity=1.0, sky_view=1.0),
    ),
    Loss(
        "back",
        "Heat from behind",
        "no heat through the insulation",
        set_fields(back_loss=0.0),
    ),
    Loss(
        "wind",
        "Wind that warms the sheet",
        "a fifth of the wind: less heat, and less vapour with it",
        scale_fields(shelter=0.2),
    ),
    Loss(
        "sensible",
        "Heat of the sheet itself",
        "a tenth of its heat capacity",
        scale_fields(sheet_mass=0.1),
    ),
    Loss(
        "sun",
        "Sun that dries the sheet",
        "a sheet, and dust on it, that take no sunlight",
        set_fields(solar_absorptance=0.0, soiling=0.0),
    ),
    Loss(
        "surfaces",
        "Drops that hang on the sheet",
        "next to no hold-up",
        set_fields(holdup=1e-3),
    ),
)


_EASINGS: Final = (
    Easing(
        "sky",
        "Cold of the sky",
        "a black sheet that sees nothing but sky",
        set_fields(emissivity=1.0, sky_view=1.0),
    ),
    Easing("wind", "Warm wind", "half the wind", scale_fields(shelter=0.5)),
    Easing("back", "Heat from behind", "no heat through the insulation", set_fields(back_loss=0.0)),
    Easing("drying", "Sun by day", "covered while the sun shines", set_fields(operation="sun")),
    Easing("holdup", "Water left on the surfaces", "every drop runs", set_fields(holdup=0.001)),
)


STUDY: Final = Study(
    losses=_LOSSES,
    easings=_EASINGS,
    parameters=_PARAMETERS,
    ranges=(("tilt", 0.0, math.radians(60.0)), ("shelter", 0.3, 1.0)),
    effort=Effort(10.0, 0.08, 0.02),
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=never,
)
