"""What field weakening stands for in cells, and a button that adds a setup with as much as pays."""

from __future__ import annotations

from math import floor
from typing import Any

import numpy as np
from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.studies.weakening import Trade, WeakeningSweep
from curves.units import KMH
from dashboard import ids
from dashboard.results import Reading
from dashboard.state import Session, View, read_session
from dashboard.text import number, speed, with_unit

SETTING = "tune.field_weakening_a"


def traded(t: Trade | None, cells: int, view: View, reading: Reading) -> list[str]:
    """What weakening stands for in cells, and its price.

    Args:
        t: The trade, if there is one.
        cells: In series, of the pack that is matched.
        view: How setups are looked at.
        reading: The setup that is weakened.
    """
    own = reading.rig.pack.series
    if t is None or not np.isfinite(t.amps[0] + t.speed[0]):
        return []
    amps, top = float(t.amps[0]), float(t.speed[0]) / KMH
    unit = "A rms" if reading.rig.tune.current_basis == "rms" else "A"
    heat, units = float(t.winding_k[0]), view.units
    hotter = f"{number(units.change(heat, '°C'))} {units.name('°C')} in the winding"
    warm = f", {hotter}" if np.isfinite(heat) else ""
    more = with_unit(float(t.wh_per_km[0]), "Wh/km", units, 1)
    verb = "match" if top >= float(t.target[0]) / KMH - 0.05 else "come nearest to"
    return [
        f"{own} cells with {number(amps)} {unit} of weakening {verb} {cells} cells, up to "
        f"{speed(top, view.speed)} {view.speed}; that costs {number(float(t.loss[0]))} W{warm} "
        f"and {more} more there."
    ]


def pays_to(sweep: WeakeningSweep) -> int:
    """Whole amperes, in the tune's basis, that raise top speed, pay, and pass no rating."""
    if np.isnan(sweep.top.speed).all():
        return 0
    said = sweep.answers
    if sweep.spread is not None:
        lowest = [low for low, _ in sweep.spread.values()]
    else:
        lowest = [float(x[0]) for x in (said.fastest, said.diminishing, said.within)]
    last = float(sweep.amps[-1])
    return floor(min([last, *(x for x in lowest if x == x)]))


def offer(reading: Reading, sweep: WeakeningSweep) -> Any:
    """The button; None where weakening does not pay or that much is set."""
    amps = pays_to(sweep)
    if amps <= 0 or amps == reading.rig.tune.field_weakening_a:
        return None
    unit = "A rms" if sweep.basis == "rms" else "A"
    return html.Button(
        f"Add a setup with {amps} {unit} of weakening",
        id={"type": "weaken", "slot": reading.slot, "amps": amps},
        type="button",
        className="tool worded",
    )


def weakened(session: Session, slot: int, amps: int) -> Session:
    """The session with a copy of a setup at its end, with that much weakening.

    Raises:
        JobError: if the job does not allow it.
    """
    name = session.job.setup[session.index(slot)].name
    added = session.variant(slot, {SETTING: amps})
    if added is session:
        return session
    wanted = f"{name}, {amps} A weakened"
    taken = {setup.name for setup in added.job.setup}
    return added if wanted in taken else added.edit_setup(added.slots[-1], "name", wanted)


def register(app: Dash) -> None:
    """Wire the button."""

    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Output(ids.MESSAGE, "children", allow_duplicate=True),
        Input({"type": "weaken", "slot": ALL, "amps": ALL}, "n_clicks"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def add(clicks: Any, data: Any) -> tuple[Any, Any]:
        session, asked = read_session(data), ctx.triggered_id
        if not any(clicks) or not asked or asked["slot"] not in session.slots:
            raise PreventUpdate
        try:
            added = weakened(session, asked["slot"], asked["amps"])
        except JobError as error:
            return no_update, f"That setup was not added.\n{error}"
        return added.data(), f"“{added.job.setup[-1].name}” stands at the end of the table."
