"""The command line: parse, call, print."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

from curves import __version__
from curves.commands.output import OutputClosed, refuse, say, warn
from curves.errors import JobError

USER_ERROR = 2
FAULT = 1
INTERRUPTED = 130
TRACEBACK = "RIMFORCE_TRACEBACK"
"""Environment variable that shows where a fault of the program itself happened."""

COMMANDS: dict[str, tuple[str, str]] = {
    "serve": ("serve:serve", "Show the job in the browser; Ctrl+C ends it."),
    "curves": (
        "curves:curves",
        "Force, power and currents of every setup over road speed, and what limits them.",
    ),
    "top-speed": (
        "top_speed:top_speed",
        "Top speed, what limits it there, and what more of each input would buy.",
    ),
    "runs": (
        "runs:runs",
        "Times to speeds and distances from rest, while charge and temperatures move.",
    ),
    "packs": (
        "packs:packs",
        "Top speed over the number of cells in series, and the count where more stop helping.",
    ),
    "weakening": (
        "weakening:weakening",
        "Top speed and its price over field-weakening current, and how much of it to set.",
    ),
    "search": (
        "search:search",
        "Setups that meet goals, and those that no other beats; Ctrl+C ends it with what it has.",
    ),
    "heat": (
        "heat:heat",
        "How much of a hill can be climbed before the winding is too hot, and what settles.",
    ),
    "range": (
        "range:range_",
        "Distance per charge and energy per distance at steady speeds, or over a ride.",
    ),
    "bench": (
        "bench:bench",
        "A motor profile from bench readings, each value with its uncertainty and its source.",
    ),
    "fit": (
        "fit:fit",
        "What a job is unsure of, from logs of runs, with intervals; the job corrected.",
    ),
    "recheck": (
        "recheck:recheck",
        "Five numbers read without a logger: do they agree, and what is likeliest wrong if not.",
    ),
    "coast-down": (
        "coast_down:coast_down",
        "Rolling resistance and drag from coasting down, wind and slope taken out.",
    ),
    "report": (
        "report:report",
        "A page for the customer and one for whoever sets the controller, in one file.",
    ),
    "check": (
        "check:check",
        "What does not fit in a job, what is risky, and which part has the least to spare.",
    ),
    "profiles": (
        "profiles:profiles",
        "Check motor profiles: the packaged ones, or files of your own.",
    ),
    "schema": ("schema:schema", "Print the JSON Schema of a job file."),
}
"""Module and function of each command, and its line of help; in the order of the help page."""


def _app(wanted: str | None) -> typer.Typer:
    """The commands, of which only the one wanted is imported: all would double the start-up."""
    app = typer.Typer(
        name="rimforce",
        help="Force, power and top speed of light electric bikes, for each pack, tune and motor.",
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    app.callback(invoke_without_command=True)(_common)
    for name, (place, told) in COMMANDS.items():
        module, _, function = place.partition(":")
        command = _not_wanted
        if name == wanted:
            command = getattr(import_module(f"curves.commands.{module}"), function)
        app.command(name, help=told)(command)
    return app


def _not_wanted() -> None:
    """Stands for a command that is listed and not run."""


def _common(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    if version:
        say(f"rimforce {__version__}\n")
        raise typer.Exit
    if context.invoked_subcommand is None:
        refuse("rimforce", "", "needs a command; see rimforce --help")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        arguments: what follows the program's name; None for those of this process.

    Returns:
        The exit status: 0, or 2 with the reason on standard error; 1 for a fault of the program.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    wanted = next((word for word in words if not word.startswith("-")), None)
    try:
        status = _app(wanted)(words, prog_name="rimforce", standalone_mode=False)
        return status if isinstance(status, int) else 0
    except JobError as error:
        return _fail(str(error))
    except OutputClosed:
        if sys.stdout is not None:
            # Python would complain once more when it flushes at its end.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return USER_ERROR
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except OSError as error:
        return _fail(f"{error.filename or 'rimforce'}: {error.strerror or error}")
    except Exception as error:
        # Wrong usage, by whichever click this typer brings along.
        if hasattr(error, "format_message"):
            return _fail(_usage(error))
        if _interrupted(error):
            return INTERRUPTED
        if os.environ.get(TRACEBACK):
            raise
        _fail(
            f"A fault of rimforce itself, {type(error).__name__}: {error}; {TRACEBACK}=1 tells more"
        )
        return FAULT


def _interrupted(error: BaseException | None) -> bool:
    """Whether an interrupt is behind an error, as compiled modules turn one into their own."""
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__cause__ or error.__context__
    return error is not None


def _usage(error: Exception) -> str:
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "rimforce"
    said = error.format_message().rstrip(".")  # type: ignore[attr-defined]
    return f"{said}; see {command} --help"


def _fail(message: str) -> int:
    warn(message)
    return USER_ERROR
