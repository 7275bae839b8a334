"""What is this? Every term in one table: its meaning, its formula, where it comes from."""

from __future__ import annotations

from typing import Any, NamedTuple

import dash_mantine_components as dmc
from dash import html

from dashboard import ids
from dashboard.components.paint import painted, place


class Term(NamedTuple):
    """A term: what it is called, what it means, how it is worked out, and the source."""

    name: str
    meaning: str
    formula: str = ""
    source: str = ""


LIST = "terms"
"""Where they are painted."""
MODEL = "steady-state model of a permanent-magnet motor"
PRACTICE = "common practice"
TERMS: dict[str, Term] = {
    "kv": Term(
        "Kv", "Rotor rpm per volt of peak back-EMF between two leads, at 20 °C.",
        "flux of a phase λ = 60 / (2π √3 p Kv)", MODEL),
    "resistance": Term(
        "Resistance", "Between two leads, as a four-wire meter reads it; a phase has half. It "
        "grows with the winding’s temperature.",
        "R(T) = R20 (1 + 0.00393 (T − 20))", "IEC 60028"),
    "inductance": Term(
        "Inductance d and q", "The least and the most between two leads while the rotor turns.",
        "torque = 1.5 p (λ + (Ld − Lq) i_d) i_q", MODEL),
    "no-load-torque": Term(
        "No-load torque", "Drag of iron, air and bearings at the rotor.", "T0 + c1 ω", MODEL),
    "volts": Term(
        "Volts full and nominal", "Full is what a meter reads on the charged pack at rest; "
        "nominal is what its label says.", "V = V_oc − R_pack I under load", PRACTICE),
    "phase-current": Term(
        "Phase current", "Current in a motor lead; it makes torque. Peak, unless the tune counts "
        "rms: peak is √2 times as many.", "√(i_d² + i_q²) ≤ I_phase", MODEL),
    "pack-current": Term(
        "Pack current", "Current from the pack: the least that tune, controller and pack allow.",
        "I = P / V", MODEL),
    "power-cap": Term("Power cap", "Most watts the controller takes at its input.", "P ≤ P_cap"),
    "field-weakening": Term(
        "Field weakening", "Current along d that works against the magnets, so that the voltage "
        "lasts to a higher speed. It heats without adding torque below base speed.",
        "−(I_fw + I_mtpa) ≤ i_d ≤ 0", MODEL),
    "characteristic-current": Term(
        "Characteristic current", "Weakening past it stops paying.", "I_ch = λ / Ld", MODEL),
    "low-voltage": Term(
        "Low-voltage cut-off", "Volts under load below which tune or BMS stops the drive: the "
        "higher of the two counts.", "V(P) ≥ V_cut"),
    "limit": Term(
        "Held by", "The limit that is met there, and of which a little more would raise the force.",
        "gain = change of top speed for one more of it", "multipliers of the optimum"),
    "base-speed": Term("Base speed", "The lowest speed at which voltage limits.", "", MODEL),
    "no-load-speed": Term(
        "No-load speed", "Where the torque at the shaft has fallen to nothing: the wheel off the "
        "ground.", "T_shaft(ω) = 0", MODEL),
    "full": Term(
        "Top speed", "Going up from rest, the first speed at which the force at the rim falls to "
        "the road load. Full: with a full pack; nearly empty: with a tenth of the charge left.",
        "F(v) = F_road(v)", MODEL),
    "hill": Term(
        "Speed on a hill", "Top speed on the goal’s slope.",
        "F(v) = F_road(v), grade as a tangent", MODEL),
    "road-load": Term(
        "Road load", "What slope, tyres and air hold against the bike.",
        "m g (sin θ + Crr cos θ) + ½ ρ CdA (v + w)|v + w|", "air density: ISO 2533"),
    "pin": Term(
        "Force at a speed", "Force at the rim with full throttle there, and what limits it.",
        "F = T n η / r, r = roll-out / 2π", MODEL),
    "drive-off": Term(
        "Back-EMF with drive off", "If the controller stops switching at speed, the motor makes "
        "these volts. Above the pack’s it brakes by itself; above the controller’s rating, with "
        "the pack gone, it can destroy it.", "peak volts between leads = rpm / Kv", MODEL),
    "fits": Term(
        "Fits?", "Every rating in the job against what the setup asks. What has no rating is not "
        "checked.", "", "ratings in the job"),
    "care": Term(
        "Take care", "The most serious caution; open it for all, with number, reason and source. "
        "General information, never advice: ask qualified people and local law."),
    "split": Term(
        "Split", "Time from the start to a speed or a distance; with one foot of roll-out the "
        "clock starts after the first foot. 660 ft is the eighth mile.",
        "m dv/dt = min(F, traction, lift) − F_road", f"{PRACTICE} at the strip"),
    "reach": Term(
        "Settled temperature", "Where the winding ends when a ride lasts: copper loss heats it, "
        "the case cools to the air.", "two nodes, winding and case", MODEL),
    "range": Term(
        "Range", "Distance at a steady speed between two states of charge, without wind or stops.",
        "energy of the pack between them / energy per distance", MODEL),
    "weakest": Term(
        "Gives first", "The part whose rating the setup comes nearest to, or passes.",
        "what is asked / what it is rated for", "ratings in the job"),
    "saturation": Term(
        "Saturation", "At high current the iron gives less torque per ampere. Where it was not "
        "measured it is left out, and the results say so.", "torque × factor of |i|", PRACTICE),
    "modulation": Term(
        "Modulation", "How much of the pack’s volts reaches the motor: 1 is the linear limit, 0.90 "
        "to 0.95 is typical.", "peak volts of a phase ≤ m V / √3", "space-vector modulation"),
    "mtpa": Term(
        "Most torque per ampere", "Some current along d where the inductances differ: it gives the "
        "most torque for the amperes.",
        "I_mtpa = (√(λ² + 4Δ² i_q²) − λ) / 2Δ, Δ = Lq − Ld", MODEL),
    "efficiency": Term(
        "Power, loss, efficiency", "What goes in at the pack, what comes out at the rim, and what "
        "is lost in the winding, controller, drag and gears.",
        "efficiency = P_rim / P_pack", MODEL),
    "band": Term(
        "±", "Half the band in which nine of ten results lie, given how sure the inputs are.",
        "5 to 95 %, to first order", "tolerances in the job"),
}  # fmt: skip
"""By the key that a column or a word goes by."""


FIELDS: dict[str, str] = {
    "motor.kv_rpm_per_v": "kv",
    "motor.resistance_ohm": "resistance",
    "motor.inductance_d_uh": "inductance",
    "motor.inductance_q_uh": "inductance",
    "motor.no_load_torque_nm": "no-load-torque",
    "motor.no_load_torque_nm_per_rad_s": "no-load-torque",
    "motor.valid_to_phase_current_a": "saturation",
    "motor.torque_derating": "saturation",
    "motor.winding_limit_c": "reach",
    "controller.max_phase_current_a": "phase-current",
    "controller.max_pack_current_a": "pack-current",
    "controller.max_modulation": "modulation",
    "controller.mtpa": "mtpa",
    "pack.open_circuit_v": "volts",
    "pack.bms_cutoff_v": "low-voltage",
    "tune.phase_current_a": "phase-current",
    "tune.pack_current_a": "pack-current",
    "tune.power_cap_w": "power-cap",
    "tune.field_weakening_a": "field-weakening",
    "tune.low_voltage_cutoff_v": "low-voltage",
    "bike.circumference_m": "pin",
    "bike.rolling_coefficient": "road-load",
    "bike.drag_area_m2": "road-load",
    "bike.road_load_n": "road-load",
    "goals.top_speed_kmh": "full",
    "goals.range_km": "range",
}
"""Fields of the form that a term explains."""


TITLES: dict[str, str] = {
    "Force at the rim": "pin",
    "Rim force": "pin",
    "What limits it": "limit",
    "Power at the rim": "efficiency",
    "Power from the pack": "efficiency",
    "Pack current": "pack-current",
    "Phase current, peak": "phase-current",
    "Top speed": "full",
    "Loss": "efficiency",
    "Efficiency": "efficiency",
    "Taken from the cells": "range",
    "Winding, settled": "reach",
    "Settled winding temperature": "reach",
    "Back-EMF with drive off": "drive-off",
    "Range": "range",
    "Energy per distance": "range",
}
"""Titles in plots that a term explains, as they begin."""


SAME: dict[str, str] = {
    "empty": "full",
    "charge": "full",
    "top": "full",
    "minutes": "reach",
    "level": "reach",
    "far": "range",
    "per": "range",
    "goal": "range",
    "ride": "range",
}
"""Columns that a term of another name explains."""


def terms() -> Any:
    """The window with all terms."""
    return dmc.Modal(
        html.Dl(className="terms", **place(LIST)),
        id=ids.TERMS,
        title="What is this?",
        size="lg",
        keepMounted=True,
        closeButtonProps={"aria-label": "Close"},
    )


def told() -> dict[str, Any]:
    """What the window says, for the browser to paint."""
    return {LIST: painted([_told(key, term) for key, term in TERMS.items()])}


def what(text: str, key: str) -> Any:
    """A word that opens its meaning, with mouse or key; plain where it has none.

    Args:
        text: The word as it stands on the page.
        key: As in ``TERMS`` or ``SAME``; what follows a hyphen may be left off.
    """
    known = next((k for k in (key, key.partition("-")[0]) if k in TERMS or k in SAME), key)
    known = SAME.get(known, known)
    if known not in TERMS:
        return text
    told = f"What is this: {TERMS[known].name}"
    return html.Button(text, className="what", type="button", title=told, **{"data-term": known})


def label(text: str, field: str) -> Any:
    """The label of a field, as a word that opens its meaning; plain where it has none.

    A label may hold no button, so this is a text that acts like one.

    Args:
        text: The label.
        field: As in ``FIELDS``.
    """
    if field not in FIELDS:
        return text
    key = FIELDS[field]
    told = f"What is this: {TERMS[key].name}"
    return html.Span(
        text, className="what", role="button", tabIndex=0, title=told, **{"data-term": key}
    )


def _told(key: str, term: Term) -> Any:
    lines: list[Any] = [html.P(term.meaning)]
    if term.formula:
        lines.append(html.P(term.formula, className="formula"))
    if term.source:
        lines.append(html.P(f"Source: {term.source}", className="soft"))
    titles = "|".join(title for title, known in TITLES.items() if known == key)
    return html.Div(
        [html.Dt(term.name), html.Dd(lines)],
        id=f"term-{key}",
        tabIndex=-1,
        **{"data-titles": titles},
    )
