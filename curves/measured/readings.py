"""The bench file: what was read with which instruments, and what was not measured."""

from __future__ import annotations

from copy import copy
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, ValidationError, create_model, model_validator
from pydantic.fields import FieldInfo

from curves.errors import JobError, Problem
from curves.measured.rows import (
    BackEmf,
    CoastBike,
    CoastTime,
    Drive,
    Inductance,
    Meters,
    NoLoad,
    PackLoad,
    Poles,
    Resistance,
    RollOut,
    Row,
    StatedKv,
)
from curves.parts.base import FieldError, Listed, Table, quantity, text
from curves.parts.motor import Motor
from curves.parts.problems import problems
from curves.parts.reading import Tree, read_tree, refuse, show

FORMAT = "rimforce-bench-1"


def _optional(info: FieldInfo) -> FieldInfo:
    changed = copy(info)
    changed.default = None
    return changed


class _Given(Table):
    """What was not measured: fields of a motor profile, each of which may be left out."""

    def given(self, name: str, default: float = 0.0) -> float:
        """A field's value, or a default where the file gives none."""
        value = getattr(self, name)
        return default if value is None else float(value)


if TYPE_CHECKING:
    Unmeasured = _Given
else:
    Unmeasured = create_model(
        "Unmeasured",
        __base__=_Given,
        **{
            name: (info.annotation, _optional(info))
            for name, info in Motor.model_fields.items()
            if name not in {"profile", *Table.model_fields}
        },
    )

Rows = Field(description="Readings", max_length=10_000)


class Bench(Row):
    """Everything that was read at the bench."""

    format: Annotated[Literal["rimforce-bench-1"], Field(description="Name of this file format")]
    title: Annotated[str, text("What was measured")] = "Untitled"
    note: Annotated[str, text("Who, when, with what: goes into every source line")] = ""
    ambient_c: Annotated[
        float, quantity("Temperature where a reading gives none", "°C", least=-60.0, most=100.0)
    ] = 20.0
    meters: Annotated[Meters, Field(description="Uncertainty of the instruments")] = Meters()
    drive: Annotated[Drive, Field(description="What turned the motor")] = Drive()
    not_measured: Annotated[
        Unmeasured, Field(description="What was not measured, as in a motor profile")
    ] = Unmeasured()
    resistance: Annotated[tuple[Resistance, ...], Listed, Rows] = ()
    inductance: Annotated[tuple[Inductance, ...], Listed, Rows] = ()
    back_emf: Annotated[tuple[BackEmf, ...], Listed, Rows] = ()
    no_load: Annotated[tuple[NoLoad, ...], Listed, Rows] = ()
    poles: Annotated[tuple[Poles, ...], Listed, Rows] = ()
    kv_stated: Annotated[StatedKv | None, Field(description="Kv as someone states it")] = None
    pack_load: Annotated[tuple[PackLoad, ...], Listed, Rows] = ()
    roll_out: Annotated[tuple[RollOut, ...], Listed, Rows] = ()
    coast_down: Annotated[tuple[CoastTime, ...], Listed, Rows] = ()
    coast_bike: Annotated[CoastBike | None, Field(description="What rolled, in what air")] = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        errors: list[tuple[tuple[str | int, ...], object, str]] = []
        if self.coast_down and self.coast_bike is None:
            errors.append((("coast_bike",), None, "is missing: its mass turns times into forces"))
        if any(row.rim_mm is not None for row in self.inductance) and not self.roll_out:
            errors.append((("roll_out",), None, "is missing: rim_mm needs the wheel's roll-out"))
        if errors:
            raise FieldError(errors)
        return self

    @property
    def gear_ratio(self) -> float:
        """Rotor turns per turn of the motor's output."""
        return self.not_measured.given("gear_ratio", 1.0)


def bench_tree(content: str, *, name: str = "bench") -> Tree:
    """Plain values of a file of readings, right or wrong.

    Args:
        content: TOML or JSON.
        name: what to call it in messages.

    Raises:
        JobError: if it cannot be read or is no file of readings.
    """
    tree: Tree = read_tree(content, name)
    if tree.get("format") != FORMAT:
        refuse(
            f"{name}: format",
            f'must be "{FORMAT}": this is no file of bench readings',
            show(tree.get("format")),
        )
    return tree


def parse_bench(content: str, *, name: str = "bench") -> Bench:
    """Bench readings from their TOML or JSON text.

    Args:
        content: the text.
        name: what to call it in messages.

    Raises:
        JobError: if it cannot be read or something in it is not allowed.
    """
    tree = bench_tree(content, name=name)
    try:
        return Bench.model_validate(tree)
    except ValidationError as error:
        raise JobError(problems(error, Bench, tree, name)) from None


NEEDED_BY = {"roll_out": "inductance", "coast_bike": "coast_down"}
"""What readings cannot be used without another table."""


def right_rows(tree: Tree, *, name: str = "bench") -> tuple[Bench, tuple[Problem, ...]]:
    """Readings without the rows that are wrong, and what is wrong with those.

    Args:
        tree: plain values as in a file of readings.
        name: what to call it in messages.
    """
    tree = {**tree, "format": FORMAT}
    try:
        return Bench.model_validate(tree), ()
    except ValidationError as error:
        found = tuple(problems(error, Bench, tree, name))
        wrong = {
            place for item in error.errors(include_url=False) for place in _places(dict(item), tree)
        }
    # Each time something is left out, with a wrong heading all below it: so this ends.
    rest: Tree = {
        key: [row for k, row in enumerate(value) if (key, k) not in wrong]
        if isinstance(value, list)
        else value
        for key, value in tree.items()
        if (key,) not in wrong
    }
    bench, more = right_rows(rest, name=name)
    return bench, (*found, *more)


def _places(item: Tree, tree: Tree) -> list[tuple[str | int, ...]]:
    """Tables or rows to be left out for one of pydantic's errors."""
    place = tuple(item["loc"])
    if place:
        # Of a list its row, of a table all of it.
        return [place[:2] if isinstance(tree.get(place[0]), list) else place[:1]]
    return [(NEEDED_BY[below[0]],) for below, _, _ in item["ctx"]["error"].errors]


def bench_text(tree: Tree) -> str:
    """A file of readings from plain values, TOML.

    Args:
        tree: the tables.
    """
    import tomlkit  # slow to import, and needed only to write

    return tomlkit.dumps({"format": FORMAT, **tree})
