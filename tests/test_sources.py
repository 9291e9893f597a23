"""Sources: every entry closed and told apart, so that no report prints half a reference; files merged."""

import re

import pytest

from welkinwell import merged_files
from welkinwell.merged_files import DuplicateError, files_called
from welkinwell.quantities import variables
from welkinwell.report.citations import reference
from welkinwell.sources import sources


def test_every_entry_is_closed():
    open_entries = [
        entry[:40]
        for _, text in files_called("sources.bib")
        for entry in re.split(r"\n(?=@)", text)
        if entry.count("{") != entry.count("}")
    ]
    assert open_entries == []


def test_every_source_prints():
    assert len(sources()) > 200
    assert all(reference(key) != key for key in sources())


def test_variables_of_a_kind_stand_in_its_folder():
    places = {place for place, _ in files_called("quantities.toml")}
    assert {"quantities.toml", "harvesters/hybrid/quantities.toml"} <= places
    assert variables()["radiator_temperature"].unit == "K"  # of hybrids alone
    assert variables()["temperature"].unit == "K"  # of every place


@pytest.mark.parametrize(
    ("name", "text", "read", "key"),
    [
        ("quantities.toml", '[temperature]\nunit = "K"\n', variables, "temperature"),
        ("sources.bib", "@misc{Prata1996,\n  title = {Again},\n}\n", sources, "Prata1996"),
    ],
)
def test_a_key_in_two_files_is_refused_by_the_names_of_both(monkeypatch, name, text, read, key):
    own = list(files_called(name))
    again = [*own, ("harvesters/mine/" + name, text)]
    monkeypatch.setattr(f"welkinwell.{read.__module__.rpartition('.')[2]}.files_called", lambda _: again)
    with pytest.raises(DuplicateError, match=rf"{key} stands in {name} and again in harvesters/mine/{name}"):
        read.__wrapped__()


def test_files_of_another_package_are_read_as_well(monkeypatch, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "__init__.py").write_text("")
    (tmp_path / "elsewhere" / "quantities.toml").write_text("[foil]\n")
    monkeypatch.syspath_prepend(str(tmp_path))

    class Entry:
        module = "elsewhere"

    monkeypatch.setattr(merged_files, "entry_points", lambda group: [Entry])
    assert ("elsewhere/quantities.toml", "[foil]\n") in list(files_called("quantities.toml"))
