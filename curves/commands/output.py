"""What a command prints or writes: JSON for programs, a file for spreadsheets, tables for people.

A command hands over an ``Answer`` and knows nothing of files and terminals.
"""

from __future__ import annotations

import contextlib
import csv
import io
import json
import math
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Never

import numpy as np
from rich.console import Console, RenderableType
from rich.table import Table

from curves.commands.progress import quiet
from curves.errors import JobError, Problem
from curves.plaintext import no_formula, showable

WRITABLE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
PIPED_WIDTH = 120
"""Columns of a table that goes to a file or another program."""


class OutputClosed(Exception):  # noqa: N818 - it is no error of the user's
    """Whoever read the output has gone, as ``head`` does."""


@dataclass(frozen=True)
class Answer:
    """What a command found, in the three forms it can be given.

    Attributes:
        document: For ``--json``: plain values and arrays; not-a-number becomes null.
        rows: For ``--csv``: one mapping a line, all with the same keys; called only when needed.
        tables: For people: what rich can print; called only when needed.
    """

    document: Mapping[str, object]
    rows: Callable[[], Sequence[Mapping[str, object]]]
    tables: Callable[[], Iterable[RenderableType]]


def give(answer: Answer, *, as_json: bool, csv_file: Path | None) -> None:
    """Print or write an answer as the user asked.

    Raises:
        JobError: if the file cannot be written.
        OutputClosed: if standard output is closed.
    """
    if csv_file is not None:
        rows = answer.rows()
        write_file(csv_file, csv_text(rows), option="--csv")
        warn(f"{csv_file}: {len(rows)} rows")
    if as_json:
        say(json_text(answer.document))
    elif csv_file is None:
        show(answer.tables())


def json_text(document: object) -> str:
    """JSON of plain values and arrays, NaN and infinite as null, one line at the end."""
    # ASCII alone is right whatever encoding the terminal or pipe has.
    return json.dumps(plain(document), allow_nan=False) + "\n"


def plain(value: object) -> Any:
    """Arrays and NumPy numbers as lists and numbers; what is not finite as None."""
    match value:
        case np.ndarray():
            return plain(value.tolist())
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case list() | tuple():
            return [plain(item) for item in value]
        case np.generic():
            return plain(value.item())
        case float():
            return value if math.isfinite(value) else None
        case _:
            return value


def csv_text(rows: Sequence[Mapping[str, object]]) -> str:
    """Rows as comma-separated values; no text in them can act as a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    if rows:
        writer.writerow([_cell(name) for name in rows[0]])
    writer.writerows([_cell(value) for value in row.values()] for row in rows)
    return out.getvalue()


def _cell(value: object) -> str | float | int:
    value = plain(value)
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int() | float():
            return value
        case list():
            text = "; ".join(str(item) for item in value)
        case _:
            text = str(value)
    return no_formula(text)


def write_file(path: Path, content: str | bytes, *, option: str) -> None:
    """Write a file whole or not at all.

    Args:
        path: where to; what is there is replaced.
        content: text, which becomes UTF-8, or bytes.
        option: the option that named the file, for messages.

    Raises:
        JobError: if it cannot be written.
    """
    try:
        data = content.encode("utf-8") if isinstance(content, str) else content
        target = Path(os.path.realpath(path))
        if target.is_dir():
            refuse(option, str(path), "is a folder: name a file in it")
        if target.exists() and not target.stat().st_mode & WRITABLE:
            # Its folder would let it be replaced all the same.
            refuse(option, str(path), "is marked read-only: name another file")
        if target.exists() and not stat.S_ISREG(target.stat().st_mode):
            # A device or pipe must not be replaced by a file of its name.
            with target.open("wb") as device:
                device.write(data)
            return
        _replace(target, data)
    except BrokenPipeError:
        raise OutputClosed from None
    except (OSError, ValueError) as error:
        if isinstance(error, JobError):
            raise
        refuse(option, str(path), f"cannot be written: {_reason(error)}")


def _replace(target: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}-", dir=target.parent)
    draft = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        draft.chmod(stat.S_IMODE(target.stat().st_mode) if target.exists() else _new_file_mode())
        draft.replace(target)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise


def _new_file_mode() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error) or type(error).__name__


def refuse(option: str, value: str, message: str) -> Never:
    """Raise a ``JobError`` about one option of the command line."""
    raise JobError([Problem(f"{option} {value}".rstrip(), "", message)])


def show(renderables: Iterable[RenderableType]) -> None:
    """Print tables and texts to standard output, coloured only on a terminal."""
    on_terminal = sys.stdout is not None and sys.stdout.isatty()
    width = shutil.get_terminal_size().columns if on_terminal else PIPED_WIDTH
    console = Console(width=width, highlight=False, soft_wrap=False)
    with console.capture() as captured:
        for item in renderables:
            console.print(_that_fits(item, width), markup=False)
    # Padding out to the width helps nobody who greps or copies.
    say("".join(f"{line.rstrip()}\n" for line in captured.get().splitlines()))


def _that_fits(item: RenderableType, width: int) -> RenderableType:
    """A table whose whole words are too wide may break them: better than to lose their ends."""
    if isinstance(item, Table):
        gaps = len(item.columns) * (item.padding[1] + 1)
        if sum(column.min_width or 1 for column in item.columns) + gaps > width:
            for column in item.columns:
                column.min_width = None
    return item


def say(text: str, stream: IO[str] | None = None) -> None:
    """Write to standard output, all of it or ``OutputClosed``."""
    # Without a terminal or pipe at all, Python has no stream.
    out: IO[str] | None = stream or sys.stdout
    quiet()
    if out is None:
        raise OutputClosed
    try:
        out.write(text)
        out.flush()
    except UnicodeEncodeError:
        encoding = getattr(out, "encoding", None) or "ascii"
        out.write(text.encode(encoding, errors="replace").decode(encoding))
        out.flush()
    except BrokenPipeError:
        raise OutputClosed from None


def warn(text: str) -> None:
    """Write one line to standard error; a closed one is no reason to stop."""
    if sys.stderr is not None:
        with contextlib.suppress(OutputClosed, OSError):
            say(f"{showable(text)}\n", sys.stderr)
