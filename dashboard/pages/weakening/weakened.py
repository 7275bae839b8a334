"""What field weakening stands for in cells, and buttons that add a setup with as much as pays."""

from __future__ import annotations

from math import floor
from typing import Any

import numpy as np
from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError, Rig
from curves.parts.labels import charged
from curves.studies.settings import SETTING
from curves.studies.weakening import Trade, WeakeningSweep, at_other_charge, top_speeds
from curves.units import KMH
from dashboard.answers.setups import Reading
from dashboard.base import ids
from dashboard.base.words import number, speed, with_unit
from dashboard.state.session import Session, View, read_session


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
    heat, units = float(t.winding_k[0]), view.units
    hotter = f"{number(units.change(heat, '°C'))} {units.name('°C')} in the winding"
    warm = f", {hotter}" if np.isfinite(heat) else ""
    more = with_unit(float(t.wh_per_km[0]), "Wh/km", units, 1)
    verb = "match" if top >= float(t.target[0]) / KMH - 0.05 else "come nearest to"
    return [
        f"{own} cells with {_amperes(reading.rig, number(amps))} of weakening {verb} {cells} "
        f"cells, up to {speed(top, view.speed)} {view.speed}; that costs "
        f"{number(float(t.loss[0]))} W{warm} and {more} more there."
    ]


def pays_to(sweep: WeakeningSweep, kept: WeakeningSweep | None = None) -> int:
    """Whole amperes, in the tune's basis, that raise top speed, pay, and pass no rating.

    Args:
        sweep: Where they pay.
        kept: The same at another charge, if no rating is to be passed there either.
    """
    within = [_lowest(x, "within") for x in (sweep, kept) if x is not None]
    # No setting is within every rating, or the bike cannot start.
    if np.isnan(within).any() or np.isnan(sweep.top.speed).all():
        return 0
    pays = [_lowest(sweep, name) for name in ("fastest", "diminishing")]
    return floor(min([float(sweep.amps[-1]), *within, *(x for x in pays if x == x)]))


def _lowest(sweep: WeakeningSweep, name: str) -> float:
    """One of the answers, the lowest where the inductance is only typical."""
    if sweep.spread is not None:
        return sweep.spread[name][0]
    return float(getattr(sweep.answers, name)[0])


def offer(
    reading: Reading, sweep: WeakeningSweep, other: WeakeningSweep | None, view: View
) -> list[Any]:
    """Buttons for as much as pays, and for as much as pays at the other charge where that is more.

    None for what does not pay or is set.

    Args:
        reading: The setup.
        sweep: What was found of it.
        other: The same at another charge.
        view: How setups are looked at.
    """
    own, amps = reading.rig.tune.field_weakening_a, pays_to(sweep)
    made = [_button(reading, amps)] if amps > 0 and amps != own else []
    more = 0 if other is None else pays_to(other, sweep)
    gained = "" if other is None or more == own else _gained(reading, other, more, view)
    return [*made, _button(reading, more, gained)] if more > amps and gained else made


def _gained(reading: Reading, other: WeakeningSweep, amps: int, view: View) -> str:
    """What a setting gains at the other charge over what is set; empty for nothing."""
    there, own = at_other_charge(reading.rig), reading.rig.tune.field_weakening_a
    if other.spread is not None or there is None:
        return f", for a {charged(other.charge)} pack"
    slow, fast = top_speeds(there, [own, amps]) / KMH
    told = speed(slow, view.speed), speed(fast, view.speed)
    # Neither a gain too small to be shown nor one from a stand that cannot be told.
    if not fast > slow or told[0] == told[1]:
        return ""
    return f": {charged(other.charge)} from {told[0]} to {told[1]} {view.speed}"


def _button(reading: Reading, amps: int, gained: str = "") -> Any:
    return html.Button(
        f"Add a setup with {_amperes(reading.rig, amps)} of weakening{gained}",
        id={"type": "weaken", "slot": reading.slot, "amps": amps},
        type="button",
        className="tool worded",
    )


def _amperes(rig: Rig, amps: int | str) -> str:
    return f"{amps} {'A rms' if rig.tune.current_basis == 'rms' else 'A'}"


def weakened(session: Session, slot: int, amps: int) -> Session:
    """The session with a copy of a setup at its end, with that much weakening, named after it.

    Raises:
        JobError: if the job does not allow it.
    """
    rig = session.job.rigs()[session.index(slot)]
    return session.variant(slot, {SETTING: amps}, f"{_amperes(rig, amps)} weakening")


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
