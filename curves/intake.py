"""A first job from what a rider knows on day one: typical values, each with source and tolerance.

Nothing here is measured. Every typical value is to be replaced by the tuner's own; until then its
tolerance makes the results as broad as they have to be.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import Any, Final, NamedTuple

from curves.cautions.law import CLASSES
from curves.parts.job import Job, build_job
from curves.parts.pack import cell_curve
from curves.parts.recount import SOLD_AS
from curves.units import KMH

PRACTICE: Final = "typical: common practice"


class Typical(NamedTuple):
    """A typical value, its relative standard uncertainty, and where it comes from."""

    value: float
    tolerance: float
    source: str


BIKES: Final = {
    "city": Typical(24.0, 0.15, PRACTICE),
    "mountain": Typical(25.0, 0.15, PRACTICE),
    "folding": Typical(19.0, 0.15, PRACTICE),
    "cargo": Typical(40.0, 0.20, PRACTICE),
}
"""Mass with motor and without pack, kg."""

POSTURES: Final = {
    "upright": Typical(0.63, 0.12, PRACTICE),
    "leaning forward": Typical(0.45, 0.15, PRACTICE),
    "crouched": Typical(0.32, 0.12, PRACTICE),
    "upright, with a box in front": Typical(0.75, 0.20, PRACTICE),
}
"""Drag area, m²: drag coefficient times frontal area."""


class Tyre(NamedTuple):
    """A tyre: its ISO 5775 size and what it loses in rolling."""

    size: str
    rolling: Typical


TYRES: Final = {
    "road, narrow and hard": Tyre("28-622", Typical(0.005, 0.25, PRACTICE)),
    "city, well pumped": Tyre("47-559", Typical(0.008, 0.25, PRACTICE)),
    "balloon": Tyre("57-507", Typical(0.010, 0.25, PRACTICE)),
    "knobbly": Tyre("57-584", Typical(0.013, 0.30, PRACTICE)),
}
"""Rolling resistance over weight, on tar."""


class Chemistry(NamedTuple):
    """A family of cells: its curve, a cell as it is often bought, and the counts volts stand for.

    Attributes:
        curve: Its open-circuit curve.
        capacity_ah: Of one cell.
        resistance_mohm: Of one cell, seconds into a pull.
        continuous_a: Of one cell.
        peak_a: Of one cell.
        cell_kg: Of one cell; ``PACK_MASS`` comes on top.
        cutoff_v: A cell's, for the BMS.
        counts: Cells in series by the volts that a pack is sold by.
    """

    curve: str
    capacity_ah: Typical
    resistance_mohm: Typical
    continuous_a: float
    peak_a: float
    cell_kg: float
    cutoff_v: float
    counts: Mapping[int, tuple[int, ...]]


CHEMISTRIES: Final = {
    "NMC": Chemistry(
        "nmc-21700", Typical(4.8, 0.05, PRACTICE), Typical(28.0, 0.25, PRACTICE), 7.0, 10.0, 0.070,
        2.8, SOLD_AS["nmc-21700"],
    ),
    "LFP": Chemistry(
        "lfp-26650", Typical(3.3, 0.06, PRACTICE), Typical(14.0, 0.30, PRACTICE), 10.0, 15.0, 0.086,
        2.5, SOLD_AS["lfp-26650"],
    ),
}  # fmt: skip
PACK_MASS: Final = 1.25
"""Mass of a pack over that of its cells: case, leads, BMS (common practice)."""
WIRING_MOHM: Final = Typical(12.0, 0.40, PRACTICE)
PRICE_PER_KWH: Final = Typical(500.0, 0.30, f"{PRACTICE}, in euros or dollars")
"""Of a finished pack; to be replaced in any other money."""
WH_PER_KM: Final = 15.0
"""What a loaded bike takes at 25 km/h or so, for the size of a first pack (common practice)."""
GEARS: Final = (0.8, 0.6, 0.45, 0.35, 0.27)
"""Turns of the chainwheel for one of the wheel, low gear to high: sprockets of 32 to 11 teeth over
40 (common practice)."""
CHAIN: Final = 0.96
"""Efficiency of a chain that is looked after (common practice)."""
PHASE_PER_PACK: Final = 2.5
"""Phase amperes, peak, that are set for an ampere of the pack (common practice)."""
USUAL_KMH: Final = 40.0


@dataclass(frozen=True)
class Asked:
    """What the short form asks; every line has an answer that will do for a start.

    Attributes:
        motor: A profile.
        bike: A key of ``BIKES``.
        posture: A key of ``POSTURES``.
        tyre: A key of ``TYRES``.
        rider_kg: Rider, kg.
        load_kg: Load, kg.
        hill_percent: Slope of the hill, %; 0 for none.
        hill_m: Its length, m.
        hill_kmh: Speed wanted on it, km/h.
        range_km: Distance wanted, km.
        chemistry: A key of ``CHEMISTRIES``.
        volts: On the pack's label, a key of its ``counts``.
        pack_a: Current the controller takes from the pack, A.
        budget: For the pack, in the rider's own money; None where none was named.
        price_per_kwh: Of a pack, in the same money; 0 for not known.
        road_class: A key of ``CLASSES``, None for none chosen.
    """

    motor: str = "demo-hub-direct"
    bike: str = "city"
    posture: str = "upright"
    tyre: str = "city, well pumped"
    rider_kg: float = 80.0
    load_kg: float = 5.0
    hill_percent: float = 8.0
    hill_m: float = 500.0
    hill_kmh: float = 15.0
    range_km: float = 30.0
    chemistry: str = "NMC"
    volts: int = 48
    pack_a: float = 25.0
    budget: float | None = None
    price_per_kwh: float = PRICE_PER_KWH.value
    road_class: str | None = None


def first_job(asked: Asked) -> Job:
    """Goals and a first job: the pack asked for, and the next step of volts to compare.

    Args:
        asked: What the form was told.

    Raises:
        KeyError: if a choice is none of those offered.
        JobError: if a number is not allowed in a job.
    """
    return build_job(_tree(asked), name="first job")


def wh_needed(asked: Asked) -> float:
    """What the distance wanted takes, Wh, roughly."""
    return asked.range_km * WH_PER_KM


def counts_compared(chemistry: str, volts: int) -> tuple[int, ...]:
    """Cells in series that volts on a label stand for, then the least of the next label up.

    Args:
        chemistry: A key of ``CHEMISTRIES``.
        volts: A key of its ``counts``.
    """
    counts = CHEMISTRIES[chemistry].counts
    own = counts[volts]
    higher = [count for known in counts.values() for count in known if count > max(own)]
    return (*own, *sorted(higher)[:1])


def _tree(asked: Asked) -> dict[str, Any]:
    counts = counts_compared(asked.chemistry, asked.volts)
    names = {count: f"{count} cells" for count in counts}
    parts = {"motor": "motor", "controller": "controller", "tune": "tune", "bike": "bike"}
    return {
        "format": "rimforce-job-1",
        "title": f"First job: {asked.bike} bike, {asked.volts} V {asked.chemistry}",
        "compare_to": names[counts[0]],
        "goals": _goals(asked),
        "motor": {"motor": {"profile": asked.motor}},
        "controller": {"controller": _with({"max_modulation": Typical(0.95, 0.02, PRACTICE)})},
        "pack": {f"cells-{n}": _pack(asked, n) for n in counts},
        "tune": {"tune": _tune(asked)},
        "bike": {"bike": _bike(asked)},
        "setup": [{"name": names[n], "pack": f"cells-{n}", **parts} for n in counts],
    }


def _top_kmh(asked: Asked) -> float:
    return USUAL_KMH if asked.road_class is None else CLASSES[asked.road_class].speed / KMH


def _goals(asked: Asked) -> dict[str, Any]:
    goals: dict[str, Any] = {"top_speed_kmh": _top_kmh(asked), "range_km": asked.range_km}
    if asked.hill_percent > 0:
        goals["hill"] = {
            "grade_percent": asked.hill_percent,
            "length_m": asked.hill_m,
            "speed_kmh": asked.hill_kmh,
        }
    return goals


def _pack(asked: Asked, series: int) -> dict[str, Any]:
    kind = CHEMISTRIES[asked.chemistry]
    string_wh = series * cell_curve(kind.curve).nominal_v * kind.capacity_ah.value
    by_current = ceil(asked.pack_a / kind.continuous_a)
    parallel = max(by_current, ceil(wh_needed(asked) / string_wh), 1)
    rated = {
        "continuous_current_a": Typical(kind.continuous_a * parallel, 0.0, PRACTICE),
        "peak_current_a": Typical(kind.peak_a * parallel, 0.0, PRACTICE),
        "bms_cutoff_v": Typical(round(kind.cutoff_v * series, 1), 0.0, PRACTICE),
        "mass_kg": Typical(round(PACK_MASS * kind.cell_kg * series * parallel, 1), 0.15, PRACTICE),
    }
    cells = {
        "cell_capacity_ah": kind.capacity_ah,
        "cell_resistance_mohm": kind.resistance_mohm,
        "wiring_resistance_mohm": WIRING_MOHM,
    }
    priced = _price(asked, string_wh * parallel)
    typical = _with(cells | rated | priced)
    return {"cell": kind.curve, "series": series, "parallel": parallel, **typical}


def _price(asked: Asked, energy_wh: float) -> dict[str, Typical]:
    """An estimate, whose source tells whether the budget bears it."""
    if asked.price_per_kwh <= 0:
        return {}
    price = float(f"{energy_wh / 1000 * asked.price_per_kwh:.2g}")
    own = asked.price_per_kwh != PRICE_PER_KWH.value
    told = "typical: from the price of a kWh typed in" if own else PRICE_PER_KWH.source
    source = f"{told}; {price:,.0f} estimated for {energy_wh:,.0f} Wh"
    if asked.budget is not None:
        side = "within" if price <= asked.budget else "over"
        source += f", {side} the budget of {asked.budget:,.0f}"
    return {"price": Typical(price, 0.0 if own else PRICE_PER_KWH.tolerance, source)}


def _tune(asked: Asked) -> dict[str, Any]:
    tune: dict[str, Any] = {
        "pack_current_a": asked.pack_a,
        "phase_current_a": PHASE_PER_PACK * asked.pack_a,
        "current_basis": "peak",
        "sources": {"phase_current_a": PRACTICE},
    }
    if asked.road_class is not None:
        tune["speed_cap_kmh"] = _top_kmh(asked)
        tune["sources"]["speed_cap_kmh"] = f"typical: {CLASSES[asked.road_class].source}"
    return tune


def _bike(asked: Asked) -> dict[str, Any]:
    tyre = TYRES[asked.tyre]
    typical = {
        "bike_mass_kg": BIKES[asked.bike],
        "rolling_coefficient": tyre.rolling,
        "drag_area_m2": POSTURES[asked.posture],
    }
    own = {"rider_kg": asked.rider_kg, "load_kg": asked.load_kg, "tyre": tyre.size}
    made = {**own, **_with(typical)}
    if "mid-drive" in asked.motor:
        made |= {"gear_ratios": list(GEARS), "final_drive_efficiency": CHAIN}
        made["sources"] |= dict.fromkeys(("gear_ratios", "final_drive_efficiency"), PRACTICE)
    return made


def _with(typical: Mapping[str, Typical]) -> dict[str, Any]:
    """Fields with their sources and tolerances, as a job has them."""
    return {
        **{name: x.value for name, x in typical.items()},
        "sources": {name: x.source for name, x in typical.items()},
        "tolerance": {name: x.tolerance for name, x in typical.items() if x.tolerance},
    }
