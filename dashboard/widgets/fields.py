"""A field of a part as an input: its label, unit and meaning, and what was typed read back."""

from __future__ import annotations

import math
import types
import typing
from collections.abc import Sequence
from typing import Any, Literal, get_args, get_origin

import annotated_types
import dash_mantine_components as dmc
from dash import html
from pydantic import BaseModel

from curves.parts.base import LARGEST, SMALLEST
from curves.parts.labels import label_of
from curves.parts.notes import NOT_GIVEN, USUAL
from curves.parts.pack import cell_curve, cell_names
from curves.parts.plausible import doubt
from curves.studies.tolerances import tolerance_of
from curves.units import AS_WRITTEN, PERCENT, Units
from dashboard.base import ids
from dashboard.widgets import left_out
from dashboard.widgets.attributes import attributes
from dashboard.widgets.terms import label
from dashboard.widgets.unit_words import unit_number, unit_word


def field_input(
    table: Any,
    part: str,
    name: str,
    key: str,
    value: Any,
    units: Units = AS_WRITTEN,
    choices: Sequence[str] | None = None,
) -> Any:
    """The input of one field.

    Args:
        table: The part, or its model.
        part: Its kind.
        name: Its name in the job.
        key: The field; dotted for a table within, as in ``hill.speed_kmh``.
        value: What stands in it.
        units: What is read and typed.
        choices: What may be chosen, for the name of another part.
    """
    model = _model(table)
    info, unit = model.model_fields[key.rpartition(".")[2]], unit_of(model, key)
    doubted = doubt(model, key.rpartition(".")[2], value, units)
    value = shown(value, unit, units)
    meaning = (info.description or "").removesuffix(f", {unit}" if unit else "")
    bounds = _bounds(info, unit, units)
    told = "" if meaning == label_of(key) else meaning
    common = {
        "id": ids.field(part, name, key),
        "label": titled(table, part, key, units),
        "description": html.Span(_joined(told, bounds)) if told or bounds else None,
        "size": "xs",
        "error": doubted or None,
    }
    if kind_of(info.annotation) is not bool:
        common["placeholder"] = left_out.means(part, key, table)
    kind = kind_of(info.annotation)
    if choices is not None:
        empty = not info.is_required()
        return dmc.Select(
            value=value, data=list(choices), clearable=empty, allowDeselect=empty, **common
        )
    if key == "cell":
        curves = [{"value": n, "label": cell_curve(n).title} for n in cell_names()]
        return dmc.Select(value=value, data=curves, allowDeselect=False, **common)
    if get_origin(kind) is Literal:
        return dmc.Select(value=value, data=list(get_args(kind)), allowDeselect=False, **common)
    if kind is bool:
        return dmc.Switch(checked=bool(value), **common)
    if kind in (float, int):
        return dmc.NumberInput(
            value="" if value is None else value,
            step=step_of(value, whole=kind is int),
            allowDecimal=kind is float,
            clampBehavior="none",
            debounce=True,
            **common,
        )
    return dmc.TextInput(value=written(value), debounce=True, **common)


def _model(table: Any) -> type[BaseModel]:
    model: type[BaseModel] = table if isinstance(table, type) else type(table)
    return model


def titled(table: Any, part: str, key: str, units: Units) -> Any:
    """A field's label; on hover where its value comes from and how sure it is.

    Args:
        table: The part, or its model.
        part: Its kind.
        key: The field.
        units: What is read and typed.
    """
    word = unit_word(unit_of(_model(table), key), units)
    said = None if isinstance(table, type) else where_from(table, part, key)
    return html.Span([label(label_of(key), f"{part}.{key}"), " ", word], title=said)


def where_from(table: Any, part: str, key: str) -> str | None:
    """Where a field's value comes from, and how sure it is; None where it has none of its own."""
    if getattr(table, key, None) is None or key not in table.model_fields_set:
        return None
    said, share = table.source_of(key), tolerance_of(table, part, key)
    if not share:
        return said or NOT_GIVEN
    usual = said is None and share == USUAL.get(f"{part}.{key}")
    sure = f"± {share / PERCENT:.3g} %{', usual for its kind' if usual else ''}"
    return f"{said or NOT_GIVEN}; {sure}"


def _joined(told: str, bounds: list[Any]) -> list[Any]:
    return [told, "; ", *bounds] if told and bounds else [told, *bounds]


def sureness_input(table: Any, part: str, name: str, key: str) -> Any:
    """The input of how sure a field's value is: one standard uncertainty, in percent of it."""
    share = table.tolerance.get(key)
    return dmc.NumberInput(
        id=ids.field(part, name, f"tolerance.{key}"),
        label=html.Span([label_of(key), html.Span("± %", className="unit")]),
        value="" if share is None else round(share / PERCENT, 6),
        step=1,
        clampBehavior="none",
        placeholder=_usual(table, part, key),
        size="xs",
        **attributes(aria_label=f"Uncertainty of {label_of(key)}, percent"),
    )


def _usual(table: Any, part: str, key: str) -> str:
    """What holds where no uncertainty is said."""
    share = tolerance_of(table, part, key)
    return f"usual: {share / PERCENT:.3g}" if share else "none: taken as exact"


def measurable(table: Any, key: str) -> bool:
    """Whether a field holds a number now that is no count."""
    return isinstance(getattr(table, key), float)


def unit_of(model: Any, key: str) -> str:
    """The unit of a field in the job, empty for none."""
    extra = model.model_fields[key.rpartition(".")[2]].json_schema_extra
    return str(extra.get("unit", "")) if isinstance(extra, dict) else ""


def shown(value: Any, unit: str, units: Units) -> Any:
    """What stands in a field, as it is read: converted numbers to six digits, others to nine."""
    read = units.written(value, unit)
    return float(f"{read:.9g}") if isinstance(read, float) else read


def _bounds(info: Any, unit: str, units: Units) -> list[Any]:
    """The range allowed, as far as it tells something."""
    low, high = limits(info)
    least, most = (unit_number(end, unit, units) for end in (low, high))
    if low == SMALLEST:
        return ["above 0"] if high >= LARGEST else ["above 0, to ", most]
    if low <= -LARGEST:
        return [] if high >= LARGEST else [most, " or less"]
    return [least, " or more"] if high >= LARGEST else [least, " to ", most]


def limits(info: Any) -> tuple[float, float]:
    """The least and the most that a field's number may be, infinite where it has no bound."""
    low: list[Any] = [m.ge for m in info.metadata if isinstance(m, annotated_types.Ge)]
    high: list[Any] = [m.le for m in info.metadata if isinstance(m, annotated_types.Le)]
    return float(max(low, default=-math.inf)), float(min(high, default=math.inf))


def kind_of(annotation: Any) -> Any:
    """The type of a field without its None."""
    if get_origin(annotation) in (typing.Union, types.UnionType):
        kept = [a for a in get_args(annotation) if a is not type(None)]
        return kind_of(kept[0])
    if get_origin(annotation) is typing.Annotated:
        return kind_of(get_args(annotation)[0])
    return annotation


def step_of(value: Any, *, whole: bool) -> float:
    """A step of the arrow keys that changes a number by a few percent."""
    if whole:
        return 1
    size = abs(value or 0.0)
    if size == 0:
        return 1
    step = 1.0
    while step > size / 5:
        step /= 10
    while step < size / 50:
        step *= 10
    return round(step, 9)


def written(value: Any) -> str:
    """A list as a person types it: ``1, 2, 3``, pairs as ``10 1; 20 0.9``."""
    if value is None:
        return ""
    if isinstance(value, list | tuple):
        if value and isinstance(value[0], list | tuple):
            return "; ".join(" ".join(f"{x:g}" for x in pair) for pair in value)
        return ", ".join(f"{x:g}" for x in value)
    return str(value)


def typed(model: Any, key: str, value: Any, now: Any = None, units: Units = AS_WRITTEN) -> Any:
    """What was typed as the job wants it; None takes out a field that may be left empty.

    Args:
        model: The part's model.
        key: The field.
        value: What was typed.
        now: What the job has; it stays to its last digit where it stands as it was shown.
        units: What is read and typed.

    Raises:
        ValueError: with what would be right.
    """
    kind = kind_of(model.model_fields[key].annotation)
    numbers = kind in (float, int)
    if _empty(value):
        if left_out.may_be(model, key):
            return None
        raise ValueError("must be a number" if numbers else "must not be empty")
    if kind is bool or get_origin(kind) is Literal or kind is str:
        return value
    unit = unit_of(model, key)
    if not numbers and value == written(shown(now, unit, units)):
        return now
    found = as_number(value) if numbers else _as_list(value, pairs=key == "torque_derating")
    return now if found == shown(now, unit, units) else _back(found, unit, units)


def _back(value: Any, unit: str, units: Units) -> Any:
    """What was typed, in the unit of the job."""
    if isinstance(value, list):
        return [_back(item, unit, units) for item in value]
    return value if units.name(unit) == unit else float(f"{units.typed(value, unit):.9g}")


def _empty(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def as_number(value: Any) -> float | int | None:
    """A number as typed; None where nothing stands.

    Raises:
        ValueError: if it is no number.
    """
    if _empty(value):
        return None
    if isinstance(value, str):
        try:
            value = float(value.replace(",", "."))
        except ValueError:
            raise ValueError("must be a number") from None
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _as_list(value: str, *, pairs: bool) -> list[Any]:
    try:
        if pairs:
            return [[float(x) for x in pair.split()] for pair in value.split(";") if pair.strip()]
        return [float(x) for x in value.replace(";", ",").split(",") if x.strip()]
    except ValueError:
        shape = "pairs such as 40 1; 80 0.9" if pairs else "numbers such as 1, 2, 3"
        raise ValueError(f"must be {shape}") from None
