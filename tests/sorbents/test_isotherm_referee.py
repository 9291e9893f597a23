"""Our forms against an independent adsorption library, to 1e-8: numbers of pygaps 4.6.1, kept in data."""

import json
import math
from pathlib import Path

import pytest

from welkinwell.constants import GAS_CONSTANT as R
from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.sorbents import (
    dual_site_langmuir,
    dual_site_sips,
    dubinin_astakhov,
    freundlich,
    gab,
    sips_terms,
    toth,
)
from welkinwell.sorbents.potential import sorbed_state
from welkinwell.sorbents.row import empty_row

T = 298.15
MODELS = json.loads((Path(__file__).parent / "data" / "pygaps_models.json").read_text())["models"]


def of_pressure(p):
    return R * T * math.log(saturation_pressure(T) / p)


def of_humidity(x):
    return -R * T * math.log(x)


def check(name, row, potential):
    model = MODELS[name]
    for p, q in zip(model["pressure"], model["loading"], strict=True):
        assert sorbed_state(row, potential(p), T)[0] == pytest.approx(q, rel=1e-8)


@pytest.mark.parametrize("name", ["Langmuir", "DSLangmuir", "TSLangmuir"])
def test_langmuir(name):
    params = MODELS[name]["params"]
    keys = [k.removeprefix("n_m") for k in params if k.startswith("n_m")]
    row = empty_row()
    dual_site_langmuir.fill_row(row, [(params[f"n_m{k}"], params[f"K{k}"], 0.0) for k in keys])
    check(name, row, of_pressure)


def test_langmuir_by_sips_sites_and_sips_terms():
    """At one temperature three forms of ours draw the same dual-site Langmuir."""
    p = MODELS["DSLangmuir"]["params"]
    sites = [(p["n_m1"], p["K1"]), (p["n_m2"], p["K2"])]
    row = empty_row()
    dual_site_sips.fill_row(row, [(w, b, 50e3, 1.0, 0.0) for w, b in sites])
    check("DSLangmuir", row, of_pressure)
    row = empty_row()
    half = [R * T * math.log(b * saturation_pressure(T)) for _, b in sites]
    sips_terms.fill_row(row, [(w, A, R * T, 0.0) for (w, _), A in zip(sites, half, strict=True)])
    check("DSLangmuir", row, of_pressure)


def test_toth():
    p = MODELS["Toth"]["params"]
    row = empty_row()
    toth.fill_row(row, p["n_m"], p["K"], 0.0, p["t"], 0.0)
    check("Toth", row, of_pressure)


def test_gab():
    p = MODELS["GAB"]["params"]
    row = empty_row()
    gab.fill_row(row, p["n_m"], p["C"], 9e3, p["K"], 600.0)
    check("GAB", row, of_humidity)


def test_freundlich():
    p = MODELS["Freundlich"]["params"]
    row = empty_row()
    freundlich.fill_row(row, (p["K"], 0.0, 0.0, 0.0), (1.0 / p["m"], 0.0, 0.0, 0.0), 250.0, 400.0)
    check("Freundlich", row, of_humidity)


def test_dubinin_astakhov():
    """Ours is bent near saturation by A' = (A + sqrt(A^2 + d^2)) / 2; at A' it is the library's to 1e-8."""
    p = MODELS["DA"]["params"]
    row = empty_row()
    dubinin_astakhov.fill_row(row, p["n_m"], p["e"], p["m"], False)
    bend = dubinin_astakhov.SMOOTHING

    def bent(x):
        soft = of_humidity(x)
        return soft - 0.25 * bend * bend / soft

    check("DA", row, bent)
