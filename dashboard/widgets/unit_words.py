"""Words and numbers of a form that the browser swaps by itself when other units are chosen."""

from __future__ import annotations

from typing import Any

from dash import html

from curves.units import Units, swap_of
from dashboard.widgets.attributes import attributes


def unit_word(unit: str, units: Units) -> Any:
    """The name of a unit.

    Args:
        unit: The job file's.
        units: What is read.
    """
    return html.Span(units.name(unit), className="unit", **attributes(data_unit=unit))


def unit_number(value: float, unit: str, units: Units) -> Any:
    """A number as it is read, to six digits.

    Args:
        value: In ``unit``.
        unit: The job file's.
        units: What is read.
    """
    said = f"{units.shown(value, unit):g}"
    return html.Span(said, **attributes(data_unit=unit, data_value=repr(value)))


def swappable(value: Any, unit: str) -> dict[str, Any] | None:
    """What the browser needs to turn an input into other units and back; None where none are.

    Args:
        value: Of the input, in ``unit``; nothing that was not typed anew loses a digit by it.
        unit: The job file's.
    """
    found = swap_of(unit)
    if found is None:
        return None
    chosen, swap = found
    return {"value": value, "unit": unit, "chosen": chosen, **swap._asdict()}
