"""Readings typed in rows: inputs made from the models of a bench file, kept in the view."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal, NamedTuple, get_args, get_origin

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from curves.errors import Problem
from curves.measured.readings import Bench
from curves.parts.labels import label_of
from curves.units import AS_WRITTEN, Units
from dashboard.base import ids
from dashboard.state.session import View
from dashboard.widgets.attributes import attributes
from dashboard.widgets.buttons import plain_button
from dashboard.widgets.choice import kept
from dashboard.widgets.fields import kind_of
from dashboard.widgets.marks import icon
from dashboard.widgets.patch import keep

MOST_ROWS = 200
Tree = dict[str, Any]


class Table(NamedTuple):
    """A table of a bench file that a page shows.

    Attributes:
        name: Its key in the file.
        columns: Fields that are shown; others where a row has them.
        several: Whether it has rows; else it is one row.
    """

    name: str
    columns: tuple[str, ...]
    several: bool = True

    @property
    def model(self) -> Any:
        """The model of a row."""
        annotation = Bench.model_fields[self.name].annotation
        return annotation if isinstance(annotation, type) else get_args(annotation)[0]

    def unit(self, key: str) -> str:
        """Unit of a field in the file, empty for none."""
        extra = self.model.model_fields[key].json_schema_extra
        return str(extra.get("unit", "")) if isinstance(extra, dict) else ""


def tree_of(view: View, page: str) -> Tree:
    """What a page's tables hold, as a bench file has it; numbers that are none stay as typed."""
    tree = kept(view, page).get("tree", {})
    return dict(tree) if isinstance(tree, dict) else {}


def filled(tree: Tree) -> Tree:
    """The tables without rows in which no number stands yet."""
    return {
        name: [row for row in value if not _is_blank(row)] if isinstance(value, list) else value
        for name, value in tree.items()
    }


def _is_blank(row: Any) -> bool:
    """Whether a row is one whose numbers are still to be typed."""
    return isinstance(row, dict) and all(isinstance(x, str) for x in row.values())


def asked_text(tree: Tree) -> str:
    """The tables as a text to remember an answer by; dates and halves of letters as they can be."""
    text = json.dumps(tree, sort_keys=True, default=str, ensure_ascii=False)
    return text.encode("utf-8", errors="replace").decode("utf-8")


def rows_of(tree: Tree, table: Table) -> list[Tree]:
    """Rows of a table, one where it is a single row."""
    value = tree.get(table.name)
    rows = value if isinstance(value, list) else [value if isinstance(value, dict) else {}]
    return [row for row in rows if isinstance(row, dict)]


def editor(page: str, table: Table, tree: Tree, units: Units = AS_WRITTEN) -> Any:
    """The table's inputs, and a button for another row.

    Args:
        page: Name of the page.
        table: What is shown.
        tree: What stands in it.
        units: What numbers are typed in.
    """
    rows = rows_of(tree, table) if table.several else rows_of(tree, table)[:1]
    more = [key for key in table.model.model_fields if any(key in row for row in rows)]
    keys = [*table.columns, *(key for key in more if key not in table.columns)]
    if not table.several:
        keys = list(table.columns)
    head = [html.Th(_head(table, key, units), scope="col") for key in keys]
    made = html.Div(
        html.Table(
            [
                html.Thead(html.Tr([*head, html.Td() if table.several else None])),
                html.Tbody([_row(page, table, keys, k, row, units) for k, row in enumerate(rows)]),
            ],
            className="typed",
        ),
        className="scroll",
    )
    if not table.several:
        return made
    return html.Div([made, plain_button("Add a reading", id=_button(page, table.name, 0, "add"))])


def register(
    app: Dash, page: str, tables: Sequence[Table], draw: Callable[[str, Tree, Units], Any]
) -> None:
    """Keep what is typed; add and remove rows.

    Args:
        app: The app.
        page: Name of the page.
        tables: What it shows.
        draw: The inputs of a table of a name, for the place ``place(page, name)``.
    """
    known = {table.name: table for table in tables}

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input(_name(page, ALL, ALL, ALL, ALL), "value"),
        State(_name(page, ALL, ALL, ALL, ALL), "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def typed(values: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        before = tree_of(view, page)
        tree = before
        for name, value in zip(names, values, strict=True):
            table, key = _at(known, name), name["key"]
            # What stands in other units is about to be drawn again.
            if name["unit"] == view.units.name(table.unit(key)):
                tree = put(tree, table, name["row"], key, value, view.units)
        if tree == before:
            raise PreventUpdate
        return keep(view, with_tree(view, page, tree))

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Output(place(page, ALL), "children"),
        Input(_button(page, ALL, ALL, ALL), "n_clicks"),
        State(place(page, ALL), "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def row(_clicks: Any, places: Any, data: Any) -> tuple[Any, Any]:
        asked = ctx.triggered_id
        if not asked or not any(change["value"] for change in ctx.triggered):
            raise PreventUpdate
        view = View.parse(data)
        tree, table = tree_of(view, page), _at(known, asked)
        tree = _added(tree, table) if asked["do"] == "add" else _removed(tree, table, asked["row"])
        drawn = [
            draw(p["table"], tree, view.units) if p["table"] == asked["table"] else no_update
            for p in places
        ]
        return keep(view, with_tree(view, page, tree)), drawn

    @app.callback(
        Output(place(page, ALL), "children", allow_duplicate=True),
        Input(ids.SETTLED, "data"),
        State(place(page, ALL), "id"),
        State(_name(page, ALL, ALL, ALL, ALL), "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def in_other_units(_rested: Any, places: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        drawn = {name["unit"] for name in names}
        now = {view.units.name(_at(known, name).unit(name["key"])) for name in names}
        if drawn == now:
            raise PreventUpdate
        return [draw(_at(known, p).name, tree_of(view, page), view.units) for p in places]


def _at(known: Mapping[str, Table], name: Mapping[str, Any]) -> Table:
    """The table that the name of a component speaks of."""
    table = known.get(name["table"])
    if table is None or name.get("key", table.columns[0]) not in table.columns:
        raise PreventUpdate
    return table


def place(page: str, table: Any) -> dict[str, Any]:
    """Where a table's inputs stand."""
    return {"type": "readings", "page": page, "table": table}


def with_tree(view: View, page: str, tree: Tree) -> View:
    """The view with a page's tables in it."""
    return replace(view, extra={**view.extra, page: {**kept(view, page), "tree": tree}})


def put(
    tree: Tree, table: Table, row: int, key: str, value: Any, units: Units = AS_WRITTEN
) -> Tree:
    """One cell changed; an emptied one is taken out.

    Args:
        tree: The tables.
        table: Which one.
        row: Which row, from 0.
        key: The field.
        value: As the input gives it.
        units: What it was typed in.
    """
    rows = [dict(x) for x in rows_of(tree, table)] if table.name in tree else [{}]
    if row >= len(rows):
        return tree
    now, before, unit = _typed(table, key, value), rows[row].get(key), table.unit(key)
    if now == _shown(before, unit, units):
        return tree
    if isinstance(now, int | float) and unit:
        now = units.typed(now, unit)
    rows[row] = {k: v for k, v in {**rows[row], key: now}.items() if v is not None}
    return {**tree, table.name: rows if table.several else rows[0]}


def _typed(table: Table, key: str, value: Any) -> Any:
    """What was typed: a number where it is one, else as it stands; None for nothing."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    whole = kind_of(table.model.model_fields[key].annotation) is int
    if isinstance(value, float) and whole and value.is_integer():
        return int(value)
    if isinstance(value, str) and not _choices(table, key):
        try:
            return float(value.replace(",", "."))
        except ValueError:
            return value
    return value


def _added(tree: Tree, table: Table) -> Tree:
    """One more row, its choices and angles going on as in the last."""
    rows = rows_of(tree, table) if table.name in tree else [{}]
    last = rows[-1] if rows else {}
    new = {key: value for key, value in last.items() if _choices(table, key)}
    return {**tree, table.name: [*rows, new][:MOST_ROWS]}


def _removed(tree: Tree, table: Table, row: int) -> Tree:
    rows = rows_of(tree, table)
    return {**tree, table.name: rows[:row] + rows[row + 1 :] or [{}]}


def _shown(value: Any, unit: str, units: Units) -> Any:
    """A value as it is read: a number in the chosen unit, without digits nobody typed."""
    if not isinstance(value, int | float) or units.name(unit) == unit:
        return value
    return float(f"{units.shown(value, unit):.6g}")


def _row(
    page: str, table: Table, keys: Sequence[str], k: int, row: Mapping[str, Any], units: Units
) -> Any:
    cells = [html.Td(_input(page, table, key, k, row.get(key), units)) for key in keys]
    remove = dmc.ActionIcon(
        icon("remove"),
        id=_button(page, table.name, k, "remove"),
        variant="subtle",
        size="sm",
        **attributes(aria_label=f"Remove reading {k + 1} of {table.name.replace('_', ' ')}"),
    )
    return html.Tr([*cells, html.Td(remove)] if table.several else cells)


def _input(page: str, table: Table, key: str, k: int, value: Any, units: Units) -> Any:
    name = f"{label_of(key)}, {table.name.replace('_', ' ')} {k + 1 if table.several else ''}"
    unit = table.unit(key)
    common = {
        "id": _name(page, table.name, k, key, units.name(unit)),
        "size": "xs",
        "aria-label": name.strip(),
    }
    choices = _choices(table, key)
    if choices:
        return dmc.Select(data=choices, value=value, **common)
    return dmc.NumberInput(
        value="" if value is None else _shown(value, unit, units),
        hideControls=True,
        clampBehavior="none",
        allowedDecimalSeparators=[".", ","],
        **common,
    )


def _head(table: Table, key: str, units: Units) -> Any:
    unit = table.unit(key)
    meaning = (table.model.model_fields[key].description or "").removesuffix(f", {unit}")
    word = html.Span(units.name(unit), className="unit") if unit else None
    return html.Span([label_of(key), word], title=meaning)


def _choices(table: Table, key: str) -> list[str]:
    kind = kind_of(table.model.model_fields[key].annotation)
    return list(get_args(kind)) if get_origin(kind) is Literal else []


def _name(page: str, table: Any, row: Any, key: Any, unit: Any) -> dict[str, Any]:
    return {"type": "reading", "page": page, "table": table, "row": row, "key": key, "unit": unit}


def _button(page: str, table: Any, row: Any, do: Any) -> dict[str, Any]:
    return {"type": "reading-do", "page": page, "table": table, "row": row, "do": do}


def problem_said(problem: Problem) -> str:
    """What is wrong with a reading, where."""
    place = problem.where.partition(": ")[2].replace("_", " ")
    value = f" = {problem.value}" if problem.value else ""
    return f"{place}{value}: {problem.message}."
