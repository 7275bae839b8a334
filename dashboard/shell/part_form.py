"""A form for any part of a job, and what to do with the part."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from curves import (
    Bike,
    Conditions,
    Controller,
    Goals,
    Job,
    Motor,
    Pack,
    Setup,
    Tune,
    profile_names,
)
from curves.parts.goals import Hill
from curves.units import AS_WRITTEN, Units
from dashboard.base import ids
from dashboard.state.session import PARTS, Session
from dashboard.widgets.attributes import attributes
from dashboard.widgets.field_ways import hill_fields, take_back
from dashboard.widgets.fields import field_input, measurable, sureness_input, unit_of
from dashboard.widgets.marks import act, icon, swatch
from dashboard.widgets.unit_words import swappable

MODELS: dict[str, Any] = {
    "motor": Motor,
    "controller": Controller,
    "pack": Pack,
    "tune": Tune,
    "bike": Bike,
    "conditions": Conditions,
    "goals": Goals,
    "setup": Setup,
    "job": Job,
}
FIRST: dict[str, tuple[str, ...]] = {
    "pack": ("cell", "series", "parallel", "cell_capacity_ah", "open_circuit_v", "mass_kg",
             "peak_current_a", "price"),
    "tune": ("phase_current_a", "current_basis", "pack_current_a", "power_cap_w",
             "field_weakening_a", "speed_cap_kmh"),
    "motor": ("kv_rpm_per_v", "resistance_ohm", "pole_pairs", "gear_ratio"),
    "controller": ("max_input_v", "max_phase_current_a", "max_pack_current_a"),
    "bike": ("bike_mass_kg", "rider_kg", "load_kg", "circumference_m", "tyre", "rider_power_w"),
    "conditions": tuple(Conditions.model_fields),
    "goals": ("top_speed_kmh", "range_km", "hill"),
    "setup": tuple(Setup.model_fields),
    "job": ("title", "compare_to"),
}  # fmt: skip
"""What a customer knows; the rest is folded away."""
NOTES = ("source", "sources", "tolerance", "profile")
OF_CELLS = ("cell", "series", "parallel", "cell_capacity_ah", "cell_resistance_mohm",
            "wiring_resistance_mohm", "resistance_factor")  # fmt: skip
OF_SOURCE = ("open_circuit_v", "resistance_ohm", "full_charge_v")


def part_form(
    session: Session, part: str, name: str, units: Units = AS_WRITTEN, *, sure: bool = False
) -> list[Any]:
    """The form of one part.

    Args:
        session: The job.
        part: Any of ``MODELS``.
        name: Of the part in the job; a setup's slot; empty for job, conditions and goals.
        units: What is read and typed.
        sure: Where its values come from and how sure they are, in place of the values.
    """
    table = session.table(part, name)
    named = part in PARTS
    shown = _sureness(table, part, name) if sure else _values(session, table, part, name, units)
    return [
        html.Div(
            [
                html.H2(["Edit ", html.Span(part)]),
                dmc.ActionIcon(
                    icon("remove"),
                    id=ids.FORM_CLOSE,
                    variant="subtle",
                    **attributes(aria_label="Close the form"),
                ),
            ],
            className="form-head",
        ),
        dmc.Select(
            value=f"{part}/{name}",
            data=_choices(session),
            id=ids.FORM_PICK,
            allowDeselect=False,
            searchable=True,
            maxDropdownHeight=420,
            **attributes(aria_label="Part to edit"),
        ),
        _name(part, name) if named else None,
        _used_by(session, part, name) if named else None,
        _carried(session, name) if part == "pack" and table.from_cells and not sure else None,
        *shown,
        _tools(session, part, name, sure=sure) if named else None,
        _controller(name) if part == "setup" and table.controller is None else None,
    ]


def swaps(session: Session, part: str, name: str, units: Units) -> dict[str, Any]:
    """What the browser needs to show the form's inputs in other units, see ``unit_words``.

    Args:
        session: The job.
        part: As for ``part_form``.
        name: As for ``part_form``.
        units: What the form was made in.
    """
    table = session.table(part, name)
    model = type(table)
    fields = {key: (model, getattr(table, key)) for key in model.model_fields}
    if part == "goals":
        fields |= {f"hill.{k}": (Hill, getattr(table.hill, k, None)) for k in Hill.model_fields}
    made = {
        key.replace(".", "/"): swappable(value, unit_of(owner, key))
        for key, (owner, value) in fields.items()
    }
    return {
        "units": sorted(units.chosen),
        "fields": {key: swap for key, swap in made.items() if swap},
    }


def _values(session: Session, table: Any, part: str, name: str, units: Units) -> list[Any]:
    given = [k for k in type(table).model_fields if k not in NOTES and not _other_form(table, k)]
    first = [key for key in FIRST[part] if key in given]
    rest = [key for key in given if key not in first and part != "job"]
    folded = dmc.AccordionItem(
        [
            dmc.AccordionControl("More, where it is known"),
            dmc.AccordionPanel(_fields(session, table, part, name, rest, units)),
        ],
        value="rest",
    )
    return [
        _fields(session, table, part, name, first, units),
        dmc.Accordion(folded, chevronPosition="left", order=3) if rest else None,
    ]


def _name(part: str, name: str) -> Any:
    return dmc.TextInput(
        value=name,
        id=ids.part_name(part, name),
        label=f"Name of the {part}",
        debounce=700,
        size="xs",
        className="part-name",
    )


def _choices(session: Session) -> list[dict[str, Any]]:
    """Every part of the job, by kind."""
    groups = [
        {
            "group": part.capitalize(),
            "items": [{"value": f"{part}/{n}", "label": n} for n in getattr(session.job, part)],
        }
        for part in ("pack", "tune", "motor", "controller", "bike")
    ]
    road = [
        {"value": "conditions/", "label": "Road and air"},
        {"value": "goals/", "label": "Goals"},
        {"value": "job/", "label": "Title, and what others compare to"},
    ]
    setups = [
        {"value": f"setup/{slot}", "label": setup.name}
        for slot, setup in zip(session.slots, session.job.setup, strict=True)
    ]
    return [
        {"group": "Setup", "items": setups},
        *(g for g in groups if g["items"]),
        {"group": "Of all setups", "items": road},
    ]


def _fields(
    session: Session, table: Any, part: str, name: str, keys: list[str], units: Units
) -> Any:
    inputs: list[Any] = []
    for key in keys:
        if key == "hill":
            inputs += hill_fields(table.hill, part, name, units)
        else:
            value = getattr(table, key)
            names = _known(session, part, key)
            made = field_input(table, part, name, key, value, units, names)
            back = take_back(table, key, units) if part == "motor" else None
            inputs.append(html.Div([made, back]) if back else made)
    return html.Div(inputs, className="fields")


def _known(session: Session, part: str, key: str) -> list[str] | None:
    """The names that may stand in a field; None where any text may."""
    if part == "setup" and key in PARTS:
        return list(getattr(session.job, key))
    return [setup.name for setup in session.job.setup] if key == "compare_to" else None


def _sureness(table: Any, part: str, name: str) -> list[Any]:
    keys = [k for k in type(table).model_fields if k not in NOTES and measurable(table, k)]
    inputs = [field_input(table, part, name, "source", table.source)]
    inputs += [sureness_input(table, part, name, key) for key in keys]
    return [
        html.P(
            "How far a value may be off, in percent of it, one standard uncertainty: the bands "
            "and what to measure next rest on these.",
            className="users",
        ),
        html.Div(inputs, className="fields"),
    ]


def _tools(session: Session, part: str, name: str, *, sure: bool) -> Any:
    """The other side of the form, what makes new parts, and takes away one that no setup has."""
    used = any(getattr(setup, part) == name for setup in session.job.setup)
    turn = ("values", "Back to the values") if sure else ("sure", "How sure are these numbers?")
    buttons = [turn, ("copy", f"New {part} like this one")]
    if part == "motor":
        told = "New motor from the profile"
        buttons += [(f"profile/{known}", f"{told} {known}") for known in profile_names()]
    if not used:
        buttons.append(("remove", f"Remove this {part}"))
    return html.Div(
        [
            html.Button(told, id=ids.form_act(do), type="button", className="tool worded")
            for do, told in buttons
        ],
        className="apart form-tools",
    )


def _controller(slot: str) -> Any:
    """A setup may have none: an ideal one."""
    told = "Give it a controller"
    return html.Div(act("", int(slot), "own-controller", told, told), className="apart form-tools")


def _used_by(session: Session, part: str, name: str) -> Any:
    every = [
        (slot, setup.name)
        for slot, setup in zip(session.slots, session.job.setup, strict=True)
        if getattr(setup, part) == name
    ]
    if not every:
        return html.P("No setup has it.", className="users")
    users = [user for user in every if user[0] in session.listed]
    marks = [html.Span([swatch(slot), setup], className="user") for slot, setup in users]
    if left := len(every) - len(users):
        marks.append(html.Span(f"{left} more that are not on this page", className="user"))
    if len(every) == 1:
        return html.P(["Belongs to ", *marks], className="users")
    apart = [
        act("", slot, f"own-{part}", f"Its own copy for {setup}", f"Its own copy for {setup}")
        for slot, setup in users
    ]
    return html.Div(
        [
            html.P(["A change here changes ", *marks], className="users"),
            html.Details(
                [html.Summary("Change it for one setup alone"), html.Div(apart, className="apart")],
                className="users",
            ),
        ]
    )


def _carried(session: Session, pack: str) -> Any:
    """What follows the cells of a pack, and whose tunes do not."""
    setups = session.job.setup
    cut = {name for name, tune in session.job.tune.items() if tune.low_voltage_cutoff_v is not None}
    said = ["Mass, price and cut-offs follow the cells in series."]
    for tune in dict.fromkeys(s.tune for s in setups if s.pack == pack and s.tune in cut):
        if any(s.tune == tune and s.pack != pack for s in setups):
            said.append(
                f"Other packs have tune “{tune}” too: with other cells this one gets its own copy."
            )
        else:
            said.append(f"Tune “{tune}” is this pack’s own: its cut-off follows the cells.")
    return html.P(" ".join(said), className="users")


def _other_form(table: Any, key: str) -> bool:
    """Fields of the form of a pack that this one is not in."""
    return isinstance(table, Pack) and key in (OF_SOURCE if table.from_cells else OF_CELLS)
