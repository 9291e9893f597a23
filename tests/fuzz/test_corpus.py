"""Files on which readers once broke are read again; faults that are planted in each reader are found."""

import random
from pathlib import Path

import pytest
from fuzz.hunt import HANG, Passed, hunt, tried
from fuzz.mutants import mutant
from fuzz.readers import READERS

CORPUS = Path(__file__).parent / "corpus"
FILES = sorted(path for path in CORPUS.iterdir() if path.suffix != ".md")
SHORT = 4000  # bytes of a sane file, so that a fault is found in a second
FAULT = b"1e999"  # a value that mutants hold now and then, and sane files never


def test_the_corpus_is_small_and_of_known_readers():
    assert len(FILES) > 15
    assert all(path.stat().st_size < 45_000 for path in FILES)
    assert {path.name.partition("_")[0] for path in FILES} <= set(READERS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_what_once_broke_a_reader_is_refused_in_words(path):
    kind, words = tried(READERS[path.name.partition("_")[0]], path)
    assert kind == "refused", words
    assert 20 < len(words) < 20_000
    assert path.name in words or "[power_cuts]" in words


def short_seeds(reader):
    """Sane files cut to a few rows, which a reader refuses soon after their header."""
    seeds = sorted(reader.seeds(), key=len)
    if reader.form in ("json", "toml"):
        return seeds[:1]
    return [b"\n".join(seeds[0][:SHORT].split(b"\n")[:-1]) or seeds[0]]


@pytest.mark.parametrize("name", READERS)
def test_a_fault_in_a_reader_is_found(tmp_path, name):
    """The function that a reader calls past its header breaks on one rare value: the fuzzer comes upon it."""
    reader = READERS[name]
    seeds = short_seeds(reader)
    assert all(FAULT not in content for content in seeds)
    sound = hunt(reader, tmp_path, most=30, seeds=seeds)
    assert sound.findings == [] and sound.mutants == 30
    found = hunt(reader, tmp_path, most=800, seeds=seeds, fault=FAULT, enough=1)
    (finding,) = found.findings
    assert finding["kind"] == "traceback" and finding["words"].startswith("KeyError in")
    assert found.past_header >= 0.2 * found.mutants


def test_a_hang_and_a_want_of_words_are_found(tmp_path, monkeypatch):
    path = tmp_path / "claim.toml"
    path.write_text('litres_per_day = "1 L/day"\n')
    monkeypatch.setattr("fuzz.hunt.HANG", 0.05)

    def stands_still(*arguments, **options):
        while True:
            pass

    monkeypatch.setattr("welkinwell.studies.claim.read_fields", stands_still)
    assert tried(READERS["claim"], path)[0] == "hang"
    assert HANG == 5.0


@pytest.mark.parametrize("name", READERS)
def test_mutants_are_the_same_again_and_differ_from_the_sane_file(name):
    seed = READERS[name].seeds()[-1]
    made = [mutant(random.Random(f"1 {i}"), seed, READERS[name].form) for i in range(20)]
    assert made == [mutant(random.Random(f"1 {i}"), seed, READERS[name].form) for i in range(20)]
    assert len(set(made)) > 10 and sum(one != seed for one in made) > 15


@pytest.mark.parametrize("name", READERS)
def test_the_sane_file_passes_the_header(tmp_path, name):
    reader = READERS[name]
    content = reader.seeds()[-1]
    path = tmp_path / f"sane.{reader.suffix}"
    path.write_bytes(content)
    with Passed(reader) as passed:
        kind, words = tried(reader, path)
    assert passed.seen and kind in ("read", "refused"), words
