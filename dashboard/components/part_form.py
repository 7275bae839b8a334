"""A form for any part of a job: every field with its unit, its meaning and its allowed range."""

from __future__ import annotations

import types
import typing
from typing import Any, Literal, get_args, get_origin

import dash_mantine_components as dmc
from dash import html

from curves import Bike, Conditions, Controller, Goals, Motor, Pack, Setup, Tune
from curves.parts.pack import cell_curve, cell_names
from dashboard import ids
from dashboard.components.marks import icon, swatch
from dashboard.state import Session

MODELS: dict[str, Any] = {
    "motor": Motor,
    "controller": Controller,
    "pack": Pack,
    "tune": Tune,
    "bike": Bike,
    "conditions": Conditions,
    "goals": Goals,
    "setup": Setup,
}
FIRST: dict[str, tuple[str, ...]] = {
    "pack": ("cell", "series", "parallel", "cell_capacity_ah", "open_circuit_v", "mass_kg",
             "peak_current_a", "price"),
    "tune": ("phase_current_a", "current_basis", "pack_current_a", "power_cap_w",
             "field_weakening_a", "speed_cap_kmh"),
    "motor": ("kv_rpm_per_v", "resistance_ohm", "pole_pairs", "gear_ratio"),
    "controller": ("max_input_v", "max_phase_current_a", "max_pack_current_a"),
    "bike": ("bike_mass_kg", "rider_kg", "load_kg", "circumference_m", "tyre", "rider_power_w"),
}  # fmt: skip
"""What a customer knows; the rest is folded away."""
NOTES = ("source", "sources", "tolerance", "profile")


def part_form(session: Session, part: str, name: str) -> list[Any]:
    """The form of one part.

    Args:
        session: The job.
        part: ``motor``, ``controller``, ``pack``, ``tune``, ``bike``.
        name: Of the part in the job.
    """
    table = getattr(session.job, part)[name]
    fields = [key for key in type(table).model_fields if key not in NOTES]
    given = [key for key in fields if not _other_form(table, key)]
    first = [key for key in FIRST.get(part, ()) if key in given]
    rest = [key for key in given if key not in first]
    return [
        html.Div(
            [
                html.H2([f"{part.capitalize()} ", html.Em(name)]),
                dmc.ActionIcon(
                    icon("remove"),
                    id=ids.FORM_CLOSE,
                    variant="subtle",
                    **{"aria-label": "Close the form"},
                ),
            ],
            className="form-head",
        ),
        _used_by(session, part, name),
        html.Div([_field(table, part, name, key) for key in first], className="fields"),
        dmc.Accordion(
            dmc.AccordionItem(
                [
                    dmc.AccordionControl("More, for who has measured it"),
                    dmc.AccordionPanel(
                        html.Div(
                            [_field(table, part, name, key) for key in rest], className="fields"
                        )
                    ),
                ],
                value="rest",
            ),
            chevronPosition="left",
            order=3,
        )
        if rest
        else None,
        html.P(table.source, className="soft source") if table.source else None,
    ]


def _used_by(session: Session, part: str, name: str) -> Any:
    users = [
        (slot, setup.name)
        for slot, setup in zip(session.slots, session.job.setup, strict=True)
        if getattr(setup, part) == name
    ]
    if not users:
        return html.P("No setup has it.", className="soft")
    marks = [html.Span([swatch(slot), setup], className="user") for slot, setup in users]
    return html.P(["A change here changes ", *marks], className="users")


def _other_form(table: Any, key: str) -> bool:
    """Fields of the form of a part that this one is not in."""
    if isinstance(table, Pack):
        source = ("open_circuit_v", "resistance_ohm", "full_charge_v")
        cells = (
            "cell",
            "series",
            "parallel",
            "cell_capacity_ah",
            "cell_resistance_mohm",
            "wiring_resistance_mohm",
            "resistance_factor",
        )
        return key in (source if table.from_cells else cells)
    return False


def label_of(key: str) -> str:
    """A field's name as people read it, its unit left off."""
    stem = key
    for unit in _UNITS:
        if stem.endswith(unit):
            stem = stem.removesuffix(unit)
            break
    words = stem.replace("_", " ").strip()
    return _NAMES.get(key, words[:1].upper() + words[1:])


_UNITS = ("_rpm_per_v", "_nm_per_rad_s", "_w_per_k_per_m_s", "_w_per_k", "_j_per_k", "_per_k",
          "_kg_m2", "_mohm", "_ohm", "_uh", "_nm", "_kmh", "_percent", "_kg", "_km", "_m2", "_ah",
          "_m", "_a", "_v", "_w", "_c", "_n", "_s")  # fmt: skip
_NAMES = {
    "kv_rpm_per_v": "Kv",
    "bms_cutoff_v": "BMS cut-off",
    "cell": "Cell curve",
    "series": "Cells in series",
    "parallel": "Parallel strings",
    "mtpa": "Most torque per ampere",
    "cg_height_m": "Height of the centre of gravity",
    "cg_to_rear_axle_m": "Centre of gravity ahead of the rear axle",
    "low_voltage_cutoff_v": "Low-voltage cut-off",
    "max_rpm": "Highest rotor speed",
    "max_electrical_rpm": "Highest electrical speed",
    "inductance_d_uh": "Inductance, least (d)",
    "inductance_q_uh": "Inductance, most (q)",
    "no_load_torque_nm_per_rad_s": "No-load torque, growth with speed",
    "case_to_air_w_per_k_per_m_s": "Case to air, growth with speed",
}


def _field(table: Any, part: str, name: str, key: str) -> Any:
    info = type(table).model_fields[key]
    extra = info.json_schema_extra or {}
    unit = extra.get("unit", "") if isinstance(extra, dict) else ""
    meaning = (info.description or "").removesuffix(f", {unit}") if unit else info.description
    value = getattr(table, key)
    common = {
        "id": ids.field(part, name, key),
        "label": html.Span([label_of(key), html.Span(unit, className="unit")]),
        "description": None if meaning == label_of(key) else meaning,
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
            placeholder="none" if not info.is_required() else "",
            **common,
        )
    return dmc.TextInput(value=written(value), **common)


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
