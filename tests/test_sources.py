"""sources.bib: every entry closed and told apart, so that no report prints half a reference."""

import re
from pathlib import Path

import welkinwell
from welkinwell.report.citations import reference

TEXT = (Path(welkinwell.__file__).parent / "sources.bib").read_text(encoding="utf-8")


def test_every_entry_is_closed():
    open_entries = [
        entry[:40] for entry in re.split(r"\n(?=@)", TEXT) if entry.count("{") != entry.count("}")
    ]
    assert open_entries == []


def test_keys_are_told_apart_and_print():
    keys = re.findall(r"^@\w+\{\s*([^,\s]+)", TEXT, re.M)
    assert len(keys) == len(set(keys))
    assert all(reference(key) != key for key in keys)
