"""Does it stay cool? How much of the goal's hill can be climbed, and where temperatures settle."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from dash import Dash, html

from curves.parts.heating import HEAT_FIELDS
from curves.parts.invented import made_up
from curves.parts.labels import MAY_NOT_START
from curves.units import Units
from dashboard.answers.setups import Comparison, Reading
from dashboard.base.words import listed, speed, unbroken
from dashboard.pages.heat import figure_heat_map as heat_map
from dashboard.pages.heat import figure_hill as hill
from dashboard.pages.heat import heat_readings, repeated_card, typical_heat
from dashboard.pages.heat.heat_columns import columns, short
from dashboard.pages.heat.study import NAME, Climb, chosen, climbs, work, worked_out
from dashboard.state.session import View
from dashboard.widgets import choice
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.page import Page
from dashboard.widgets.progress import fill, place

ON_HILL, MAP = "heat-hill", "heat-map"
ALIKE = 0.1
"""Reaches that differ by less than this share are told as one."""
INVENTED = "The motor’s heat values are invented."


def answer(compared: Comparison, view: View) -> Any:
    """How far up the goal's hill, which is best and which worst."""
    if not compared.shown:
        return html.H1("Show a setup to see what warms up.")
    found, goal = climbs(compared), compared.job.goals.hill
    if goal is None:
        said, more = "Give the goal a hill, under Parts, to see how far each setup climbs it.", []
    elif found is None:
        return html.H1("Climbing the hill with every setup …")
    else:
        said, more = _headline(found, compared, view), _more(found, compared)
    if any(made_up(r.rig.motor, HEAT_FIELDS) for r in compared.shown):
        more.append(INVENTED)
    return [
        html.H1(unbroken(said)),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _hill_said(compared: Comparison, view: View) -> str:
    goal = compared.job.goals.hill
    if goal is None:
        return "the hill"
    at = f"{speed(goal.speed_kmh, view.speed, 0)} {view.speed}"
    return f"{_grade_said(compared)} at {at}"


def _grade_said(compared: Comparison) -> str:
    goal = compared.job.goals.hill
    return "the hill" if goal is None else f"{goal.grade_percent:g} %"


def _headline(found: Sequence[tuple[Reading, Climb]], compared: Comparison, view: View) -> str:
    able = [(r, c) for r, c in found if not math.isnan(c.longest) and c.goes]
    road = _hill_said(compared, view)
    if found and not any(c.starts for _, c in found):
        return f"No setup can start on {_grade_said(compared)}."
    if found and not any(c.goes for _, c in found):
        return f"No setup moves on {_grade_said(compared)}: a cap is 0 {view.units.name('km/h')}."
    if not able:
        return "How far heat lets these setups climb is not known: take typical heat values below."
    best = max(able, key=lambda x: x[1].longest)
    worst = min(able, key=lambda x: x[1].longest)
    if math.isinf(worst[1].longest):
        who = "Heat ends it for none of the setups" if len(able) > 1 else "Heat does not end it"
        return f"{who}: {road} can be climbed for any length."
    if worst[1].longest >= (1 - ALIKE) * best[1].longest:
        every = "Every setup climbs" if len(able) == len(found) else "Each that starts climbs"
        who = every if len(able) > 1 else f"“{best[0].name}” climbs"
        about = "about " if len(able) > 1 else ""
        return f"{who} {about}{_km(worst[1], view.units)} of {road} before the winding’s limit."
    text = (
        f"“{best[0].name}” climbs {_km(best[1], view.units)} of {road} before the winding’s limit, "
        f"“{worst[0].name}” {_km(worst[1], view.units)}"
    )
    other = next(((r, c) for r, c in able if r is compared.reference), None)
    if other is not None and other[0] not in (best[0], worst[0]):
        text += f"; “{other[0].name}” {_km(other[1], view.units)}"
    return f"{text}."


def _km(climb: Climb, units: Units) -> str:
    if math.isinf(climb.longest):
        low = (
            f", at worst {short(climb.low, units)}\u00a0{units.name('km')}"
            if math.isfinite(climb.low)
            else ""
        )
        return f"any length{f', or it {MAY_NOT_START}' if climb.low == 0 else low}"
    high = short(climb.high, units) if math.isfinite(climb.high) else "any length"
    low = f"up to {high}; {MAY_NOT_START}" if climb.low == 0 else ""
    band = f" ({low or f'{short(climb.low, units)} to {high}'})" if climb.low < climb.high else ""
    return f"{short(climb.longest, units)}\u00a0{units.name('km')}{band}"


def _more(found: Sequence[tuple[Reading, Climb]], compared: Comparison) -> list[str]:
    goal = compared.job.goals.hill
    if goal is None:
        return []
    length = goal.length_m / 1000
    stuck = [r.name for r, c in found if not c.starts]
    held = [r.name for r, c in found if c.starts and not c.goes]
    able = [(r, c) for r, c in found if not math.isnan(c.longest) and c.goes]
    short = [r.name for r, c in able if c.longest < length]
    doubtful = [r.name for r, c in able if c.low < length <= c.longest]
    said = f"The goal’s {goal.length_m:,.0f} m"
    more = []
    if able and not short:
        more.append(f"{said} {'are climbed by all' if len(able) > 1 else 'are climbed'}.")
    elif short:
        more.append(f"{said} are too much for {_names(short, len(able))}.")
    if 0 < len(stuck) < len(found):
        more.append(f"{_names(stuck, len(found))} cannot start on it.")
    if 0 < len(held) < len(found):
        more.append(f"{_names(held, len(found))} cannot move: a cap is 0.")
    if doubtful:
        more.append(f"They are within the band of {_names(doubtful, len(able))}.")
    more.append(
        "In brackets: the band from 5 to 95 % that the inputs’ tolerances give. From the "
        "winding’s temperature in the row; the charge is held."
    )
    return more


def _names(names: Sequence[str], of: int) -> str:
    return "all" if len(names) == of > 1 else listed([f"“{name}”" for name in names])


def body(compared: Comparison, view: View) -> Any:
    """Typical values where there are none, then the hill and the map."""
    return [
        place(NAME, view),
        html.Div(typical_heat.offer(compared.session, view.units), id=typical_heat.PLACE),
        figure_card(
            ON_HILL,
            "On the hill",
            "The winding warms within minutes, the case behind it slowly.",
            hill.build(compared, view),
            "Temperatures of winding and case of every setup along the goal's hill.",
        ),
        figure_card(
            MAP,
            "Any speed, any grade",
            "In the shade, beyond the heavy line, the winding passes its limit if the ride lasts.",
            heat_map.build(compared, view),
            "Settled winding temperature of one setup over speed and grade.",
            _tools(compared, view),
        ),
        repeated_card.card(),
        heat_readings.card(view.units),
    ]


def _tools(compared: Comparison, view: View) -> Any:
    about = chosen(compared, view)
    return html.Div(choice.choice(compared, NAME, about, "Setup on the map"), className="pins")


def register(app: Dash) -> None:
    """The plots follow the job; what is slow is worked out when the page asks for it."""
    follow(app, ON_HILL, hill.build, hill.numbers)
    follow(app, MAP, heat_map.build, heat_map.numbers)
    fill(app, NAME, worked_out, work)
    typical_heat.register(app)
    repeated_card.register(app)
    heat_readings.register(app)
    choice.register(app, NAME)


PAGE = Page("/heat", "Does it stay cool?", answer, body, columns, register)
