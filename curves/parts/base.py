"""What every table of a job has in common."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal, Self, TypeAlias

import numpy as np
import numpy.typing as npt
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    field_validator,
    model_validator,
)

from curves.plaintext import CONTROLS

FloatArray = npt.NDArray[np.float64]
Plausible: TypeAlias = tuple[float, float]
"""Least and most of a field in any light vehicle, wider than legal use: outside it is taken, and
said."""

LARGEST = 1e9
"""No quantity of a bike is larger in the unit of its field; keeps arithmetic finite."""
SMALLEST = 1e-9
"""The least value of what must be above 0, for the same reason."""

SOURCE_KINDS = ("measured", "maker", "typical", "invented")


class FieldError(ValueError):
    """Wrong values found by a rule over several fields.

    Args:
        errors: for each the path below the model, the value, and what is wrong.
    """

    def __init__(self, errors: Sequence[tuple[tuple[str | int, ...], object, str]]) -> None:
        self.errors = tuple(errors)
        super().__init__("; ".join(message for _, _, message in errors))


def quantity(
    meaning: str,
    unit: str = "",
    *,
    above: Literal[0] | None = None,
    least: float | None = None,
    most: float = LARGEST,
    plausible: Plausible | None = None,
) -> Any:
    """Field of a number with its meaning and unit, which the dashboard shows.

    Args:
        meaning: what it is, for a tuner.
        unit: its unit as people write it, empty for a bare number.
        above: 0 for what must be above 0 (``SMALLEST`` or more).
        least: lower bound; without either, as far below 0 as above.
        most: inclusive upper bound.
        plausible: its range in any light vehicle; None where none can be said.
    """
    lowest = SMALLEST if above == 0 else -LARGEST if least is None else least
    return Field(
        description=f"{meaning}, {unit}" if unit else meaning,
        strict=True,
        allow_inf_nan=False,
        ge=lowest,
        le=most,
        json_schema_extra=_extra(unit, plausible),
    )


def _extra(unit: str, plausible: Plausible | None) -> dict[str, Any]:
    told: dict[str, Any] = {"unit": unit}
    return told if plausible is None else {**told, "plausible": list(plausible)}


def count(meaning: str, *, most: int = 10_000, plausible: Plausible | None = None) -> Any:
    """Field of a whole number from 1 to ``most``."""
    extra = _extra("", plausible)
    return Field(description=meaning, strict=True, ge=1, le=most, json_schema_extra=extra)


def text(meaning: str, *, pattern: str | None = None) -> Any:
    """Field of a short text on one line."""
    return Field(
        description=meaning,
        strict=True,
        min_length=1,
        max_length=2000,
        pattern=pattern or rf"^[^{CONTROLS}]*$",
    )


def series(meaning: str, unit: str = "", *, plausible: Plausible | None = None) -> Any:
    """Field of a list of numbers, each within what is plausible, or of pairs of them."""
    described = f"{meaning}, {unit}" if unit else meaning
    return Field(description=described, max_length=1000, json_schema_extra=_extra(unit, plausible))


def flag(meaning: str) -> Any:
    """Field that is true or false."""
    return Field(description=meaning, strict=True)


def _whole(value: object) -> object:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _tuples(value: object) -> object:
    return tuple(_tuples(item) for item in value) if isinstance(value, list | tuple) else value


def _unsigned(value: object) -> object:
    if isinstance(value, tuple):
        return tuple(map(_unsigned, value))
    return value + 0.0 if isinstance(value, float) else value


Whole = Annotated[int, BeforeValidator(_whole)]
"""A whole number; ``14.0`` counts as 14."""
Listed = BeforeValidator(_tuples)
"""Turns the file's lists into tuples, so that a model stays frozen throughout."""
Number = Annotated[float, quantity("a number")]
"""An item of a list of numbers."""


class Table(BaseModel):
    """A table of the job file; any may say where its values come from and how sure they are."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    source: Annotated[str | None, text("Where the values of this table come from, in one line")] = (
        None
    )
    sources: Annotated[
        dict[str, Annotated[str, text("Where this value comes from")]],
        Field(description="Where single values come from: field to text"),
    ] = {}
    tolerance: Annotated[
        dict[str, Annotated[float, quantity("Relative standard uncertainty", least=0.0, most=1.0)]],
        Field(description="Relative standard uncertainty of single values: field to number"),
    ] = {}

    @field_validator("*")
    @classmethod
    def _nought_has_no_sign(cls, value: object) -> object:
        """What is typed as -0 is 0, or it would be printed so."""
        return _unsigned(value)

    @model_validator(mode="after")
    def _notes_belong_to_fields(self) -> Self:
        errors: list[tuple[tuple[str | int, ...], object, str]] = []
        fields = set(type(self).model_fields) - {"source", "sources", "tolerance"}
        for note in ("sources", "tolerance"):
            errors.extend(
                ((note, name), value, f"this table has no field {name}")
                for name, value in getattr(self, note).items()
                if name not in fields
            )
        errors.extend(
            (("tolerance", name), value, f"{name} is not a number, so it has no tolerance")
            for name, value in self.tolerance.items()
            if name in fields and isinstance(getattr(self, name), str | bool | dict)
        )
        texts: list[tuple[tuple[str | int, ...], str]] = [
            (("sources", name), said) for name, said in self.sources.items()
        ]
        if self.source is not None:
            texts.append((("source",), self.source))
        errors.extend(
            (path, said, f"must begin with one of {', '.join(SOURCE_KINDS)}")
            for path, said in texts
            if not said.lower().startswith(SOURCE_KINDS)
        )
        if errors:
            raise FieldError(errors)
        return self

    def source_of(self, field: str) -> str | None:
        """Where a field's value comes from, or None if the job does not say."""
        return self.sources.get(field, self.source)

    def source_kind(self, field: str) -> str | None:
        """The first word of ``source_of``: measured, maker, typical or invented."""
        said = self.source_of(field)
        if said is None:
            return None
        return next(kind for kind in SOURCE_KINDS if said.lower().startswith(kind))
