"""`run --quick` from end to end; runs that are interrupted or have no room leave nothing half-written."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from welkinwell.cli import exit_code
from welkinwell.schemas import schema

WEATHER = Path(__file__).parents[2] / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
CASE = f"""
schema_version = 1
name = "A made-up post"
note = "Invented scenario."
[site]
name = "Somewhere"
weather = "{WEATHER}"
further_years = ["{WEATHER}"]
[demand]
litres_per_day = "20 L/day"
[tank]
volume = "300 L"
[[harvester]]
name = "Gel box"
kind = "passive_box"
sorbent = "silica_gel_regular_density"
modules = 9
"""
LEFT_OUT = ("what limits the litres", "how sure the litres are", "the further weather year")
# The command itself, with lines so often that a short run has several.
COMMAND = (
    "import welkinwell.cli.progress as p; p.BETWEEN_LINES = 0.2\nfrom welkinwell.cli import main\nmain()"
)


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    path = tmp_path_factory.mktemp("quick") / "case.toml"
    path.write_text(CASE, encoding="utf-8")
    return path


def started(*arguments):
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.fixture(scope="module")
def quick(case):
    """Folder, stdout and stderr of a quick run."""
    out = case.parent / "out"
    process = started("run", case, "--quick", "-o", out)
    said, told = process.communicate(timeout=900)
    assert process.returncode == 0, told
    return out, said, told


def test_what_is_left_out_is_said_on_the_screen_in_the_report_and_in_the_summary(quick):
    out, said, _ = quick
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    report = (out / "report.html").read_text(encoding="utf-8")
    (line,) = (line for line in said.splitlines() if line.startswith("Left out by --quick: "))
    begins = "Left out by <code>--quick</code>: what"
    (words,) = (part for part in report.split("<p>") if part.startswith(begins))
    for number, name in enumerate(LEFT_OUT):
        assert name in line
        assert name in words
        assert summary["left_out"][number].startswith(name)
    assert len(summary["left_out"]) == len(LEFT_OUT)
    (one,) = summary["harvesters"]
    assert one["limiting_step_by_month"] is None
    assert one["litres_per_day"] > 10.0
    assert "What limits</th>" not in report
    assert not (out / "charts" / "gel_box_gains.svg").exists()
    assert list(Draft202012Validator(schema("summary")).iter_errors(summary)) == []


def test_off_a_terminal_lines_tell_how_far_a_run_is(quick):
    _, _, told = quick
    lines = [line for line in told.splitlines() if " % of all after " in line]
    assert len(lines) >= 3
    shares = [int(line.split(": ")[1].split(" %")[0]) for line in lines]
    assert shares == sorted(shares)
    assert any(line.startswith("Writing") and line.endswith(" left") for line in lines)


def test_quick_and_full_exclude_each_other(case, capsys):
    assert exit_code(["run", str(case), "--quick", "--full", "-o", str(case.parent / "both")]) == 2
    assert "--quick: got --full too; expected one of the two" in capsys.readouterr().err
    assert not (case.parent / "both").exists()


@pytest.mark.parametrize(
    ("stage", "sort", "code"), [("Simulating", signal.SIGINT, 130), ("Writing", signal.SIGTERM, 143)]
)
def test_an_interrupted_run_leaves_nothing_half_written(case, tmp_path, stage, sort, code):
    (tmp_path / "report.html").write_text("old")
    process = started("run", case, "--quick", "-o", tmp_path)
    assert process.stderr is not None
    for line in process.stderr:
        if line.startswith(stage):
            break
    process.send_signal(sort)
    process.communicate(timeout=120)
    assert process.returncode == code
    files = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert files == [tmp_path / "report.html"]
    assert files[0].read_text() == "old"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a disk")
@pytest.mark.parametrize(
    ("size", "words"),
    [
        ("300k", "of room left; expected at least 4 MB for the results. Choose another -o."),
        ("4600k", "free); expected {need} MB for {count} files. Nothing was written; what was there before"),
    ],
)
def test_a_run_without_room(case, quick, tmp_path, size, words):
    """The first is said before anything is simulated, the second when the results do not fit."""
    files = [path for path in quick[0].rglob("*") if path.is_file()]
    need = f"{sum(path.stat().st_size for path in files) / 1e6:.3g}"
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(tmp_path)], check=True)
    try:
        (tmp_path / "report.html").write_text("old")
        begun = time.monotonic()
        process = started("run", case, "--quick", "-o", tmp_path)
        _, told = process.communicate(timeout=900)
        assert process.returncode == 2, told
        assert words.format(need=need, count=len(files)) in told
        assert "our fault" not in told
        assert ("Simulating" in told) == (size != "300k"), time.monotonic() - begun
        left = [path for path in tmp_path.rglob("*") if path.is_file()]
        assert left == [tmp_path / "report.html"]
        assert left[0].read_text() == "old"
    finally:
        subprocess.run(["umount", str(tmp_path)], check=True)
