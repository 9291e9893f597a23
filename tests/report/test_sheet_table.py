"""The table of a data sheet shows every number of the sheet, whatever its form."""

import pytest

from welkinwell.report.citations import References
from welkinwell.report.tables import FORM_WORDS, form_words, memory_share, sheet_table
from welkinwell.sorbents.sheet import FORM_RULES, FORMS
from welkinwell.sorbents.sorbent import sheet_names, sorbent


def test_every_form_has_its_sentence():
    assert set(FORM_WORDS) == set(FORMS)


@pytest.mark.parametrize("name", sheet_names())
def test_every_number_is_shown_with_what_it_means(name):
    found = sorbent(name)
    table = sheet_table(found, References())
    entries = [entry for group in found.sheet.tables.values() for entry in group]
    numbers = [*found.sheet.numbers.values(), *(value for entry in entries for value in entry.values())]
    assert sorted(row[1] for row in table.rows) == sorted(value.text for value in numbers)
    words = [row[0] for row in table.rows]
    # the form's own numbers lead, in words of their own, and a sentence says what they make together
    own = len(entries) and sum(len(entry) for entry in entries)
    own += sum(
        f"isotherm.{key}" in found.sheet.numbers for key in FORM_RULES[found.sheet.texts["isotherm.form"]]
    )
    assert all(shown.startswith("Isotherm, ") and ": " in shown for shown in words[:own])
    assert form_words(found).startswith("Isotherm: ")
    assert len(set(words)) == len(words)
    for key, rule in FORM_RULES[found.sheet.texts["isotherm.form"]].items():
        if f"isotherm.{key}" in found.sheet.numbers:
            assert any(rule.sentence in shown for shown in words)
    memory, total = memory_share(found)
    assert total == len(numbers) and memory == sum(row[5] == "memory" for row in table.rows)
