"""How deep a layer of sorbent may be for a bed that is computed as one, and what is said beyond that.

A lumped bed has one loading, and one resistance for the way into its layer. That holds while the layer fills
well within the time that it has for taking up. How far off it is otherwise was measured for every sheet with
pores, at two places, against the layered passive box (`python -m benchmarks.layered --sheets`, table in
docs/theory/layered_bed.md); the figures here are that command's.
"""

from __future__ import annotations

from typing import Any, Final

from welkinwell.constants import WATER_GAS_CONSTANT
from welkinwell.harvesters.layer_density import SorbentLayer, layer_of
from welkinwell.harvesters.study import study_of

SHOWN: Final = 0.4  # of the time for uptake: to here lumped and layered litres differ by WITHIN at most
WITHIN: Final = 0.06
STATE: Final = (298.15, 0.6)  # K and relative humidity at which the time to fill is told
PRESSURE: Final = 101325.0  # Pa
SLAB: Final = 1.5  # time of a front over 1/k of a slab: L^2/(2 D') over L^2/(3 D')
# Time to fill over time for uptake, up to; litres of the layered box over the lumped ones, less one: from, to
MEASURED: Final[tuple[tuple[float, float, float], ...]] = (
    (0.125, -0.03, 0.00),
    (0.4, -0.06, 0.04),
    (1.0, -0.09, 0.15),
    (2.0, -0.09, 0.33),
    (8.0, -0.17, 0.75),
    (1000.0, -0.37, 1.25),
)


def filling_time(design: Any, sorbent: Any) -> float | None:
    """Time in which vapour fills a dry layer from its open side [s]; None where the layer is no way for it.

    A sharp front at 25 degC and relative humidity 0.6, L^2 rho q/(2 De c); for a sheet whose rate covers the
    layer 3/(2 k), which is the same of a slab. None for a bed of grains that air is blown through.
    """
    from welkinwell.moist_air import saturation_pressure
    from welkinwell.transfer.layers import effective_diffusivity, front_time

    layer = layer_of(design)
    if layer is None or sorbent is None or _blown_through(layer):
        return None
    T, humidity = STATE
    held = float(sorbent.loading(T, humidity))
    way = layer.thickness / getattr(design, "open_faces", 1)
    if sorbent.rate_covers_layer or sorbent.layer_porosity <= 0.0:
        return SLAB / float(sorbent.in_layer(layer.thickness).rate(T, held))
    diffusivity = effective_diffusivity(sorbent.grain_radius / 3.0, sorbent.layer_porosity, T, PRESSURE)
    vapour = humidity * float(saturation_pressure(T)) / (WATER_GAS_CONSTANT * T)
    return float(front_time(way, layer.density, held, diffusivity, vapour))


def uptake_time(design: Any) -> float:
    """Time that a layer has for taking up in a cycle [s]: a night where there is one cycle a day."""
    return study_of(design.kind).uptake_time(design)


def too_deep(design: Any, sorbent: Any) -> bool:
    """Whether a bed is computed as one while its layer fills more slowly than was shown to be right."""
    if getattr(design, "depth", "lumped") != "lumped":
        return False
    time = filling_time(design, sorbent)
    return time is not None and time > SHOWN * uptake_time(design)


def has_layered_depth(design: Any, sorbent: Any) -> bool:
    """Whether `depth = "layered"` would compute this bed in cells."""
    return hasattr(design, "depth") and bool(sorbent.layer_porosity > 0.0 and not sorbent.rate_covers_layer)


def measured_range(share: float) -> tuple[float, float]:
    """Give how far the layered litres lay from the lumped ones at such a share of time to fill [1]."""
    return next(((low, high) for most, low, high in MEASURED if share <= most), MEASURED[-1][1:])


def depth_notes(design: Any, sorbent: Any, layered: str = "") -> list[str]:
    """Say that a bed is too deep to be computed as one, and what is known of the error.

    layered: a sentence on what the layered bed gives, where it has been simulated; without it the range that
    was measured is told.
    """
    if sorbent is None or not too_deep(design, sorbent):
        return []
    layer, time, has = layer_of(design), filling_time(design, sorbent), uptake_time(design)
    assert layer is not None and time is not None
    said = (
        f"Vapour takes about {_hours(time)} to fill {layer.thickness * 1e3:.3g} mm of {sorbent.name} "
        f"(25 degC, relative humidity {STATE[1]:g}) and has {_hours(has)}: too deep for a bed computed as "
        f"one, which was shown to hold within {100 * WITHIN:.0f} % up to {_hours(SHOWN * has)}."
    )
    if layered:
        return [f"{said} {layered}"]
    if has_layered_depth(design, sorbent):
        low, high = measured_range(time / has)
        return [
            f'{said} depth = "layered" computes it in cells; in passive boxes as slow as this that '
            f"changed the litres by {100 * low:+.0f} to {100 * high:+.0f} % (docs/theory/layered_bed.md)."
        ]
    why = "its sheet knows no pores between grains" if hasattr(design, "depth") else "this kind has none"
    return [f"{said} There is no layered depth to compare with: {why}. Thinner layers are surer."]


def _blown_through(layer: SorbentLayer) -> bool:
    return layer.fields[1] == "bed_depth"


def _hours(seconds: float) -> str:
    if seconds < 3600.0:
        return f"{seconds / 60.0:.2g} min"
    hours = seconds / 3600.0
    return f"{hours:.0f} h" if hours >= 10.0 else f"{hours:.2g} h"
