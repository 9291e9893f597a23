"""The public functions take scalars, arrays, xarray and pandas alike, and cost nothing to import."""

import os
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import welkinwell.moist_air as air
from welkinwell.moist_air import humidity, saturation


def test_a_number_gives_a_number():
    value = air.saturation_pressure(300)
    assert isinstance(value, float)
    assert value == saturation.saturation_pressure(300.0)


def test_arrays_broadcast():
    temperature = np.array([280.0, 300.0, 320.0])[:, None]
    humid = np.array([0.2, 0.8])
    ratio = air.humidity_ratio(temperature, humid, 101325.0)
    assert ratio.shape == (3, 2)
    assert ratio[1, 1] == humidity.humidity_ratio(300.0, 0.8, 101325.0)
    assert air.dew_point([290.0, 300.0], 0.5).shape == (2,)


def test_xarray_keeps_its_labels():
    temperature = xr.DataArray([280.0, 300.0], dims="time", coords={"time": [0, 1]})
    pressure = xr.DataArray([70e3, 101325.0], dims="site")
    bulb = air.wet_bulb(temperature, 0.4, pressure)
    assert bulb.dims == ("time", "site")
    again = xr.apply_ufunc(air.wet_bulb, temperature, 0.4, pressure)
    xr.testing.assert_identical(bulb, again)


def test_pandas_keeps_its_index():
    series = pd.Series([280.0, 300.0], index=["a", "b"])
    assert list(air.latent_heat(series).index) == ["a", "b"]


def test_every_face_answers_and_says_its_units():
    for name in air.__all__:
        face = getattr(air, name)
        count = face.__wrapped__.__code__.co_argcount
        plausible = {
            "temperature": 300.0,
            "humidity_ratio": 0.01,
            "relative_humidity": 0.5,
            "dew_point": 285.0,
        }
        arguments = [plausible.get(word, 9e4) for word in face.__wrapped__.__code__.co_varnames[:count]]
        assert np.isfinite(face(*arguments)), name
        for word in face.__wrapped__.__code__.co_varnames[:count]:
            line = next(line for line in face.__doc__.splitlines() if line.strip().startswith(f"{word}:"))
            assert "[" in line, (name, word)
        assert "returns:" in face.__doc__ and "source:" in face.__doc__, name
        assert name in repr(face)


def run(code, **environment):
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ | environment
    ).stdout


def test_import_compiles_nothing():
    seconds = run(
        "import numba; from time import perf_counter as now; t = now(); "
        "import welkinwell.moist_air; print(now() - t)"
    )
    assert float(seconds) < 0.5


def test_same_answers_as_plain_python():
    code = (
        "import welkinwell.moist_air as a; "
        "print(float(a.wet_bulb(300.0, 0.4, 9e4)), a.humidity_ratio([300.0, 280.0], 0.4, 9e4).sum())"
    )
    plain = [float(x) for x in run(code, NUMBA_DISABLE_JIT="1").split()]
    assert plain == pytest.approx([float(x) for x in run(code).split()], rel=1e-13)
