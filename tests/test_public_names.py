"""Every public name is the same object at every access, from a checkout and from an installed wheel."""

import shutil
import subprocess
import sys
import venv
from pathlib import Path

import pytest

import welkinwell as ww

ROOT = Path(__file__).parents[1]
ROOMS = ("moist_air", "constants", "errors")

# Asks for every name twice, in both orders, and after its home and all other modules were imported.
ASK_TWICE = """
import importlib, pkgutil, types
import welkinwell as ww
names = [n for n in ww.__all__]
first = {n: getattr(ww, n) for n in names}
second = {n: getattr(ww, n) for n in reversed(names)}
for room in pkgutil.walk_packages(ww.__path__, "welkinwell."):
    if not room.name.endswith("__main__"):
        importlib.import_module(room.name)
third = {n: getattr(ww, n) for n in names}
wrong = [n for n in names if not first[n] is second[n] is third[n]]
modules = [n for n in names if isinstance(third[n], types.ModuleType)]
print(ww.__file__)
print(sorted(wrong), sorted(modules))
"""


def asked(python, where):
    done = subprocess.run([python, "-c", ASK_TWICE], cwd=where, capture_output=True, text=True, check=True)
    return done.stdout.splitlines()


def test_every_public_name_is_the_same_object_at_every_access():
    assert asked(sys.executable, ROOT)[1] == f"[] {sorted(ROOMS)}"


@pytest.mark.parametrize("name", ww.__all__)
def test_a_public_name_is_no_module_of_its_own(name):
    """A module that is imported takes its name in the package, whatever stood there."""
    if name not in ROOMS:
        assert not (Path(ww.__file__).parent / f"{name}.py").exists()
        assert not (Path(ww.__file__).parent / name).is_dir()


def test_a_wheel_gives_every_name_twice_too(tmp_path):
    """What is installed is what the wheel holds: built from this tree, unpacked, and asked from elsewhere."""
    tree = tmp_path / "tree"  # a copy: building leaves a folder behind that the next build would take up
    shutil.copytree(ROOT / "src", tree / "src", ignore=shutil.ignore_patterns("*.egg-info", "__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, tree)
    built = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--no-deps", "--no-build-isolation", "-w", tmp_path, tree],
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    venv.create(tmp_path / "fresh", with_pip=False)
    (wheel,) = tmp_path.glob("*.whl")
    (site,) = (tmp_path / "fresh").rglob("site-packages")
    subprocess.run([sys.executable, "-m", "zipfile", "-e", wheel, site], check=True)
    (here,) = {str(Path(p)) for p in sys.path if p.endswith("site-packages")}
    (site / "libraries.pth").write_text(f"{here}\n")  # what it needs; its own folder comes first
    place, names = asked(tmp_path / "fresh" / "bin" / "python", tmp_path)
    assert Path(place).is_relative_to(site)
    assert names == f"[] {sorted(ROOMS)}"


def test_the_readmes_five_lines_run_in_a_loop_over_three_sorbents():
    """As they stand in the README, in one process, with three sheets in turn."""
    text = (ROOT / "README.md").read_text()
    code = next(part for part in text.split("```python\n")[1:] if "import welkinwell" in part).split("```")[0]
    assert '"silica_gel_regular_density"' in code
    litres = []
    for sheet in ("silica_gel_regular_density", "zeolite_13x", "mof_801"):
        told = []
        exec(code.replace("silica_gel_regular_density", sheet), {"print": told.append})
        litres += told
    assert len(litres) == len(set(litres)) == 3
    assert all(0.0 < value < 10.0 for value in litres)
