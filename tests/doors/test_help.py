"""What the helps of all commands show: every word of them, square brackets too, and no type of Python."""

import inspect
import re
from typing import get_type_hints

import pytest
import typer

from welkinwell.cli import COMMANDS, exit_code


def shown(arguments, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    assert exit_code([*arguments, "--help"]) == 0
    return capsys.readouterr().out


def flat(text):
    return " ".join(text.split())


def parameters(function):
    for hint in get_type_hints(function, include_extras=True).values():
        yield from (one for one in getattr(hint, "__metadata__", ()) if hasattr(one, "help"))


def test_the_columns_of_fit_keep_their_units(capsys, monkeypatch):
    out = flat(shown(["fit"], capsys, monkeypatch))
    assert "temperature [degC],relative_humidity [1],loading [kg/kg]; pressure [Pa]" in out


@pytest.mark.parametrize("name", COMMANDS)
def test_a_help_shows_every_word_that_was_written(name, capsys, monkeypatch):
    out = flat(shown([name], capsys, monkeypatch))
    assert flat(inspect.getdoc(COMMANDS[name])) in out
    for one in parameters(COMMANDS[name]):
        assert flat(one.help) in out, one.help


@pytest.mark.parametrize("name", COMMANDS)
def test_a_help_shows_no_type_of_python(name, capsys, monkeypatch):
    out = shown([name], capsys, monkeypatch)
    assert not re.search(r"<\w|list\[|<=x|\{|\[\[|\.{4}|\bstr\b|\bNone\b", out), out


@pytest.mark.parametrize("name", COMMANDS)
def test_what_takes_a_value_says_what_kind(name, capsys, monkeypatch):
    """An option is a flag or has a word after it: `--tilt ANGLE`."""
    rows = [
        row
        for row in shown([name], capsys, monkeypatch).partition("Options:")[2].splitlines()
        if row.startswith("  -")
    ]
    hints = [hint for hint in get_type_hints(COMMANDS[name], include_extras=True).values()]
    options = [
        hint
        for hint in hints
        if isinstance(getattr(hint, "__metadata__", (None,))[0], typer.models.OptionInfo)
    ]
    flags = [row for row in rows if re.match(r"  (-\w, )?--[a-z0-9-]+(  |$)", row)]
    valued = [row for row in rows if re.match(r"  (-\w, )?--[a-z0-9-]+ [A-Z][A-Z.=-]*(  |$)", row)]
    assert len(flags) == 1 + sum(hint.__origin__ is bool for hint in options)
    assert len(flags) + len(valued) == len(rows) == 1 + len(options)


def test_the_list_of_commands_cuts_no_sentence(capsys, monkeypatch):
    out = flat(shown([], capsys, monkeypatch))
    assert "..." not in out.partition("Commands:")[2]
    for function in COMMANDS.values():
        assert inspect.getdoc(function).partition("\n")[0] in out
