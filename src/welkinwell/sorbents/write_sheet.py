"""Write a data sheet from a laboratory's fit: what was measured, and openly what was not.

Numbers that a laboratory's isotherm cannot tell (densities, specific heat, price, release temperatures) are
written as assumptions with a wide spread and listed under cautions, to be replaced by its own.
"""

from __future__ import annotations

import json
import math
from typing import Any, Final

import numpy as np

from welkinwell.constants import GAS_CONSTANT
from welkinwell.sorbents.lab_fit import LabFit, Part
from welkinwell.sorbents.sheet import OWN_SOURCE, SCHEMA_VERSION
from welkinwell.sorbents.uptake_fit import Rate

# key: (value, unit, low, high, what it stands for)
_ASSUMED: Final = {
    "solid": {
        "dry_specific_heat": (1000.0, "J/(kg K)", 700.0, 1500.0, "porous solids lie between"),
        "grain_density": (1100.0, "kg/m3", 700.0, 1800.0, "porous solids lie between"),
        "bulk_density": (500.0, "kg/m3", 300.0, 800.0, "porous solids lie between"),
        "layer_porosity": (0.5, "1", 0.3, 0.75, "1 - bulk density / grain density"),
        "layer_conductivity": (0.12, "W/(m K)", 0.05, 0.3, "dry beds lie between"),
    },
    "use": {
        "regeneration_low": (60.0, "degC", 45.0, 80.0, "a temperature of flat solar beds"),
        "regeneration_high": (90.0, "degC", 80.0, 120.0, "a temperature of flat solar beds"),
        "service_temperature": (120.0, "degC", 95.0, 200.0, "no measurement of long heating known"),
    },
}
_SHAPE_FACTOR: Final = 15.0


def sheet_text(fit: LabFit, key: str, name: str, rate: Rate | None, grain_radius: float) -> str:
    """Return the text of a data sheet.

    Args: fit; key: name of the file; name: for people; rate: from uptake curves, None when not measured;
    grain_radius [m]. Returns: TOML.
    """
    files = ", ".join(fit.points.files)
    lines = [
        f"# {name}: fitted to {files}",
        f"schema_version = {SCHEMA_VERSION}",
        f"key = {_text(key)}",
        f"name = {_text(name)}",
        'family = "own measurement"',
        f"sample = {_text(_sample(fit))}",
        f"cautions = {_list(_cautions(fit, rate))}",
        "",
        "[isotherm]",
        *_isotherm(fit, files),
        "",
        "[range]",
        *_range(fit, files),
        "",
        "[kinetics]",
        *_kinetics(rate, grain_radius),
    ]
    for section, entries in _ASSUMED.items():
        lines += ["", f"[{section}]"]
        lines += [
            f"{key} = {_number(value, unit, [low, high], 'none', words, 'assumed', 'memory')}"
            for key, (value, unit, low, high, words) in entries.items()
        ]
    lines += [
        'ageing = "Not known."',
        "",
        "[cost]",
        f"price = {_number(20.0, 'USD/kg', [1.0, 200.0], 'none', 'not known', 'assumed', 'memory')}",
        "",
        "[hazards]",
        'leaching = ["Not known: test the water before anyone drinks it."]',
    ]
    return "\n".join(lines) + "\n"


def _sample(fit: LabFit) -> str:
    points = fit.points
    degrees = sorted({round(float(T) - 273.15) for T in points.temperature})
    return (
        f"{points.loading.size} points at {', '.join(map(str, degrees))} degC from {', '.join(points.files)}"
    )


def _cautions(fit: LabFit, rate: Rate | None) -> list[str]:
    said = [*fit.warnings, *(rate.warnings if rate else ())]
    if rate is None:
        said.append("No uptake curve: the rate is assumed, within a factor of ten.")
    said.append(
        "Densities, specific heat, conductivity, release and service temperatures, ageing, leaching and "
        "price are assumed: replace them by your own."
    )
    return said


def _isotherm(fit: LabFit, files: str) -> list[str]:
    best = fit.best
    where = f"least squares on {files}"
    own = (OWN_SOURCE, where)
    rivals = ", ".join(
        f"{trial.candidate.name} {trial.aicc - best.aicc:+.1f}" for trial in fit.trials if trial is not best
    )
    comment = f"{best.candidate.name}, by AICc. Others against it: {rivals}."
    error = max(1e-3 * best.misfit, 1e-9)
    samples = _number(0.1, "1", [0.03, 0.3], "none", "samples of one material differ", "assumed", "memory")
    lines = [
        f"form = {_text(best.candidate.form)}",
        f"branch = {_text('adsorption and desorption' if fit.hysteresis > 0.0 else 'adsorption')}",
        f"comment = {_text(comment)}",
        f"fit_rmse = {_number(best.misfit, 'kg/kg', error, *own, 'computed', 'source')}",
        f"fit_largest_error = {_number(best.largest, 'kg/kg', error, *own, 'computed', 'source')}",
        f"sample_spread = {samples}",
    ]
    if fit.hysteresis > 0.0:
        width = _number(
            fit.hysteresis,
            "J/mol",
            0.2 * fit.hysteresis,
            OWN_SOURCE,
            f"median distance of the release branch in {files}",
            "computed",
            "source",
        )
        lines.append(f"hysteresis_width = {width}")
    lines.append(f"correlation = {_list(_correlation(fit))}")
    current = ""
    for part in fit.parts:
        table, _, name = part.key.rpartition(".")
        if table != current:
            lines += ["", f"[[isotherm.{table.split('[')[0]}]]"]
            current = table
        lines.append(f"{name or part.key} = {_part(part, where)}")
    return lines


def _correlation(fit: LabFit) -> list[str]:
    """Rows of the lower triangle, each behind the number's name in the sheet."""
    return [
        f"{part.key}: " + " ".join(f"{value:.4f}" for value in row[: i + 1])
        for i, (part, row) in enumerate(zip(fit.parts, fit.correlation, strict=True))
    ]


def _part(part: Part, where: str) -> str:
    if part.error == 0.0:
        held = "held: at its bound, or no temperature to tell it from"
        if part.unit == "J/(mol K)":
            return _number(part.value, part.unit, 15.0, "none", held, "assumed", "memory")
        return _number(part.value, part.unit, 0.0, OWN_SOURCE, held, "fitted", "source")
    return _number(part.value, part.unit, part.error, OWN_SOURCE, where, "fitted", "source")


def _range(fit: LabFit, files: str) -> list[str]:
    A, T = fit.points.potential, fit.points.temperature
    one = float(np.ptp(T)) < 1.0
    measured = (OWN_SOURCE, f"points of {files}", "measured", "source")
    spread = 15.0 if one else 3.0
    rule = (
        "One temperature measured: loading depends on the adsorption potential alone (shift zero)."
        if one
        else "The form's own dependence on temperature, fitted to the measured temperatures."
    )
    return [
        f"lowest_potential = {_number(float(A.min()), 'J/mol', 20.0, *measured)}",
        f"highest_potential = {_number(float(A.max()), 'J/mol', 50.0, *measured)}",
        f"lowest_temperature = {_number(float(T.min()) - 273.15, 'degC', 0.5, *measured)}",
        f"highest_temperature = {_number(float(T.max()) - 273.15, 'degC', 0.5, *measured)}",
        "extrapolation_spread = "
        + _number(
            spread, "J/(mol K)", [spread / 3.0, spread * 2.0], "none", "common spread", "estimated", "memory"
        ),
        f"rule = {_text(rule)}",
    ]


def _kinetics(rate: Rate | None, radius: float) -> list[str]:
    length = _number(
        1e3 * radius,
        "mm",
        [0.5e3 * radius, 2e3 * radius],
        "none",
        "grain radius as given",
        "assumed",
        "memory",
    )
    if rate is None:
        k, energy = 0.005, 25000.0
        guess = ("assumed", "memory")
        D0 = k * radius**2 / _SHAPE_FACTOR * math.exp(energy / (GAS_CONSTANT * 298.15))
        return [
            'shape = "sphere"',
            "diffusivity = "
            + _number(D0, "m2/s", [0.1 * D0, 10.0 * D0], "none", "k = 0.005 1/s at 25 degC", *guess),
            "activation_energy = "
            + _number(energy, "J/mol", [1e4, 4e4], "none", "order of magnitude", *guess),
            f"length = {length}",
            'rule = "No uptake curve: k = 0.005 1/s at 25 degC is assumed, within a factor of ten."',
        ]
    D0 = rate.diffusivity(_SHAPE_FACTOR, radius)
    factor = math.exp(2.0 * rate.rate_error)
    how = ("fitted", "source") if rate.measured_energy else ("assumed", "memory")
    source = OWN_SOURCE if rate.measured_energy else "none"
    where = "rate of the uptake curves at this grain radius and activation energy"
    energy = max(rate.energy, 0.0)
    ends = [max(energy - 2.0 * rate.energy_error, 0.0), energy + 2.0 * rate.energy_error]
    return [
        'shape = "sphere"',
        "diffusivity = "
        + _number(D0, "m2/s", [D0 / factor, D0 * factor], OWN_SOURCE, where, "fitted", "source"),
        "activation_energy = " + _number(energy, "J/mol", ends, source, "rates against 1/T", *how),
        f"length = {length}",
        f"rule = {_text(f'k = {rate.rate:.3g} 1/s at 25 degC, from {len(rate.rates)} uptake curves.')}",
    ]


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _list(entries: list[str]) -> str:
    return "[\n" + "".join(f"    {_text(entry)},\n" for entry in entries) + "]"


def _number(value: float, unit: str, spread: Any, source: str, where: str, how: str, seen: str) -> str:
    parts = {"value": float(f"{value:.10g}"), "unit": unit, "spread": _rounded(spread)}
    parts |= {"source": source, "where": where, "how": how, "seen": seen}
    return "{ " + ", ".join(f"{key} = {_toml(part)}" for key, part in parts.items()) + " }"


def _rounded(spread: Any) -> Any:
    if isinstance(spread, list):
        return [float(f"{value:.6g}") for value in spread]
    return float(f"{spread:.3g}")


def _toml(value: Any) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return _text(value) if isinstance(value, str) else repr(float(value))
