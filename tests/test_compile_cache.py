"""The folder of compiled code follows the state of the files that hold compiled functions."""

import os
import re
import subprocess
import sys
from pathlib import Path

import welkinwell
from welkinwell import compile_cache


def test_every_file_with_compiled_functions_is_in_a_room_that_the_stamp_sees() -> None:
    root = Path(welkinwell.__file__).parent
    for path in root.rglob("*.py"):
        if re.search(r"^from numba import|^import numba", path.read_text(), re.MULTILINE):
            room = path.relative_to(root).parts[0]
            assert room in compile_cache.COMPILED_ROOMS, path


def test_the_stamp_changes_when_a_source_file_does(tmp_path: Path, monkeypatch) -> None:
    package = tmp_path / "welkinwell"
    for room in compile_cache.COMPILED_ROOMS:
        place = package / room
        if room.endswith(".py"):
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text("")
        else:
            place.mkdir(parents=True)
            (place / "one.py").write_text("")
    monkeypatch.setattr(compile_cache, "__file__", str(package / "compile_cache.py"))
    before = compile_cache.source_stamp()
    assert compile_cache.source_stamp() == before
    (package / "parts" / "one.py").write_text("x = 1\n")
    assert compile_cache.source_stamp() != before


def test_a_users_own_folder_is_respected() -> None:
    code = "import welkinwell, numba; print(numba.config.CACHE_DIR)"
    plain = {key: value for key, value in os.environ.items() if key != compile_cache.VARIABLE}
    asked = subprocess.run(
        [sys.executable, "-c", code],
        env={**plain, compile_cache.VARIABLE: "somewhere_else"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert asked.stdout.strip() == "somewhere_else"
    own = subprocess.run([sys.executable, "-c", code], env=plain, capture_output=True, text=True, check=True)
    assert own.stdout.strip().endswith(compile_cache.source_stamp())


def test_a_new_folder_is_cold_and_one_with_a_march_is_warm(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(compile_cache.VARIABLE, str(tmp_path))
    assert not compile_cache.is_warm()
    (tmp_path / "numerics").mkdir()
    (tmp_path / "numerics" / "march.march_passive_box-1.py311.nbi").write_text("")
    assert compile_cache.is_warm()
