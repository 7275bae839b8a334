"""What a command prints or writes: JSON for programs, a file for spreadsheets, tables for people.

A command hands over an ``Answer`` and knows nothing of files and terminals.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Never

from rich.console import Console, RenderableType
from rich.table import Table

from curves.commands.progress import quiet
from curves.errors import JobError, Problem
from curves.parts.rig import Rig
from curves.plaintext import showable
from curves.present.serial import csv_pieces, json_pieces

WRITABLE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
MOST_AT_ONCE = 200
MOST_POINTS = 20_000
"""Setups, and values of all of them, that are worked out before any is written."""
MOST_HELD = 1_000_000
"""Letters of a text that are gathered before they are written."""
PIPED_WIDTH = 120
"""Columns of a table that goes to a file or another program."""


class OutputClosed(Exception):  # noqa: N818 - it is no error of the user's
    """Whoever read the output has gone, as ``head`` does."""


@dataclass(frozen=True)
class Answer:
    """What a command found, in the three forms it can be given.

    Attributes:
        document: For ``--json``: plain values and arrays; not-a-number becomes null. A list that
            may be long is given as what makes its items, which are written one by one.
        rows: For ``--csv``: one mapping a line, all with the same keys; called only when needed.
        tables: For people: what rich can print; called only when needed.
    """

    document: Mapping[str, object]
    rows: Callable[[], Iterable[Mapping[str, object]]]
    tables: Callable[[], Iterable[RenderableType]]


def give(answer: Answer, *, as_json: bool, csv_file: Path | None) -> None:
    """Print or write an answer as the user asked.

    Raises:
        JobError: if the file cannot be written.
        OutputClosed: if standard output is closed.
    """
    if csv_file is not None:
        written = _Counted(answer.rows())
        write_file(csv_file, csv_pieces(written), option="--csv")
        warn(f"{csv_file}: {written.count} rows")
    if as_json:
        for text in _gathered(json_pieces(answer.document)):
            say(text)
    elif csv_file is None:
        show(answer.tables())


def in_blocks(rigs: Sequence[Rig], points: int = 1) -> Iterator[Sequence[Rig]]:
    """Setups a few at a time, so that any number of them needs bounded memory.

    Args:
        rigs: The setups.
        points: Values that each is worked out at.
    """
    some = max(1, min(MOST_AT_ONCE, MOST_POINTS // points))
    for first in range(0, len(rigs), some):
        yield rigs[first : first + some]


class _Counted(Iterable[Any]):
    """What another gives, counted on the way."""

    def __init__(self, items: Iterable[Any]) -> None:
        self._items, self.count = items, 0

    def __iter__(self) -> Iterator[Any]:
        for item in self._items:
            self.count += 1
            yield item


def _gathered(pieces: Iterable[str]) -> Iterator[str]:
    """Pieces of a text joined to larger ones: what is short is written at once, or not at all."""
    held: list[str] = []
    size = 0
    for piece in pieces:
        held.append(piece)
        size += len(piece)
        if size > MOST_HELD:
            yield "".join(held)
            held, size = [], 0
    yield "".join(held)


def write_file(path: Path, content: str | bytes | Iterable[str], *, option: str) -> None:
    """Write a file whole or not at all.

    Args:
        path: where to; what is there is replaced.
        content: text, which becomes UTF-8, whole or in pieces, or bytes.
        option: the option that named the file, for messages.

    Raises:
        JobError: if it cannot be written.
    """
    try:
        data = _as_bytes(content)
        target = Path(os.path.realpath(path))
        if target.is_dir():
            refuse(option, str(path), "is a folder: name a file in it")
        if target.exists() and not target.stat().st_mode & WRITABLE:
            # Its folder would let it be replaced all the same.
            refuse(option, str(path), "is marked read-only: name another file")
        if target.exists() and not stat.S_ISREG(target.stat().st_mode):
            # A device or pipe must not be replaced by a file of its name.
            with target.open("wb") as device:
                device.writelines(data)
            return
        _replace(target, data)
    except BrokenPipeError:
        raise OutputClosed from None
    except (OSError, ValueError) as error:
        if isinstance(error, JobError):
            raise
        refuse(option, str(path), f"cannot be written: {_reason(error)}")


def _as_bytes(content: str | bytes | Iterable[str]) -> Iterable[bytes]:
    if isinstance(content, bytes):
        return [content]
    return (text.encode("utf-8") for text in ([content] if isinstance(content, str) else content))


def _replace(target: Path, data: Iterable[bytes]) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}-", dir=target.parent)
    draft = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.writelines(data)
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
