"""Imports between rooms go down only, and every room is on the list (pyproject.toml, tool.importlinter)."""

import sys
import tomllib
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).parent.parent


def test_imports_go_down_only():
    code = lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
    assert code == 0, "run `lint-imports` to see which import goes up"


@pytest.mark.parametrize(("line", "code"), [("", 0), ("from upside_down import cli\n", 1)])
def test_an_import_that_goes_up_is_found(tmp_path, monkeypatch, line, code):
    """The contract of the real project, on a small package whose lowest room imports the highest."""
    contract = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"][0]
    package = tmp_path / "upside_down"
    package.mkdir()
    needed = {name for layer in contract["layers"] for name in layer.split(" | ") if "(" not in name}
    for module in ("__init__", "cli", *needed):
        (package / f"{module}.py").write_text(line if module == "errors" else "")
    layers = ", ".join(repr(layer) for layer in contract["layers"])
    (tmp_path / "pyproject.toml").write_text(
        "[tool.importlinter]\nroot_package = 'upside_down'\n"
        "[[tool.importlinter.contracts]]\nname = 'rooms'\ntype = 'layers'\nexhaustive = true\n"
        f"containers = ['upside_down']\nlayers = [{layers}]\n"
    )
    monkeypatch.chdir(tmp_path)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "upside_down", raising=False)
    assert lint_imports(config_filename=str(tmp_path / "pyproject.toml"), no_cache=True) == code
