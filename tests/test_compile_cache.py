"""Compiled code is kept by the content of the files that hold compiled functions, for every clone of them."""

import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

import welkinwell
from welkinwell import compile_cache

ROOT = Path(welkinwell.__file__).parent

# A night and a day of a box; then how often code was found in the folder, and how often not.
SIMULATE = """
import gc, sys
import welkinwell as ww
from numba.core.dispatcher import Dispatcher
from tests.box_cases import SILICA, box, site_of
from welkinwell.simulation import march_year, prepare
ready = prepare(box(), ww.sorbent(SILICA), site_of("coast"))
march_year(ready, tolerance=3e-3, last_hour=24)
ww.moist_air.saturation_pressure(300.0)
ww.sorbent(SILICA).loading(300.0, 0.5)
stats = [d.stats for d in gc.get_objects() if issubclass(type(d), Dispatcher)]
print(sum(sum(s.cache_hits.values()) for s in stats), sum(sum(s.cache_misses.values()) for s in stats))
print(ww.__file__)
"""


def simulated(package: Path) -> tuple[int, int, str]:
    """Hits, misses and where the package lies."""
    paths = os.pathsep.join([str(package), str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, "-c", SIMULATE],
        env={**os.environ, "PYTHONPATH": paths},
        cwd=package,
        capture_output=True,
        text=True,
        check=True,
    )
    counts, place = done.stdout.splitlines()
    hits, misses = counts.split()
    return int(hits), int(misses), place


COMPILES = "from welkinwell.compiled import njit\n"


@pytest.fixture
def copied_package(tmp_path: Path, monkeypatch) -> Path:
    """The rooms with compiled code, each with one file, where the stamp looks for them."""
    package = tmp_path / "welkinwell"
    for room in compile_cache.COMPILED_ROOMS:
        place = package / room if room.endswith(".py") else package / room / "one.py"
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(f"{COMPILES}x = 0\n")
    monkeypatch.setattr(compile_cache, "PACKAGE", package)
    compile_cache.source_stamp.cache_clear()
    yield package
    compile_cache.source_stamp.cache_clear()


def stamp() -> str:
    compile_cache.source_stamp.cache_clear()
    return compile_cache.source_stamp()


def test_every_file_with_compiled_functions_is_in_a_room_that_the_stamp_sees() -> None:
    for path in ROOT.rglob("*.py"):
        if re.search(r"^from (numba|welkinwell\.compiled) import", path.read_text(), re.MULTILINE):
            room = path.relative_to(ROOT).parts[0]
            assert room in (*compile_cache.COMPILED_ROOMS, "compiled.py"), path


def test_no_file_goes_past_our_compiler() -> None:
    """numba's own decorators would keep code by path."""
    for path in ROOT.rglob("*.py"):
        if path.name != "compiled.py":
            assert "from numba import" not in path.read_text(), path


def test_the_stamp_follows_the_content_of_the_files(copied_package: Path, monkeypatch) -> None:
    before = stamp()
    changed = copied_package / "parts" / "one.py"
    changed.write_text(f"{COMPILES}x = 1\n")  # as long as before
    assert stamp() != before
    changed.write_text(f"{COMPILES}x = 0\n")
    os.utime(changed, (0.0, 0.0))
    assert stamp() == before
    moved = copied_package.rename(copied_package.with_name("elsewhere"))
    monkeypatch.setattr(compile_cache, "PACKAGE", moved)
    assert stamp() == before
    (moved / "parts" / "one.py").rename(moved / "parts" / "two.py")
    assert stamp() != before


def test_words_that_no_compiled_file_imports_leave_the_stamp(copied_package: Path) -> None:
    before = stamp()
    (copied_package / "harvesters" / "accounts.py").write_text("x = 0\n")
    assert stamp() == before
    (copied_package / "parts" / "one.py").write_text(
        f"{COMPILES}from welkinwell.harvesters.accounts import x\nx = 0\n"
    )
    used = stamp()
    (copied_package / "harvesters" / "accounts.py").write_text("x = 1\n")
    assert stamp() not in (before, used)


def test_another_compiler_has_another_folder(copied_package: Path, monkeypatch) -> None:
    before = stamp()
    monkeypatch.setattr(compile_cache, "version", lambda package: "0.0")
    assert stamp() != before


def test_a_clone_at_another_path_compiles_nothing(tmp_path: Path) -> None:
    hits, _, place = simulated(ROOT.parent)  # compiles, where that has not been done
    assert hits + _ > 0
    assert place == str(ROOT / "__init__.py")
    shutil.copytree(ROOT, tmp_path / "clone" / "welkinwell")
    hits, misses, place = simulated(tmp_path / "clone")
    assert place == str(tmp_path / "clone" / "welkinwell" / "__init__.py")
    assert hits > 0
    assert misses == 0


def test_code_is_compiled_anew_in_a_folder_of_its_own_and_by_two_at_once(tmp_path: Path) -> None:
    """Two processes that compile the same thing at once leave code that a third can use."""
    code = (
        "from welkinwell.transfer.plates import *; import welkinwell as ww; "
        "print(ww.moist_air.saturation_pressure(300.0))"
    )
    env = {**os.environ, compile_cache.VARIABLE: str(tmp_path)}
    both = [
        subprocess.Popen([sys.executable, "-c", code], env=env, stdout=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    said = {process.communicate()[0] for process in both}
    kept = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.nb[ic]")}
    assert kept
    third = subprocess.run(
        [sys.executable, "-c", code], env=env, stdout=subprocess.PIPE, text=True, check=True
    )
    assert said == {third.stdout}
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.nb[ic]")} == kept


def test_numbas_own_settings_are_left_alone() -> None:
    code = (
        "import os, numba; before = dict(os.environ), numba.config.CACHE_DIR\n"
        "import welkinwell, welkinwell.compiled\n"
        "assert before == (dict(os.environ), numba.config.CACHE_DIR)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_a_users_own_folder_is_respected(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(compile_cache.VARIABLE, str(tmp_path))
    assert compile_cache.folder() == tmp_path
    monkeypatch.delenv(compile_cache.VARIABLE)
    assert compile_cache.folder().name == compile_cache.source_stamp()


def test_a_disk_that_cannot_be_written_costs_no_answer(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    env = {**os.environ, compile_cache.VARIABLE: str(tmp_path / "file" / "below")}
    code = "import welkinwell as ww; print(ww.moist_air.saturation_pressure(300.0))"
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert 3500.0 < float(done.stdout) < 3570.0


def test_a_new_folder_is_cold_and_one_with_a_march_is_warm(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(compile_cache.VARIABLE, str(tmp_path))
    assert not compile_cache.is_warm()
    (tmp_path / "numerics").mkdir()
    (tmp_path / "numerics" / "march.march_passive_box-1.py311.nbi").write_text("")
    assert compile_cache.is_warm()
    assert compile_cache.is_warm("passive_box")
    assert not compile_cache.is_warm("dew_condenser")


def test_old_folders_go_and_used_ones_stay(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv(compile_cache.VARIABLE, raising=False)
    root = compile_cache.cache_root()
    hour = time.time() - 3600.0
    for number in range(12):
        (root / f"old{number}").mkdir(parents=True)
        (root / f"used{number}").mkdir()
        os.utime(root / f"old{number}", (number, number))
        os.utime(root / f"used{number}", (hour, hour))
    compile_cache.writable_folder.cache_clear()
    assert compile_cache.writable_folder() == compile_cache.folder()
    compile_cache.writable_folder.cache_clear()
    left = {path.name for path in root.iterdir()}
    assert left == {compile_cache.source_stamp(), *(f"used{number}" for number in range(12))}
