"""Files are whole or not there: on a full disk, under a limit, without permission, and when interrupted."""

import errno
import os
import re
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from welkinwell.errors import FileError
from welkinwell.writing import (
    append_line,
    make_folder,
    size_words,
    together,
    unwritable,
    write_bytes,
    write_text,
)

ROOT = os.geteuid() == 0


def left_in(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_a_file_is_written_and_replaced(tmp_path):
    path = tmp_path / "a.txt"
    assert write_text(path, "21 °C\n") == path
    path.chmod(0o640)
    write_bytes(path, memoryview(b"new"))
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert left_in(tmp_path) == ["a.txt"]


def test_a_new_file_has_the_permissions_that_others_have(tmp_path):
    (tmp_path / "other").write_text("")
    mode = write_text(tmp_path / "ours", "").stat().st_mode
    assert mode == (tmp_path / "other").stat().st_mode


def test_a_link_stays_one(tmp_path):
    (tmp_path / "far").mkdir()
    (tmp_path / "far" / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to(tmp_path / "far" / "real.txt")
    write_text(tmp_path / "link.txt", "new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "far" / "real.txt").read_text() == "new"


def test_files_written_together_appear_at_the_end(tmp_path):
    with together():
        write_text(tmp_path / "a", "1")
        with together():
            write_text(tmp_path / "b", "2")
        assert left_in(tmp_path) == []
    assert left_in(tmp_path) == ["a", "b"]


def test_nothing_of_what_is_written_together_where_something_fails(tmp_path):
    (tmp_path / "a").write_text("old")

    @together()
    def page():
        write_text(tmp_path / "a", "new")
        write_text(tmp_path / "b", "new")
        raise ValueError("a chart failed")

    for _ in range(2):
        with pytest.raises(ValueError, match="a chart"):
            page()
    assert left_in(tmp_path) == ["a"]
    assert (tmp_path / "a").read_text() == "old"
    write_text(tmp_path / "c", "at once")  # the block is over
    assert left_in(tmp_path) == ["a", "c"]


def test_a_folder_where_a_file_should_be(tmp_path):
    (tmp_path / "report.html").mkdir()
    with pytest.raises(FileError) as caught, together():
        write_text(tmp_path / "summary.json", "{}")
        write_text(tmp_path / "report.html", "")
    said = str(caught.value)
    assert f"{tmp_path / 'report.html'}: got a folder where a file should be" in said
    assert "Nothing was written" in said
    assert left_in(tmp_path) == ["report.html"]


def test_a_file_where_a_folder_should_be(tmp_path):
    (tmp_path / "out").write_text("")
    with pytest.raises(FileError, match=r"got a file; expected a folder for the results\. Choose another"):
        make_folder(tmp_path / "out", advice="Choose another.")
    with pytest.raises(FileError, match="got a file; expected a folder"):
        make_folder(tmp_path / "out" / "charts")
    with pytest.raises(FileError, match="a file where a folder should be"):
        write_text(tmp_path / "out" / "report.html", "")
    with pytest.raises(FileError, match="a folder that is not there"):
        write_text(tmp_path / "nowhere" / "report.html", "")


@pytest.mark.skipif(ROOT, reason="permissions do not bind root")
def test_no_permission(tmp_path):
    (tmp_path / "kept.txt").write_text("kept")
    (tmp_path / "kept.txt").chmod(0o444)
    with pytest.raises(FileError, match="no permission to write there"):
        write_text(tmp_path / "kept.txt", "new")
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(FileError, match="no permission to write there"):
            write_text(tmp_path / "a", "")
        with pytest.raises(FileError, match="a folder that cannot be written to"):
            make_folder(tmp_path)
    finally:
        tmp_path.chmod(0o755)


def test_less_room_than_the_results_will_take(tmp_path):
    with pytest.raises(FileError, match=r"a disk with .* of room left; expected at least 500 TB"):
        make_folder(tmp_path / "out", room=5 * 10**14)


@pytest.mark.parametrize(
    ("count", "words"), [(999, "999 bytes"), (12_340, "12.3 kB"), (4.5e6, "4.5 MB"), (2e9, "2 GB")]
)
def test_sizes_in_words(count, words):
    assert size_words(count) == words


def test_what_fails_elsewhere_for_lack_of_room_is_said_too():
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "/nowhere/cache.nbi")
    assert "/nowhere/cache.nbi: got no room left on the disk" in str(unwritable(full))
    assert "output: got no room left on the disk" in str(unwritable(OSError(errno.ENOSPC, "")))
    assert unwritable(OSError(errno.EIO, "")) is None


@pytest.fixture
def small_disk(tmp_path):
    """A real file system of 256 kB."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert mounted.returncode == 0, mounted.stderr
    yield place
    subprocess.run(["umount", str(place)], check=True)


@pytest.mark.skipif(not ROOT, reason="only root can mount a disk")
class TestOnASmallDisk:
    def test_a_file_that_does_not_fit(self, small_disk):
        (small_disk / "year.nc").write_bytes(b"old" * 1000)
        with pytest.raises(FileError) as caught:
            write_bytes(small_disk / "year.nc", bytes(1_500_000))
        said = str(caught.value)
        assert f"{small_disk / 'year.nc'}: got no room left on the disk (" in said
        assert "kB free); expected 1.5 MB for 1 file" in said
        assert "what was there before is whole. Free some room" in said
        assert left_in(small_disk) == ["year.nc"]
        assert (small_disk / "year.nc").read_bytes() == b"old" * 1000

    def test_many_files_of_which_the_last_does_not_fit(self, small_disk):
        (small_disk / "0").write_text("old")
        with pytest.raises(FileError, match=r"expected 300 kB for 6 files"), together():
            for number in range(6):
                write_bytes(small_disk / str(number), bytes(50_000))
        assert left_in(small_disk) == ["0"]
        assert (small_disk / "0").read_text() == "old"

    def test_a_line_that_does_not_fit(self, small_disk):
        record = small_disk / "designs.jsonl"
        append_line(record, "x" * 200_000)
        before = record.read_bytes()
        with pytest.raises(FileError, match="no room left on the disk"):
            append_line(record, "y" * 100_000)
        assert record.read_bytes() == before
        append_line(record, "z")
        assert record.read_bytes() == before + b"z\n"

    def test_a_disk_that_can_only_be_read(self, small_disk):
        (small_disk / "a").write_text("old")
        subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
        with pytest.raises(FileError, match=r"a disk that can only be read|no permission to write"):
            write_text(small_disk / "a", "new")
        with pytest.raises(FileError, match="a disk that can only be read"):
            write_text(small_disk / "b", "new")
        with pytest.raises(FileError, match="a folder that cannot be written to"):
            make_folder(small_disk)
        assert (small_disk / "a").read_text() == "old"


UNDER_A_LIMIT = """
import resource, sys
from pathlib import Path
from welkinwell.errors import FileError
from welkinwell.writing import append_line, write_bytes
folder = Path(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
for write in (lambda: write_bytes(folder / "year.nc", bytes(400_000)),
              lambda: append_line(folder / "lines", "y" * 100_000)):
    try:
        write()
        print("written")
    except FileError as error:
        print(error)
"""


def test_a_limit_on_the_size_of_a_file(tmp_path):
    (tmp_path / "year.nc").write_text("old")
    (tmp_path / "lines").write_text("one\n")
    done = subprocess.run(
        [sys.executable, "-c", UNDER_A_LIMIT, str(tmp_path)], capture_output=True, text=True, check=True
    )
    first, second = done.stdout.splitlines()
    limit = "got a limit on the size of a file (see ulimit -f); expected"
    assert f"year.nc: {limit} 400 kB for this file. Nothing was written" in first
    assert f"lines: {limit} 100 kB for this file" in second
    assert left_in(tmp_path) == ["lines", "year.nc"]
    assert (tmp_path / "year.nc").read_text() == "old"
    assert (tmp_path / "lines").read_text() == "one\n"


WRITING = """
import itertools, signal, sys
from pathlib import Path
from welkinwell.writing import together, write_bytes
signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(143))
folder = Path(sys.argv[1])
print("begun", flush=True)
for number in itertools.count():
    with together():
        for name in range(20):
            write_bytes(folder / str(name), bytes([number % 256]) * 200_000)
"""


@pytest.mark.parametrize("sort", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_leaves_whole_files_of_one_round(tmp_path, sort):
    for wait in (0.05, 0.0913, 0.1371):
        process = subprocess.Popen(
            [sys.executable, "-c", WRITING, str(tmp_path)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(wait)
        process.send_signal(sort)
        process.communicate(timeout=20)
        assert process.returncode != 0
        found = [path.read_bytes() for path in tmp_path.iterdir()]
        assert len(found) in (0, 20)
        assert all(len(one) == 200_000 for one in found)
        assert len(set(found)) <= 1  # all of the same round


SOURCE = Path(__file__).parents[1] / "src" / "welkinwell"
EXEMPT = ("writing.py", "compile_cache.py", "compiled.py")  # the last two keep what only numba reads


def test_nothing_else_writes_files():
    """Every other file of the package writes through this one."""
    writes = re.compile(
        r"\.(write_text|write_bytes|mkdir|to_csv|to_parquet|savefig)\(|\.to_netcdf\((?!engine=\"h5netcdf\"\))"
        r"|open\([^)]*[\"'][wax]b?\+?[\"']|os\.(replace|rename|mkdir|makedirs)\(|shutil\.(copy|move)"
    )
    found = [
        f"{path.relative_to(SOURCE)}: {line.strip()}"
        for path in sorted(SOURCE.rglob("*.py"))
        if path.relative_to(SOURCE).as_posix() not in EXEMPT
        for line in path.read_text(encoding="utf-8").splitlines()
        if writes.search(line)
    ]
    assert found == []
    assert any(writes.search(line) for line in (SOURCE / "writing.py").read_text().splitlines())
