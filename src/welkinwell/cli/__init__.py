"""The command `welkinwell`: parses, calls, shows. One file a command; heavy imports stand inside them.

Exit codes: 0 done, 2 bad input or no room for the output, 1 our fault (a crash file is left), 130 interrupted
from the keyboard, 143 from outside.
"""

from __future__ import annotations

import inspect
import os
import re
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import Annotated, Any

import typer
import typer.core

from welkinwell.cli import (
    check,
    check_claim,
    compare,
    fit,
    limits,
    losses,
    monitor,
    new,
    optimise,
    rank,
    reach,
    run,
    schema,
    site,
    sorbents,
    uncertainty,
    validate,
)
from welkinwell.errors import InputError
from welkinwell.writing import unwritable

# typer has carried its own copy of click since 0.2x; this finds the error class in either.
_CommandLineError: Any = next(c for c in typer.BadParameter.__mro__ if c.__name__ == "ClickException")
_STOPPED = 130
_ENDED = 128 + signal.SIGTERM

app = typer.Typer(
    name="welkinwell",
    help="From a site and a demand to a water-from-air design that can be defended.",
    epilog="Start with: welkinwell new my_place, then welkinwell run my_place/case.toml -o out",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help: what stands in square brackets is shown, and nothing is cut
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
COMMANDS: dict[str, Callable[..., None]] = {
    "new": new.new,
    "check": check.check,
    "run": run.run,
    "site": site.site,
    "sorbents": sorbents.sorbents,
    "fit": fit.fit,
    "limits": limits.limits,
    "schema": schema.schema,
    "check-claim": check_claim.check_claim,
    "rank": rank.rank,
    "losses": losses.losses,
    "uncertainty": uncertainty.uncertainty,
    "compare": compare.compare,
    "optimise": optimise.optimise,
    "reach": reach.reach,
    "validate": validate.validate,
    "monitor": monitor.monitor,
}


class _Command(typer.core.TyperCommand):
    """A command whose help names what to type, without the types that Python gives it."""

    def format_options(self, ctx: Any, formatter: Any) -> None:
        for title, kind in (("Arguments", "argument"), ("Options", "option")):
            found = [one.get_help_record(ctx) for one in self.get_params(ctx) if one.param_type_name == kind]
            rows = [_plain_row(*one) for one in found if one is not None]
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        return [piece.replace("{", "").replace("}", "") for piece in super().collect_usage_pieces(ctx)]


def _plain_row(name: str, text: str) -> tuple[str, str]:
    """Name and help without the type in Python's words, and a range as a person says it."""
    return re.sub(r" <[^<>]*>(\.{3})?", "", name), re.sub(r"(\S+)<=x<=(\S+)\]", r"\1 to \2]", text)


for _name, _command in COMMANDS.items():
    # The first sentence whole: the library would cut it to fit a line.
    _first = inspect.cleandoc(_command.__doc__ or "").partition("\n")[0]
    app.command(_name, cls=_Command, short_help=_first)(_command)


def _show_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        typer.echo(f"welkinwell {version('welkinwell')}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option("--version", help="Print the version and stop.", callback=_show_version, is_eager=True),
    ] = False,
) -> None:
    pass


def main(arguments: list[str] | None = None) -> None:
    """Run the command and leave with its exit code."""
    # As an exception, so that what is half done is put away before the process ends.
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(_ENDED))
    sys.exit(exit_code(sys.argv[1:] if arguments is None else arguments))


def exit_code(arguments: list[str]) -> int:
    """Run the command; say what went wrong in plain words and give the exit code."""
    try:
        code = app(args=arguments, prog_name="welkinwell", standalone_mode=False)
        return _said_if_stopped(code if isinstance(code, int) else 0)
    except InputError as error:
        for problem in error.problems:
            typer.echo(f"welkinwell: {problem}", err=True)
        return 2
    except _CommandLineError as error:
        error.show()
        return 2
    except (KeyboardInterrupt, typer.Abort):
        return _said_if_stopped(_STOPPED)
    except BrokenPipeError:
        # The reader of our output went away, as `head` does; that is no fault of anyone.
        _mute_stdout()
        return 0
    except OSError as error:
        full = unwritable(error)
        if full is None:
            return _our_fault(error, arguments)
        if error.filename is None:
            _mute_stdout()
        typer.echo(f"welkinwell: {full}", err=True)
        return 2
    except Exception as error:
        return _our_fault(error, arguments)


def _mute_stdout() -> None:
    """Let what is still to be written to a stdout that takes no more go nowhere."""
    with suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _our_fault(error: Exception, arguments: list[str]) -> int:
    """Leave the crash file and say where it is; returns the exit code."""
    from welkinwell.cli.crash import write_crash_file

    place = write_crash_file(error, arguments)
    typer.echo(f"welkinwell: this is our fault: {type(error).__name__}: {error}", err=True)
    typer.echo(f"welkinwell: the details are in {place}; please send that file with the case.", err=True)
    return 1


def _said_if_stopped(code: int) -> int:
    # Some releases of typer turn the interrupt into this code, others raise it.
    if code == _STOPPED:
        typer.echo("welkinwell: stopped", err=True)
    return code
