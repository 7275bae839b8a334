"""The command line: parse, call, print."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from curves import __version__
from curves.commands.check import check
from curves.commands.curves import curves
from curves.commands.heat import heat
from curves.commands.output import OutputClosed, refuse, say, warn
from curves.commands.packs import packs
from curves.commands.range import range_
from curves.commands.report import report
from curves.commands.runs import runs
from curves.commands.schema import schema
from curves.commands.search import search
from curves.commands.serve import serve
from curves.commands.top_speed import top_speed
from curves.commands.weakening import weakening
from curves.errors import JobError

USER_ERROR = 2
FAULT = 1
INTERRUPTED = 130
TRACEBACK = "RIMFORCE_TRACEBACK"
"""Environment variable that shows where a fault of the program itself happened."""

app = typer.Typer(
    name="rimforce",
    help="Force, power and top speed of light electric bikes, for each pack, tune and motor.",
    add_completion=False,
    pretty_exceptions_enable=False,
)
# One line a command, in the order of the help page.
app.command("serve")(serve)
app.command("curves")(curves)
app.command("top-speed")(top_speed)
app.command("runs")(runs)
app.command("packs")(packs)
app.command("weakening")(weakening)
app.command("search")(search)
app.command("heat")(heat)
app.command("range")(range_)
app.command("report")(report)
app.command("check")(check)
app.command("schema")(schema)


@app.callback(invoke_without_command=True)
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
    try:
        status = app(
            list(sys.argv[1:] if arguments is None else arguments),
            prog_name="rimforce",
            standalone_mode=False,
        )
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
        if os.environ.get(TRACEBACK):
            raise
        _fail(
            f"A fault of rimforce itself, {type(error).__name__}: {error}; {TRACEBACK}=1 tells more"
        )
        return FAULT


def _usage(error: Exception) -> str:
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "rimforce"
    said = error.format_message().rstrip(".")  # type: ignore[attr-defined]
    return f"{said}; see {command} --help"


def _fail(message: str) -> int:
    warn(message)
    return USER_ERROR


if __name__ == "__main__":
    sys.exit(main())
