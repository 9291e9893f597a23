"""Everything about a kind stands in its folder: no other file names one, or imports from a kind's folder."""

import ast
import json
import math
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import welkinwell
from welkinwell.climate import read_climate
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.kinds import KINDS, LISTED, listed_kinds
from welkinwell.harvesters.listed import ListedKind
from welkinwell.simulation import simulate
from welkinwell.year import figures

PACKAGE = Path(welkinwell.__file__).parent
FOLDERS = PACKAGE / "harvesters"


def outside():
    """Every file of the package that lies in no kind's folder, as a syntax tree."""
    for path in sorted(PACKAGE.rglob("*.py")):
        inside = path.relative_to(PACKAGE).parts
        if not (inside[0] == "harvesters" and len(inside) > 2 and inside[1] in LISTED):
            yield path.relative_to(PACKAGE).as_posix(), ast.parse(path.read_text(encoding="utf-8"))


def named(tree):
    """Lines where a text is the name of a kind: compared, as a key, as a default, in a list."""
    return [n.lineno for n in ast.walk(tree) if isinstance(n, ast.Constant) and n.value in LISTED]


def imported(tree):
    """Lines that import from a kind's folder, but for what a type checker alone reads."""
    folders = tuple(f"welkinwell.harvesters.{kind}" for kind in LISTED)
    found = [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
    checked = {n for block in ast.walk(tree) if _for_types(block) for n in ast.walk(block)}
    return [n.lineno for n in found if n not in checked and (n.module or "").startswith(folders)]


def _for_types(node):
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def test_no_other_file_names_a_kind():
    assert {file: lines for file, tree in outside() if (lines := named(tree))} == {}


def test_no_other_file_imports_from_a_kind_s_folder():
    assert {file: lines for file, tree in outside() if (lines := imported(tree))} == {}


def test_such_lines_would_be_found():
    tree = ast.parse(
        'from welkinwell.harvesters.hybrid.design import Hybrid\nx = {"hybrid": 1}\ny = z == "hybrid"'
    )
    assert named(tree) == [2, 3]
    assert imported(tree) == [1]


def test_every_folder_is_listed_under_its_own_name_and_in_a_stated_order():
    folders = {place.parent.name for place in FOLDERS.glob("*/design.py")}
    assert folders == {kind for kind, one in LISTED.items() if one.package.startswith("welkinwell.")}
    assert all(one.package.rpartition(".")[2] == key == one.load().kind for key, one in LISTED.items())
    assert [one.place for one in LISTED.values()] == list(range(1, len(LISTED) + 1))
    assert next(iter(KINDS)) == "passive_box"


def test_listing_loads_no_kind():
    code = (
        "import sys; from welkinwell.harvesters.kinds import KINDS; "
        "print([m for m in sys.modules if m.endswith(('.design', '.flows', '.harvester')) or m == 'numba'])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_two_kinds_of_one_name_are_refused(monkeypatch):
    from welkinwell.harvesters import kinds

    other = ListedKind("hybrid", "elsewhere", "", "", "", "", 99)
    monkeypatch.setattr(kinds, "_of_others", lambda: iter([other]))
    with pytest.raises(ValueError, match=r"two kinds are called hybrid: .*hybrid and elsewhere"):
        listed_kinds()


CASE = """
schema_version = 1
[site]
name = "Somewhere"
weather = "{weather}"
[demand]
litres_per_day = "5 L/day"
[[harvester]]
name = "Foil"
kind = "foil"
"""


def blocks():
    """The code blocks of CONTRIBUTING.md on a kind in a package of its own, in their order."""
    text = (PACKAGE.parents[1] / "CONTRIBUTING.md").read_text(encoding="utf-8")
    section = text.partition("### A kind in a package of its own")[2].partition("\n## ")[0]
    return re.findall(r"```(?:python|toml)\n(.*?)```", section, re.DOTALL)


def test_a_kind_of_another_package_is_found_by_its_entry_point_and_reported(tmp_path):
    """The lines of CONTRIBUTING.md, as pip would lay them: nothing here knows the package."""
    package, info = tmp_path / "foil_kind", tmp_path / "foil_kind-1.0.dist-info"
    for folder in (package, info):
        folder.mkdir()
    *texts, entry = blocks()
    for name, text in zip(("__init__", "design", "harvester", "study"), texts, strict=True):
        (package / f"{name}.py").write_text(text)
    ((group, points),) = tomllib.loads(entry)["project"]["entry-points"].items()
    lines = [f"{name} = {value}" for name, value in points.items()]
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: foil-kind\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("\n".join([f"[{group}]", *lines]) + "\n")
    weather = PACKAGE.parents[1] / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
    case = tmp_path / "case.toml"
    case.write_text(CASE.format(weather=weather))
    path = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])

    def run(*words):
        command = [sys.executable, *words]
        environment = {**os.environ, "PYTHONPATH": path}
        return subprocess.run(command, capture_output=True, text=True, check=True, env=environment).stdout

    out = run("-m", "welkinwell", "run", case, "-o", tmp_path / "out", "--quick", "--json")
    (found,) = json.loads(out)["harvesters"]
    plain = simulate(DewCondenser(tilt=math.radians(45.0)), None, read_climate(weather), keep="year")
    assert found["kind"] == "foil"
    assert found["litres_per_m2_day"] == pytest.approx(figures(plain)["litres_per_m2_day"], rel=1e-9)
    assert "a foil of ours" in (tmp_path / "out" / "report.html").read_text(encoding="utf-8").lower()
    # it has no claims and no published tests: neither is offered, and those of the others are read
    code = (
        "from welkinwell.harvesters.claimed import claimed_kinds; "
        "from welkinwell.harvesters.published import kinds_with_tests; "
        "offered = claimed_kinds(), kinds_with_tests(); "
        "print(*('foil' in each for each in offered), *map(len, offered))"
    )
    assert run("-c", code).split() == ["False", "False", "8", "7"]
