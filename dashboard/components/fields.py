"""A field of a part as an input: its label, unit and meaning, and what was typed read back."""

from __future__ import annotations

import types
import typing
from typing import Any, Literal, get_args, get_origin

import annotated_types
import dash_mantine_components as dmc
from dash import html

from curves.labels import label_of
from curves.parts.base import LARGEST
from curves.parts.pack import cell_curve, cell_names
from dashboard import ids


def field_input(table: Any, part: str, name: str, key: str, value: Any) -> Any:
    """The input of one field.

    Args:
        table: The part, or its model.
        part: Its kind.
        name: Its name in the job.
        key: The field; dotted for a table within, as in ``hill.speed_kmh``.
        value: What stands in it.
    """
    model = table if isinstance(table, type) else type(table)
    info = model.model_fields[key.rpartition(".")[2]]
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    unit = str(extra.get("unit", ""))
    meaning = (info.description or "").removesuffix(f", {unit}" if unit else "")
    bounds = _bounds(info)
    told = "" if meaning == label_of(key) else meaning
    source = None if isinstance(table, type) else table.source_of(key)
    common = {
        "id": ids.field(part, name, key),
        "label": html.Span([label_of(key), html.Span(unit, className="unit")], title=source),
        "description": "; ".join(filter(None, (told, bounds))) or None,
        "size": "xs",
    }
    kind = _kind(info.annotation)
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
            placeholder="" if info.is_required() else "none",
            **common,
        )
    return dmc.TextInput(value=written(value), **common)


def _bounds(info: Any) -> str:
    """The range allowed, where both ends tell something."""
    low = [m.ge for m in info.metadata if isinstance(m, annotated_types.Ge)]
    high = [m.le for m in info.metadata if isinstance(m, annotated_types.Le)]
    if not low or not high or high[0] >= LARGEST or high[0] == 10_000:
        return ""
    return f"{low[0]:g} to {high[0]:g}" if abs(low[0]) != 1e-9 else f"above 0, to {high[0]:g}"


def _kind(annotation: Any) -> Any:
    """The type of a field without its None."""
    if get_origin(annotation) in (typing.Union, types.UnionType):
        kept = [a for a in get_args(annotation) if a is not type(None)]
        return _kind(kept[0])
    if get_origin(annotation) is typing.Annotated:
        return _kind(get_args(annotation)[0])
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


def typed(model: Any, key: str, value: Any) -> Any:
    """What was typed as the job wants it; None takes the field out.

    Raises:
        ValueError: with what would be right.
    """
    kind = _kind(model.model_fields[key].annotation)
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if kind in (float, int):
        return _as_number(value)
    if kind is bool or get_origin(kind) is Literal or kind is str:
        return value
    return _as_list(value, pairs=key == "torque_derating")


def _as_number(value: Any) -> float | int:
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
