"""The page for whoever sets the controller: every setting, old and new, with unit and basis."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

import numpy as np

from curves.cautions import Instead
from curves.cautions.law import CLASSES, DEFER, RoadClass
from curves.parts.motor import flux_linkage
from curves.parts.rig import Rig
from curves.parts.tune import basis_factor
from curves.report.markup import Child, Markup, tag
from curves.report.pieces import (
    NONE,
    Column,
    amount,
    given,
    name,
    number,
    section,
    table,
)
from curves.report.results import Results
from curves.units import KMH, PEAK_PER_RMS

NO_LIMIT = "no limit"
OFF = "off"
NOT_GIVEN = "not given"
START = "Do not connect it yet: "
NOT_THE_JOBS = (
    "Some values are not the job's: a caution forbids those. Speeds and times in this report are "
    "with the job's own. Change the job and make the report anew."
)
CLASS_HEADS = {
    "en-15194": "EN 15194",
    "us-bicycle": "US bicycle",
    "us-class-1": "US class 1",
    "us-class-2": "US class 2",
    "us-class-3": "US class 3",
    "l1e-b": "EU L1e-B",
}


class Setting(NamedTuple):
    """A setting: what it is, its unit and basis, and its value in words."""

    what: str
    basis: str
    value: str


def settings(found: Results) -> Markup:
    """One table a setup that is to be set, each against the old setup."""
    old = None if found.reference is None else found.rigs[found.reference]
    chosen = found.chosen
    against = "nothing: the job names no setup to compare to" if old is None else f"“{old.name}”"
    return section(
        "For whoever sets the controller",
        [_one(found, k, old) for k in chosen],
        _constants(found, chosen),
        id_="settings",
        lead=(
            f"Old is {against}. Read every value back from the controller after writing it, and "
            "mind whether it counts peak or rms amperes: mistaking one for the other is a factor "
            "of 1.41 in current and of 2 in heat."
        ),
    )


def _one(found: Results, k: int, old: Rig | None) -> Markup:
    rig, right = found.rigs[k], found.instead(k)
    before = [s.value for s in _settings(found, old, {})] if old is not None else None
    rows: list[list[Child]] = []
    for j, new in enumerate(_settings(found, rig, right)):
        was = NONE if before is None else before[j]
        changed = before is not None and was != new.value
        rows.append(
            [
                new.what,
                new.basis,
                was,
                tag("b", new.value) if changed else new.value,
                tag("span", class_="blank"),
            ]
        )
    columns = [
        Column("Setting"),
        Column("Unit and basis", words=True),
        Column("Old"),
        Column("New", "changes in bold"),
        Column("Read back"),
    ]
    first = [
        tag("p", tag("b", START if r.status == "breaks" else "Settle first: "), r.text)
        for r in found.fits[k].against
    ]
    return tag(
        "div",
        tag("h3", name(found, k)),
        first,
        table(columns, rows, caption=f"Settings of {rig.name}", kind="small settings"),
        tag("p", NOT_THE_JOBS, class_="soft") if right else None,
        class_="part",
    )


def _settings(found: Results, rig: Rig, right: Mapping[str, Instead]) -> Iterator[Setting]:
    """Every setting of a setup.

    ``right`` has what takes the place of values that a caution forbids; the old ones are told
    as they are.
    """
    tune, controller, basis = rig.tune, rig.controller, rig.tune.current_basis

    def told(field: str, written: Callable[[float], str], as_it_is: str) -> str:
        return _told(right.get(field), written, as_it_is)

    def amperes(value: float) -> str:
        return f"{given(value)} A"

    def volts(value: float) -> str:
        return f"{given(value)} V"

    phase = tune.phase_current_a
    yield Setting(
        "Phase current",
        "A on the motor side",
        told("phase_current_a", lambda a: _both(a, basis), _both(phase, basis)),
    )
    counts = {"vector": "the whole current", "torque": "its torque part alone"}
    yield Setting("What the phase limit counts", "", counts[tune.phase_limit])
    weakening = tune.field_weakening_a
    yield Setting(
        "Field weakening",
        "A on the motor side, beyond most torque per ampere",
        told("field_weakening_a", amperes, _both(weakening, basis) if weakening else OFF),
    )
    yield Setting("Most torque per ampere", "on or off", "on" if controller.mtpa else OFF)
    yield Setting(
        "Pack current",
        "A at the controller's input",
        told("pack_current_a", amperes, _or(tune.pack_current_a, "A")),
    )
    yield Setting("Power cap", "W at the controller's input", _or(tune.power_cap_w, "W"))
    yield Setting(
        "Cut-off of the controller",
        "V at its input, under load",
        told("low_voltage_cutoff_v", volts, _or(tune.low_voltage_cutoff_v, "V", "none")),
    )
    start, end = controller.foldback_start_v, controller.foldback_end_v
    fold = "none" if start is None or end is None else f"{given(start)} to {given(end)} V"
    yield Setting(
        "Current folded back before it",
        "V, from start to end",
        told("foldback_start_v", volts, fold),
    )
    yield Setting(
        "Cut-off of the pack (its BMS)",
        "V; not set here, must be the lower",
        told("bms_cutoff_v", volts, _or(rig.pack.bms_cutoff_v, "V", NOT_GIVEN)),
    )
    yield Setting(
        "Speed cap",
        f"{found.speed_unit} on the road",
        told("speed_cap_kmh", lambda kmh: _cap(found, kmh), _cap(found, tune.speed_cap_kmh)),
    )
    regen = tune.regen_pack_current_a
    yield Setting("Braking current", "A into the pack", amperes(regen) if regen else OFF)
    hot = controller.winding_foldback_c

    def until(end: float) -> str:
        ends = found.units.written((hot[0] if hot else 0.0, end), "°C", 4)
        return f"{given(ends[0])} to {given(ends[1])} {found.units.name('°C')}"

    yield Setting(
        "Winding temperature foldback",
        f"{found.units.name('°C')}, from start to end",
        told("winding_foldback_c", until, "none" if hot is None else until(hot[1])),
    )
    yield Setting(
        "Wheel", "m rolled out in one turn, under load", f"{given(round(rig.bike.roll_out_m, 4))} m"
    )


def _told(right: Instead | None, written: Callable[[float], str], as_it_is: str) -> str:
    """A setting as it is, or what takes its place and why."""
    if right is None:
        return as_it_is
    if right.value is None:
        return f"do not set: {right.why}"
    return f"{written(right.value)} ({right.why})"


def _both(amperes: float, basis: str) -> str:
    """A phase-side current in peak and in rms amperes, the tune's own basis first."""
    peak = amperes * basis_factor(basis)
    other = amount(f"{peak / PEAK_PER_RMS:z.1f}") if basis == "peak" else amount(f"{peak:z.1f}")
    name_of_other = "rms" if basis == "peak" else "peak"
    return f"{given(amperes)} A {basis} ({other} {name_of_other})"


def _or(value: float | None, unit: str, absent: str = NO_LIMIT) -> str:
    return absent if value is None else f"{given(value)} {unit}"


def _cap(found: Results, cap: float | None) -> str:
    unit = found.speed_unit
    return "none" if cap is None else f"{number(cap * KMH / found.per)} {unit}"


def _constants(found: Results, chosen: list[int]) -> Markup:
    """The motor's constants in the forms in which controllers ask for them."""
    motors = {repr(found.rigs[k].motor): found.rigs[k] for k in chosen}
    made = []
    for rig in motors.values():
        m = rig.motor
        flux = float(flux_linkage(m.kv_rpm_per_v, m.pole_pairs)) * 1000
        rows: list[list[Child]] = [
            ["Pole pairs", "electrical turns per rotor turn", given(m.pole_pairs)],
            ["Kv", "rpm per V of peak line-to-line back-EMF, at 20 °C", given(m.kv_rpm_per_v)],
            ["Flux linkage", "mWb, peak, one phase, at 20 °C", number(flux, 4)],
            [
                "Resistance",
                "mΩ at 20 °C, terminal to terminal; one phase",
                _halved(m.resistance_ohm * 1000),
            ],
            ["Inductance d", "µH, terminal to terminal; one phase", _halved(m.inductance_d_uh)],
            ["Inductance q", "µH, terminal to terminal; one phase", _halved(m.inductance_q_uh)],
            ["Reduction", "rotor turns per wheel turn", _turns(rig)],
        ]
        of = next(s.motor for s in found.job.setup if s.name == rig.name)
        columns = [Column("Constant"), Column("Unit and basis", words=True), Column("Value")]
        made.append(
            tag(
                "div",
                tag("h3", f"Motor “{of}”, as controllers ask for it"),
                table(columns, rows, caption=f"Constants of motor {of}", kind="small"),
                class_="part",
            )
        )
    return Markup("".join(made))


def _halved(value: float) -> str:
    return f"{number(value)}; {number(value / 2)}"


def _turns(rig: Rig) -> str:
    return ", ".join(number(rig.motor.gear_ratio * ratio) for ratio in rig.bike.ratios)


def modes(found: Results) -> Markup:
    """Every setup as a mode, and which classes of vehicle its speed and power stay within."""
    unit = found.speed_unit
    columns = [
        Column("Mode"),
        Column("Top speed", unit),
        Column("Most power", "W at the rotor"),
        *(Column(CLASS_HEADS[key], _bounds(found, kind)) for key, kind in CLASSES.items()),
    ]
    rows: list[list[Child]] = [
        [
            name(found, k),
            number(float(found.top.speed[k]) / found.per),
            number(found.facts[k].shaft_power),
            *(_held(found, k, kind) for kind in CLASSES.values()),
        ]
        for k in range(len(found.rigs))
    ]
    sources = "; ".join(dict.fromkeys(kind.source for kind in CLASSES.values()))
    return section(
        "Modes, and classes of vehicle",
        table(columns, rows, caption="Modes and classes of vehicle", kind="small modes"),
        tag(
            "p",
            "The speed is that on motor alone. The power is the most the rotor gives; most classes "
            "count rated continuous power, which is less, so “above power” means: find out. "
            "A class asks for more than speed and power (pedals, throttle, voltage, approval, "
            f"lights, plate, insurance). {DEFER} Source: {sources}.",
            class_="soft",
        ),
        id_="modes",
    )


def _bounds(found: Results, kind: RoadClass) -> str:
    top = number(kind.speed / found.per, 2)
    return f"{top} {found.speed_unit}, {given(kind.power)} W"


def _held(found: Results, k: int, kind: RoadClass) -> Child:
    fast = np.nan_to_num(found.top.speed[k]) > kind.speed * (1 + 1e-3)
    strong = found.facts[k].shaft_power > kind.power * (1 + 1e-3)
    if fast and strong:
        return "above both"
    if fast or strong:
        return "above speed" if fast else "above power"
    return tag("span", "within both", class_="soft")
