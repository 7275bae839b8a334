"""Logs from files: CSV of any make, streamed in bounded memory, and GPX.

This is the one module of measurements that touches files.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import BinaryIO, Final, TypeAlias

import numpy as np

from curves.errors import JobError
from curves.measured.columns import Column, confirm, propose
from curves.measured.dialect import LOOKED_AT, Dialect, dialect_of, encoding_of
from curves.measured.gpx import gpx_rows
from curves.measured.intake import Intake, Look, to_numbers
from curves.measured.samples import Log
from curves.measured.thinning import KEEP
from curves.parts.reading import MOST_BYTES, decode, refuse
from curves.plaintext import showable

Source: TypeAlias = str | Path | BinaryIO

HEAD: Final = 1 << 18
"""Bytes by which a log is judged."""
CHUNK: Final = 5_000
"""Lines turned into numbers at a time."""
LONGEST: Final = 1 << 16
"""Letters of a line that could still be samples."""
MOST_GPX: Final = 50_000_000


def read_text(path: str | Path) -> str:
    """A small file of text, such as bench readings.

    Raises:
        JobError: if it cannot be read, is too large or not UTF-8.
    """
    with _opened(path, None) as (stream, name):
        return decode(stream.read(MOST_BYTES + 1), name)


def demo_bench_text() -> str:
    """Text of the packaged bench readings."""
    return _demo("hub-bench.toml").decode("utf-8")


def demo_coast_text() -> str:
    """Text of the packaged times of a coast-down."""
    return _demo("coast-down.toml").decode("utf-8")


def demo_log() -> BinaryIO:
    """The packaged log of a run."""
    return io.BytesIO(_demo("eighth-mile.csv"))


def _demo(name: str) -> bytes:
    return (resources.files("curves") / "demo" / name).read_bytes()


def look_at(
    source: Source, *, name: str | None = None, columns: Mapping[str, str] | None = None
) -> Look:
    """What a log's columns seem to be, from its first lines.

    Args:
        source: a path, or a binary stream that can seek.
        name: what to call it in messages; the file's own name if left out.
        columns: what a person says of them, as ``columns.confirm`` takes it.

    Raises:
        JobError: if it is no log.
    """
    with _opened(source, name) as (stream, called):
        return _look(stream, called, columns or {})


def read_log(
    source: Source,
    *,
    name: str | None = None,
    columns: Mapping[str, str] | None = None,
    window: tuple[float, float] = (-np.inf, np.inf),
    keep: int = KEEP,
) -> Log:
    """A log's samples in SI, in order.

    Args:
        source: a path, or a binary stream that can seek.
        name: what to call it in messages; the file's own name if left out.
        columns: what a person says of its columns, as ``columns.confirm`` takes it.
        window: part to read, s from the first sample; a long log is read finer so.
        keep: samples kept without averaging neighbours.

    Raises:
        JobError: if it cannot be read; the message names line and reason.
    """
    with _opened(source, name) as (stream, called):
        look = _look(stream, called, columns or {})
        quantities = [column.quantity for column in look.columns]
        if "time" not in quantities:
            refuse(
                called,
                "no column is a time: name it, as in --columns time=NAME; there are "
                f"{', '.join(look.dialect.names if look.dialect else quantities)}",
            )
        if len(quantities) < 2:
            refuse(
                called,
                "no column but the time is understood: name one, as in --columns speed=NAME:km/h; "
                f"there are {', '.join(look.dialect.names if look.dialect else ())}",
            )
        intake = Intake(called, look, window, keep)
        stream.seek(0)
        if look.dialect is None:
            intake.take(*gpx_rows(stream.read(), called))
        else:
            for rows, lines in _chunks(stream, look.dialect, intake):
                intake.take(*to_numbers(rows, lines, look, intake))
        return intake.log()


@contextmanager
def _opened(source: Source, name: str | None) -> Iterator[tuple[BinaryIO, str]]:
    """A source as a stream at its start, and a name; what is opened here is closed again."""
    if not isinstance(source, str | Path):
        source.seek(0)
        yield source, showable(name or "log")
        return
    path = Path(source)
    called = showable(name or path.name)
    try:
        if path.is_dir():
            refuse(called, "is a folder, not a log")
        stream = path.open("rb")
    except FileNotFoundError:
        refuse(str(path), "there is no such file")
    except JobError:
        raise
    except (OSError, ValueError) as error:
        refuse(called, f"cannot be read: {getattr(error, 'strerror', None) or error}")
    with stream:
        yield stream, called


def _look(stream: BinaryIO, name: str, said: Mapping[str, str]) -> Look:
    head = stream.read(HEAD)
    encoding = encoding_of(head, name)
    text = head.decode(encoding, errors="replace")
    if text.lstrip("\ufeff \t\r\n").startswith(("<?xml", "<gpx")):
        if len(head) + len(stream.read(MOST_GPX)) > MOST_GPX:
            refuse(name, f"is larger than {MOST_GPX / 1e6:.0f} MB: cut the track")
        return Look(name, None, gpx_columns())
    lines = list(io.StringIO(text, newline=""))
    if len(head) == HEAD:
        if len(lines) < 2:
            refuse(name, f"line 1 is longer than {HEAD} bytes: this is no log with a sample a line")
        lines.pop()
    dialect = dialect_of(lines[:LOOKED_AT], encoding, name)
    return Look(name, dialect, confirm(propose(dialect), dialect, said))


def gpx_columns() -> tuple[Column, ...]:
    """The columns of a GPX track."""
    kinds = ("time", "latitude", "longitude", "altitude", "speed")
    units = ("s", "deg", "deg", "m", "m/s")
    return tuple(Column(q, q, k, u) for k, (q, u) in enumerate(zip(kinds, units, strict=True)))


def _lines(stream: BinaryIO, dialect: Dialect, name: str) -> Iterator[str]:
    """Lines of text, none longer than memory bears."""
    text = io.TextIOWrapper(stream, dialect.encoding, errors="replace", newline="")
    try:
        count = 0
        while line := text.readline(LONGEST):
            count += 1
            if len(line) >= LONGEST and not line.endswith(("\n", "\r")):
                refuse(name, f"line {count} is longer than {LONGEST} letters: no line of samples")
            yield line
    finally:
        text.detach()


def _chunks(
    stream: BinaryIO, dialect: Dialect, intake: Intake
) -> Iterator[tuple[list[list[str]], list[int]]]:
    """Lines of data as cells, with their numbers, some thousands at a time."""
    source = _lines(stream, dialect, intake.name)
    for _ in range(dialect.skipped):
        next(source, None)
    table = csv.reader(source, delimiter=dialect.separator, skipinitialspace=True)
    needed = 1 + max(column.index for column in intake.look.columns)
    width = len(dialect.names)
    rows: list[list[str]] = []
    numbers: list[int] = []
    try:
        for row in table:
            line = table.line_num + dialect.skipped
            if not row or (len(row) == 1 and not row[0].strip()) or row[0].startswith("#"):
                continue
            intake.lines += 1
            if len(row) < needed:
                intake.leave_out(line, f"ends after {len(row)} of {width} values")
                continue
            if len(row) > width and any(cell.strip() for cell in row[width:]):
                intake.leave_out(line, f"has {len(row)} values under {width} headings")
                continue
            rows.append(row)
            numbers.append(line)
            if len(rows) == CHUNK:
                yield rows, numbers
                rows, numbers = [], []
    except csv.Error:
        good = numbers[-1] if numbers else dialect.skipped
        refuse(
            intake.name,
            f"line {good + 1} cannot be parted into values: it opens a quotation mark that is "
            "never closed",
        )
    if rows:
        yield rows, numbers
