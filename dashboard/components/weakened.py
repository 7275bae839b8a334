"""A button that adds a setup with as much field weakening as pays."""

from __future__ import annotations

from math import floor
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.studies.weakening import WeakeningSweep
from dashboard import ids
from dashboard.results import Reading
from dashboard.state import Session, read_session

SETTING = "tune.field_weakening_a"


def pays_to(sweep: WeakeningSweep) -> int:
    """Whole amperes, in the tune's basis, that raise top speed, pay, and pass no rating."""
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
