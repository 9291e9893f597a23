"""A data sheet as a page: curves, heat, kinetics, every number with its source, and its doubts."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from welkinwell.quantities import plain
from welkinwell.report import charts, tables
from welkinwell.report.citations import References
from welkinwell.report.page import Drawer, write_page
from welkinwell.report.tables import Table
from welkinwell.sorbents.sheet import Number
from welkinwell.sorbents.sorbent import lowest_heat_ratio
from welkinwell.writing import together, write_bytes

if TYPE_CHECKING:
    from welkinwell.sorbents.lab_fit import LabFit
    from welkinwell.sorbents.sorbent import Sorbent

CURVES: Final = (288.15, 298.15, 313.15, 333.15, 353.15)  # K


@together()
def write_sorbent_page(sorbent: Sorbent, folder: Path) -> Path:
    """Write NAME.html and its charts; the page stands alone.

    Args: sorbent; folder. Returns: the path of the page.
    """
    with charts.quick_charts():
        drawer = Drawer(folder / "charts")
        references = References()
        context = {
            "sorbent": sorbent,
            "texts": sorbent.sheet.texts,
            "figures": [drawer(figure) for figure in _figures(sorbent)],
            "facts": _facts(sorbent),
            "numbers": tables.sheet_table(sorbent, references),
            "checks": _checks(sorbent, references),
            "memory": tables.memory_share(sorbent),
            "rules": [
                tables.form_words(sorbent),
                *(
                    sorbent.sheet.texts[key]
                    for key in (
                        "range.rule",
                        "kinetics.rule",
                        "use.ageing",
                        "isotherm.comment",
                        "isotherm.low_heat_reason",
                    )
                    if key in sorbent.sheet.texts
                ),
            ],
        }
        context["references"] = references.listed()
        return write_page("sorbent.html.jinja", context, folder / f"{sorbent.key}.html")


def write_misfit_picture(fit: LabFit, name: str, path: Path) -> Path:
    """Write the misfit of a fit against relative humidity as PNG.

    Args: fit; name of the sorbent; path of the picture. Returns: the path.
    """
    import vl_convert

    with charts.quick_charts():
        png = vl_convert.vegalite_to_png(_misfit_chart(fit, name).to_dict(), scale=2.0)
    return write_bytes(path, png)


def _misfit_chart(fit: LabFit, name: str) -> Any:
    import altair as alt

    uptake = fit.points.branch(False)
    rows: list[dict[str, Any]] = []
    for T, A, q in zip(uptake.temperature, uptake.potential, uptake.loading, strict=True):
        rows.append(
            {
                "rh": math.exp(-A / (8.314462618 * T)),
                "miss": float(q - fit.loading(T, A)),
                "degrees": f"{T - 273.15:.0f} °C",
                "kelvin": float(T),
            }
        )
    names = list(dict.fromkeys(str(row["degrees"]) for row in sorted(rows, key=lambda row: row["kelvin"])))
    spread = 2.0 * fit.best.misfit
    zero = alt.Chart(charts._data([{"y": 0.0}, {"y": spread}, {"y": -spread}])).mark_rule(strokeDash=[4, 4])
    points = (
        alt.Chart(charts._data(rows))
        .mark_point(filled=True, size=45, opacity=1)
        .encode(
            x=alt.X("rh:Q", title="relative humidity", scale=alt.Scale(zero=True)),
            y=alt.Y("miss:Q", title="measured minus fitted, kg/kg"),
            color=charts._colours("degrees", names),
            shape=alt.Shape(
                "degrees:N",
                sort=names,
                title=None,
                scale=alt.Scale(domain=names, range=charts._first(charts.SHAPES, names)),
            ),
        )
    )
    title = f"{name}: {fit.best.candidate.name}; dashed: twice the root mean square"
    return charts._finished((zero.encode(y="y:Q") + points).properties(width=560, height=280, title=title))


def _figures(sorbent: Sorbent) -> list[charts.Figure]:
    rh = np.linspace(0.005, 0.98, 196)
    warm = {f"{T - 273.15:.0f} °C": np.asarray(sorbent.loading(T, rh)) for T in CURVES}
    if sorbent.hysteresis_width > 0.0:
        T = CURVES[0]
        warm[f"{T - 273.15:.0f} °C, release"] = np.asarray(sorbent.release_loading(T, rh))
    isotherms = _lines(
        "isotherms",
        f"Loading of {sorbent.name} against relative humidity",
        ("relative humidity", rh),
        ("kg of water per kg dry", warm),
    )
    release = np.linspace(288.15, sorbent.service_temperature, 120)
    pressures = (1000.0, 2000.0, 4000.0)
    isobars = {
        f"{p / 1000:g} kPa": np.array(
            [float(sorbent.release_loading(T, min(p / _saturation(T), 1.0))) for T in release]
        )
        for p in pressures
    }
    isobar = _lines(
        "isobars",
        "What stays in it as it warms up in vapour of a constant pressure",
        ("temperature, °C", release - 273.15),
        ("kg of water per kg dry", isobars),
    )
    full = float(sorbent.loading(298.15, 0.95))
    loadings = np.linspace(0.02, 0.98, 97) * full
    heats = {
        f"{T - 273.15:.0f} °C": np.asarray(sorbent.isosteric_heat(T, loadings)) / 1e3
        for T in (298.15, 333.15)
    }
    heats["latent heat, 25 °C"] = np.full_like(loadings, _latent(298.15) / 1e3)
    heat = _lines(
        "heat",
        "Heat that a kilogram of water takes to leave it",
        ("loading, kg/kg dry", loadings),
        ("kJ per kg of water", heats),
    )
    warm_rates = np.linspace(283.15, min(sorbent.service_temperature, 373.15), 60)
    half_full = np.full_like(warm_rates, 0.5 * full)  # without effect but where the sheet states a law
    rates = {"63 % of the way": 1.0 / np.asarray(sorbent.rate(warm_rates, half_full)) / 60.0}
    rate = _lines(
        "rate",
        "Time of the grain or layer itself: 63 % of the way to equilibrium",
        ("temperature, °C", warm_rates - 273.15),
        ("minutes", rates),
    )
    return [isotherms, isobar, heat, rate]


def _saturation(T: float) -> float:
    from welkinwell.moist_air.saturation import saturation_pressure

    return float(saturation_pressure(T))


def _latent(T: float) -> float:
    from welkinwell.moist_air.saturation import latent_heat

    return float(latent_heat(T))


def _lines(
    key: str,
    caption: str,
    across: tuple[str, charts.Floats],
    up: tuple[str, dict[str, charts.Floats]],
) -> charts.Figure:
    import altair as alt

    names = list(up[1])
    rows = [
        {"x": float(x), "y": float(y), "line": name}
        for name, values in up[1].items()
        for x, y in zip(across[1], values, strict=True)
        if math.isfinite(y)
    ]
    legend = alt.Legend(title=None, orient="top", columns=3, symbolSize=200) if len(names) > 1 else None
    chart = (
        alt.Chart(charts._data(rows))
        .mark_line(strokeWidth=2)
        .encode(
            x=alt.X("x:Q", title=across[0], scale=alt.Scale(zero=False, nice=False)),
            y=alt.Y("y:Q", title=up[0], scale=alt.Scale(zero=key != "heat")),
            color=alt.Color(
                "line:N",
                sort=names,
                legend=legend,
                scale=alt.Scale(domain=names, range=charts._first(charts.SERIES, names)),
            ),
            strokeDash=alt.StrokeDash(
                "line:N",
                sort=names,
                legend=legend,
                scale=alt.Scale(domain=names, range=charts._first(charts.DASHES, names)),
            ),
        )
        .properties(width=charts.HALF - 40, height=210)
    )
    said = "; ".join(f"{name}: {np.nanmin(y):.3g} to {np.nanmax(y):.3g}" for name, y in up[1].items())
    return charts.Figure(key, caption, f"{up[0]} against {across[0]}. {said}.", charts._finished(chart))


def _facts(sorbent: Sorbent) -> list[tuple[str, str]]:
    ratio, T, _ = lowest_heat_ratio(sorbent)
    low, high = (T - 273.15 for T in sorbent.temperature_range)
    facts = [
        ("Family", sorbent.family),
        ("Sample", sorbent.sheet.texts["sample"]),
        ("Form", sorbent.sheet.texts["isotherm.form"].replace("_", " ")),
        ("Measured", f"{low:.0f} °C only" if high - low < 1.0 else f"{low:.0f} to {high:.0f} °C"),
        (
            "Release, practical",
            "{:.0f} to {:.0f} °C".format(*(t - 273.15 for t in sorbent.regeneration_range)),
        ),
        ("Never hotter than", f"{sorbent.service_temperature - 273.15:.0f} °C"),
        ("Lowest heat", f"{ratio:.2f} times the latent heat, at {T - 273.15:.0f} °C"),
    ]
    if sorbent.hysteresis_width > 0.0:
        facts.append(("Release lies above uptake by", f"{sorbent.hysteresis_width:.0f} J/mol"))
    if sorbent.leak_humidity < 1.0:
        facts.append(("Brine is lost above", f"relative humidity {sorbent.leak_humidity:.2f}"))
    if (line := sorbent.crystallisation_humidity(298.15)) > 0.0:
        facts.append(("Crystals form below", f"relative humidity {line:.3f} at 25 °C"))
    return facts


def _checks(sorbent: Sorbent, references: References) -> Table | None:
    from welkinwell.constants import WATER_MOLAR_MASS

    rows = []
    for check in sorbent.sheet.checks:
        T = check.temperature
        wet = check.relative_humidity
        q = check.loading if check.loading is not None else float(sorbent.loading(T, wet))
        heat = check.of == "isosteric_heat"
        got = float(sorbent.isosteric_heat(T, q)) * WATER_MOLAR_MASS / 1e3 if heat else q
        published = check.expected.value / 1e3 if heat else check.expected.value
        state = f"{T - 273.15:.0f} °C, " + (
            f"{q:.3f} kg/kg" if wet is None else f"relative humidity {plain(wet)}"
        )
        what = "heat, kJ/mol" if heat else "loading, kg/kg"
        difference = f"{100.0 * (got / published - 1.0):+.1f} %"
        if check.used_in_sheet:
            difference += ", used in the sheet"
        rows.append(
            (what, state, f"{got:.3f}", f"{published:.3f}", difference, _cited(check.expected, references))
        )
    if not rows:
        return None
    columns = ("Figure", "State", "This sheet", "Published", "Difference", "From")
    return Table(
        "Against what was published (compared only, unless it says so)", columns, rows, frozenset({0, 1, 5})
    )


def _cited(number: Number, references: References) -> str:
    source = "no source" if number.source == "none" else f"[{references.number(number.source)}]"
    return f"{source} {number.where} ({number.seen})"
