"""Damaged and hostile files: every reader refuses in words that name file, line and what is expected."""

import gzip
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from fuzz.mutants import INNER, PAIR

from welkinwell.case import read_case
from welkinwell.climate import read_climate
from welkinwell.climate.site_log import read_site_log
from welkinwell.errors import InputError, Problem, nearest_name
from welkinwell.sorbents.fit import read_points
from welkinwell.sorbents.lab_data import read_lab_points, read_uptake
from welkinwell.sorbents.sheet import read_sheet
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.claim import read_claim
from welkinwell.studies.device_log import read_device_log
from welkinwell.studies.experiments import read_experiment

REPOSITORY = Path(__file__).parents[2]
LIBRARY = REPOSITORY / "src" / "welkinwell" / "library"
WEATHER = REPOSITORY / "examples" / "weather"
LOG_MAP = {"time": "when", "temperature": "T [degC]", "relative_humidity": "RH [%]"}
TABLE_MAP = {**LOG_MAP, "wind_speed": "wind [m/s]"}


def read_own_table(path):
    place = {"latitude": 30.0, "longitude": 35.0, "elevation": 200.0, "utc_offset": 2.0}
    return read_climate(path, columns=TABLE_MAP, stamp="end", **place)


def read_own_log(path):
    return read_site_log(path, columns=LOG_MAP, utc_offset=2.0)


TOML: dict[str, tuple[Callable, Path]] = {
    "case": (read_case, REPOSITORY / "examples" / "tern_hollow" / "case.toml"),
    "sheet": (read_sheet, LIBRARY / "sorbents" / "silica_gel_regular_density.toml"),
    "claim": (read_claim, REPOSITORY / "examples" / "claims" / "heat_pump_bed.toml"),
    "experiment": (read_experiment, next((LIBRARY / "experiments").glob("*.toml"))),
}
READERS: dict[str, Callable] = {
    **{name: read for name, (read, _) in TOML.items()},
    "weather": read_climate,
    "table": read_own_table,
    "site log": read_own_log,
    "device log": read_device_log,
    "isotherms": lambda path: read_lab_points([path]),
    "uptake": read_uptake,
    "points": read_points,
}
ROWS = {
    "table": "when,T,RH,wind\n2021-01-01T01:00,20,50,2\n",
    "site log": "when,T,RH\n2021-01-01T01:00,20,50\n",
    "device log": "time,litres [L]\n2021-01-01,2\n",
    "isotherms": "temperature [degC],relative_humidity [1],loading [kg/kg]\n25,0.1,0.1\n",
    "uptake": "time [s],loading [kg/kg],temperature [degC],relative_humidity [1]\n0,0.1,25,0.5\n",
    "points": "material,branch,doi,temperature_K,pressure_Pa,loading_kg_per_kg\na,ads,b,300,100,0.1\n",
}


def said(read, path):
    with pytest.raises(InputError) as refused:
        read(path)
    return str(refused.value)


def written(tmp_path, content, name):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


@pytest.mark.parametrize("reader", TOML)
@pytest.mark.parametrize(
    ("added", "words"),
    [
        ("x = " + "9" * 5000, ["line 1", "a whole number of 5000 digits", "at most 19 digits"]),
        ("x = 0x" + "f" * 5000, ["x: got a whole number of more than 64 bits"]),
        ("x = " + "[" * 3000 + "]" * 3000, ["line 1", "levels", "at most 20"]),
        ("x = " + "{a=" * 3000 + "1" + "}" * 3000, ["line 1", "levels", "at most 20"]),
        (".".join("a" * 3000) + " = 1", ["levels", "at most 20"]),
        (f'x = "{"y" * 30_000}"', ["x: got a text of 30000 characters", "at most 10000"]),
        ("x = 1\nx = 2", ["text that is not TOML", "line 2"]),
        ('x = "open', ["text that is not TOML", "line 1"]),
    ],
    ids=["digits", "hex", "lists", "tables", "dotted", "long", "twice", "quote"],
)
def test_toml_that_would_break_a_parser(tmp_path, reader, added, words):
    read, good = TOML[reader]
    path = written(tmp_path, added + "\n" + good.read_text(), "mine.toml")
    found = said(read, path)
    assert found.startswith("mine.toml") and all(part in found for part in words), found
    assert len(found) < 2000


@pytest.mark.parametrize("reader", TOML)
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b'# fine\nname = "caf\xe9"\n', ["mine.toml, line 2", "the byte 0xe9", "UTF-8"]),
        (b'name = "a"\nx = "\x00"\n', ["mine.toml, line 2", "a NUL character", "text"]),
        ("name = 'a'".encode("utf-16"), ["mine.toml", "line 1", "UTF-8"]),
        (b"# x\n" * 200_000, ["mine.toml", "800000 bytes", "at most 500000 bytes"]),
        ("\n".join(f"k{i} = {i}" for i in range(30_000)), ["mine.toml", "30000 values", "at most 10000"]),
    ],
    ids=["latin", "nul", "utf-16", "large", "many"],
)
def test_toml_that_is_no_text_or_too_much_of_it(tmp_path, reader, content, words):
    found = said(TOML[reader][0], written(tmp_path, content, "mine.toml"))
    assert all(part in found for part in words), found


def test_a_byte_order_mark_is_no_fault(tmp_path):
    read, good = TOML["claim"]
    assert read(written(tmp_path, b"\xef\xbb\xbf" + good.read_bytes(), "mine.toml")) == read(good)


@pytest.mark.parametrize("reader", READERS)
def test_paths_that_lead_nowhere(tmp_path, reader):
    read = READERS[reader]
    assert "a path that cannot be used" in said(read, tmp_path / ("x" * 5000 + ".toml"))
    assert "a path that cannot be used" in said(read, tmp_path / "a\0b.toml")
    assert "got a folder" in said(read, tmp_path)
    assert "no such file" in said(read, tmp_path / "none.toml")
    assert "no such file" in said(read, written(tmp_path, "x", "file") / "none.toml")
    assert "neither a file nor a folder" in said(read, Path("/dev/null"))


@pytest.mark.parametrize("reader", READERS)
def test_a_file_without_permission(tmp_path, reader):
    path = written(tmp_path, "x = 1\n", "mine.toml")
    path.chmod(0)
    tmp_path.chmod(0o755)
    root = os.geteuid() == 0
    above = [folder for folder in tmp_path.parents if not folder.stat().st_mode & 0o001]
    try:
        for folder in above if root else ():
            folder.chmod(folder.stat().st_mode | 0o001)
        if root:
            os.seteuid(65534)  # root may read everything
        assert "a file that cannot be read (Permission denied)" in said(READERS[reader], path)
    finally:
        if root:
            os.seteuid(0)
            for folder in above:
                folder.chmod(folder.stat().st_mode & ~0o001)


def test_sheets_by_path(tmp_path):
    assert "a path that cannot be used" in said(sorbent, "x" * 5000)
    assert "a folder" in said(sorbent, tmp_path)
    assert "a path that cannot be used" in said(sorbent, "x" * 5000 + ".toml")


@pytest.mark.parametrize("reader", ROWS)
def test_rows_that_cannot_be_split(tmp_path, reader):
    read = READERS[reader]
    head, row = ROWS[reader].splitlines()
    for bad, words in (
        ('"' + row, "a quote that is not closed"),
        ("1" * 140_000 + row, "characters; expected at most 100000"),
        ("," * 5_000, "5001 cells; expected at most 2000"),
    ):
        found = said(read, written(tmp_path, f"{head}\n{row}\n{bad}\n{row}\n", "mine.csv"))
        assert "mine.csv" in found and "line 3" in found and words in found, found
        assert len(found) < 2000


@pytest.mark.parametrize("reader", ROWS)
def test_a_heading_that_cannot_be_split(tmp_path, reader):
    head, row = ROWS[reader].splitlines()
    for bad in ('"' + head, head + "," + "x" * 140_000, head + "," + ",".join("ab" for _ in range(4000))):
        found = said(READERS[reader], written(tmp_path, f"{bad}\n{row}\n", "mine.csv"))
        assert "mine.csv" in found and len(found) < 2000


@pytest.mark.parametrize("reader", ROWS)
def test_bad_bytes_in_a_table(tmp_path, reader):
    head, row = ROWS[reader].encode().splitlines()
    found = said(READERS[reader], written(tmp_path, head + b"\n" + row + b"\n\x00\n", "mine.csv"))
    assert "mine.csv, line 3: got a NUL character" in found


def test_epw_names_the_line_of_an_open_quote(tmp_path):
    lines = (
        gzip.decompress((WEATHER / "highland_denver_colorado_tmy3.epw.gz").read_bytes()).decode().splitlines()
    )
    lines[499] = '"' + lines[499]
    found = said(read_climate, written(tmp_path, "\n".join(lines), "mine.epw"))
    assert found.startswith("mine.epw, line 500: got a quote that is not closed")


AIF = """data_x
_exptl_adsorptive 'water'
_exptl_temperature 298.15
_units_temperature K
_units_pressure Pa
_units_loading 'mmol/g'
loop_
_adsorp_pressure
_adsorp_amount
100 1.0
300 3.0
600 8.0
1200 12.0
2000 13.0
"""


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            lambda t: t + "_exptl_temperature 300\n",
            ["line 15", "duplicate tag _exptl_temperature", "each tag once"],
        ),
        (lambda t: t + "_exptl_operator\n", ["line 15", "_exptl_operator has no value"]),
        (lambda t: t.replace("2000 13.0", "2000"), ["line", "loop"]),
        (lambda t: t.replace("'water'", "'water"), ["line 2"]),
        (lambda t: t + "data_x\n", ["duplicate block name: x"]),
        (lambda t: "# nothing", ["0 usable points", "at least 5"]),
        (lambda t: t.replace("298.15", "'a' 'b'"), ["line 3"]),
    ],
    ids=["duplicate tag", "no value", "short loop", "open quote", "duplicate block", "empty", "two values"],
)
def test_aif_that_is_broken(tmp_path, change, words):
    found = said(lambda path: read_lab_points([path]), written(tmp_path, change(AIF), "mine.aif"))
    assert "mine.aif" in found and all(part in found for part in words), found


# The kernel's own mark of this program: getrusage starts with the memory of the process that forked.
LIMITED = """
import sys, time
from pathlib import Path
sys.path.insert(0, {tests!r})
from test_damaged_files import READERS
from welkinwell.errors import InputError
for path in {paths!r}:
    for reader in {readers!r}:
        begun = time.process_time()
        try:
            READERS[reader](Path(path))
        except InputError as error:
            words = str(error).splitlines()[0][:300]
            print(Path(path).name, "|", reader, "|", words, "|", time.process_time() - begun)
marks = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
print(marks["VmHWM"].split()[0])
"""


def in_a_process_of_its_own(paths, readers):
    """Words and CPU seconds by file and reader, and the peak of memory [kB], of a fresh process."""
    tests, names = str(Path(__file__).parent), [str(path) for path in paths]
    code = LIMITED.format(tests=tests, readers=list(readers), paths=names)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    *lines, peak = done.stdout.splitlines()
    parts = [line.split(" | ") for line in lines]
    return {(file, reader): (words, float(seconds)) for file, reader, words, seconds in parts}, int(peak)


def test_a_small_gz_of_gigabytes_is_refused_while_it_is_unpacked(tmp_path):
    """Zeros, one line and rows of 1.5 to 3 GiB; the memory is that of the imports."""
    rows = gzip.compress(b"2021-01-01T01:00,20,50,2\n" * 2**19, 9)
    members = {
        "zeros.csv.gz": (gzip.compress(bytes(2**24), 1) * 192, "got a NUL character"),
        "line.csv.gz": (
            gzip.compress(b"1" * 2**24, 1) * 192,
            "line 1: got a line of more than 100000",
        ),
        "rows.csv.gz": (rows * 120, "got over 1100000 lines; expected at most"),
    }
    paths = [written(tmp_path, content, name) for name, (content, _) in members.items()]
    assert all(path.stat().st_size < 2e7 for path in paths)
    found, peak = in_a_process_of_its_own(paths, ["weather", "device log"])
    assert len(found) == 6 and peak < 1_000_000
    for (file, _), (words, seconds) in found.items():
        assert members[file][1] in words and seconds < 5.0


@pytest.mark.parametrize("some", [("commas", "json"), pytest.param((), marks=pytest.mark.long)])
def test_ten_million_bytes_of_anything(tmp_path, some):
    """Lines, cells, brackets and quotes without end: refused within 5 s and 1 GB by every reader."""
    contents = {
        "lines": b"\n" * 10_000_000, "commas": b"," * 10_000_000, "letters": b"1" * 10_000_000,
        "rows": b"1\n" * 5_000_000, "columns": b"a,b\n" * 2_500_000, "brackets": b"[" * 10_000_000,
        "quotes": b'"' * 10_000_000, "json": b'{"inputs":' + b"[]," * 3_000_000,
        "quoted": b'"\n' * 5_000_000, "points": b"25,0.1,0.1\n" * 900_000,
    }  # fmt: skip
    paths = [written(tmp_path, contents[name], name) for name in some or contents]
    found, peak = in_a_process_of_its_own(paths, READERS)
    assert len(found) == len(paths) * len(READERS)
    for (file, reader), (words, seconds) in found.items():
        assert file in words and seconds < 5.0, (file, reader, words, seconds)
    assert peak < 1_000_000


def test_long_texts_are_shortened_in_messages():
    problem = str(Problem("x" * 1000, "y" * 100_000, "a number", "Mend it."))
    assert len(problem) < 1500 and "... (100000 characters)" in problem
    assert "\x1b" not in str(Problem("a", "\x1b[2J", "b"))
    many = InputError([Problem(f"line {i}", "x", "y") for i in range(5000)])
    assert "4800 more" in str(many) and len(many.problems) == 201
    assert nearest_name("a" * 1_000_000, ["aa", "ab"]) == ""


ELSEWHERE = ("[]", '["a", "b"]', "{ a = 1 }", "3", '"word"')


def with_others(text):
    """The file with each value, those of its inline tables too, replaced by others in turn."""
    lines = text.splitlines()
    for i, line in enumerate(lines):
        if not (match := PAIR.match(line)):
            continue
        key, given = match.groups()
        changed = [key + value for value in ELSEWHERE]
        for k, part in enumerate(INNER.finditer(given) if given.startswith("{") else ()):
            other = part.group(1) + ELSEWHERE[(i + k) % len(ELSEWHERE)]
            changed.append(key + given[: part.start()] + other + given[part.end() :])
        for new in changed:
            yield "\n".join([*lines[:i], new, *lines[i + 1 :]])


@pytest.mark.parametrize("reader", TOML)
def test_a_list_or_a_table_where_a_word_belongs_and_the_reverse(tmp_path, reader):
    """Every field in turn takes what another field would: it is read, or refused in words."""
    read, good = TOML[reader]
    refused = 0
    for text in with_others(good.read_text()):
        try:
            read(written(tmp_path, text, "mine.toml"))
        except InputError as error:
            refused += 1
            assert str(error).startswith("mine.toml"), str(error)
    assert refused > 20


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("x" * 5000, "a path that cannot be used (File name too long)"),
        ("a\\u0000b", "a path that cannot be used"),
        ("..", "a folder"),
        ("/dev/null", "neither a file nor a folder"),
        ("none.epw", "which is not there"),
    ],
    ids=["long", "nul", "folder", "device", "missing"],
)
def test_paths_inside_a_case(tmp_path, given, words):
    """Weather, further years and the hours of cuts: what does not lie where it is named is told, with why."""
    named = f'weather = "{given}"\nfurther_years = ["{given}"]'
    lines = TOML["case"][1].read_text().splitlines()
    lines = [named if line.startswith("weather =") else line for line in lines]
    lines += ["[power_cuts]", f'file = "{given}"']
    found = said(read_case, written(tmp_path, "\n".join(lines), "mine.toml"))
    assert words in found
    for field in ("[site], weather", "[site], further_years", "[power_cuts], file"):
        assert f"mine.toml, {field}: got " in found, found


def test_options_of_a_table_that_would_break_it(tmp_path):
    """A column map and a clock may come from a file: what they cannot be is told."""
    path = written(tmp_path, "when,T,RH,wind\n2021-01-01T01:00,20,50,2\n", "mine.csv")
    place = {"latitude": 30.0, "longitude": 35.0, "elevation": 200.0, "utc_offset": 2.0, "stamp": "end"}
    for option, words in (
        ({"delimiter": ""}, "delimiter: got ''; expected one character"),
        ({"delimiter": ";;"}, "delimiter"),
        ({"time_format": "%Y%Y"}, "time_format: got '%Y%Y'; expected codes as in"),
        ({"time_format": "%"}, "time_format"),
        ({"time_format": 5}, "time_format"),
        ({"missing": "none"}, "missing: got 'none'; expected a list of numbers"),
        ({"columns": {**TABLE_MAP, "temperature": "T" + " " * 5000 + "!"}}, "no column"),
    ):
        options = {"columns": TABLE_MAP, **place, **option}
        assert words in said(lambda file, options=options: read_climate(file, **options), path)
