"""What no light vehicle has: values that are legal and taken, but said.

Each field carries its plausible range beside its legal bounds; what follows from several fields
has one here. The ranges are common practice, drawn wide on purpose: wider than any legal light
vehicle, so that what lies outside is a slip of the hand or a dream.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from typing import Any, Final, NamedTuple

from curves.parts.base import Plausible
from curves.parts.goals import Goals
from curves.parts.labels import possessive
from curves.parts.rig import Rig
from curves.parts.setup import Setup
from curves.units import AS_WRITTEN, KMH, MINUTE, Units

PARTS: Final = ("motor", "controller", "pack", "tune", "bike", "conditions")
STATE: Final = ("winding_c", "magnet_c")
VOLTS: Final = (9.0, 260.0)
"""Of a full pack."""
KILOWATTS: Final = (0.02, 60.0)
"""That pack and tune allow."""
MASS_KG: Final = (20.0, 800.0)
"""Bike, pack, rider and load."""
SPINS_KMH: Final = (3.0, 300.0)
"""Where Kv puts the wheel off the ground."""
ASKED: Final = "Is that so?"


class Odd(NamedTuple):
    """A value outside its plausible range.

    Attributes:
        what: In words, as within a sentence.
        value: In ``unit``.
        range: Its plausible range, in ``unit``.
        unit: As fields have it.
    """

    what: str
    value: float
    range: Plausible
    unit: str

    def said(self, units: Units = AS_WRITTEN) -> str:
        """What it is and what light vehicles have: ``the pack’s mass is 900 kg; …``."""
        return f"{self.what}: {_amount(self.value, self.unit, units)}; {self.usual(units)}"

    def usual(self, units: Units = AS_WRITTEN) -> str:
        """What light vehicles have."""
        least, most = (units.written(x, self.unit, 3) for x in self.range)
        name = units.name(self.unit)
        return f"light vehicles have {_plain(least)} to {_plain(most)} {name}".rstrip()


@cache
def ranges(model: Any) -> dict[str, tuple[Plausible, str]]:
    """Plausible range and unit of every field of a part's model that has one."""
    found = {}
    for key, info in model.model_fields.items():
        extra = info.json_schema_extra
        if isinstance(extra, dict) and "plausible" in extra:
            least, most = extra["plausible"]
            found[key] = ((float(least), float(most)), str(extra.get("unit", "")))
    return found


def doubt(model: Any, key: str, value: object, units: Units = AS_WRITTEN) -> str:
    """What to say beside a field; empty where its value is plausible or has no range.

    Args:
        model: The part's model.
        key: The field.
        value: As the job has it: a number, a list of them, None.
        units: What is read.
    """
    found = _odd(model, "", key, value)
    return f"Taken, but is that so? {_capital(found.usual(units))}." if found else ""


def odd(rig: Rig) -> tuple[Odd, ...]:
    """Every value of a setup that no light vehicle has, and what follows from several."""
    tables = [(part, getattr(rig, part)) for part in PARTS]
    found = [x for part, table in tables for x in _of_table(part, table)]
    found += [x for key in STATE if (x := _odd(Setup, "setup", key, getattr(rig, key)))]
    # What follows from a field that is odd already tells nothing new.
    return tuple(found) or tuple(_derived(rig))


def odd_goals(goals: Goals) -> tuple[Odd, ...]:
    """Goals that no light vehicle meets."""
    hill = () if goals.hill is None else _of_table("hill", goals.hill)
    return (*_of_table("goal", goals), *hill)


def doubts(
    rigs: Sequence[Rig], goals: Goals | None = None, units: Units = AS_WRITTEN
) -> tuple[str, ...]:
    """What stands over every answer, one sentence an odd value; empty where all is plausible.

    Args:
        rigs: The setups the answer speaks of.
        goals: What the rider wants.
        units: For the sentences.
    """
    whose: dict[str, list[str]] = {}
    for rig in rigs:
        for said in dict.fromkeys(x.said(units) for x in odd(rig)):
            whose.setdefault(said, []).append(rig.name)
    told = [f"{ASKED} {_whose(names, len(rigs))}{said}." for said, names in whose.items()]
    return (*told, *(f"{ASKED} {_capital(x.said(units))}." for x in odd_goals(goals or Goals())))


def _whose(names: Sequence[str], count: int) -> str:
    if len(names) == count and count > 1:
        return "With every setup, "
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return f"“{names[0]}”{more}: "


def _of_table(part: str, table: Any) -> Iterator[Odd]:
    model: Any = type(table)
    for key in ranges(model):
        if found := _odd(model, part, key, getattr(table, key)):
            yield found


def _odd(model: Any, part: str, key: str, value: object) -> Odd | None:
    known = ranges(model).get(key)
    if known is None:
        return None
    (least, most), unit = known
    numbers: Iterable[object] = value if isinstance(value, list | tuple) else (value,)
    return next(
        (
            Odd(_named(part, key), float(x), known[0], unit)
            for x in numbers
            if isinstance(x, int | float) and not least <= x <= most
        ),
        None,
    )


def _derived(rig: Rig) -> Iterator[Odd]:
    """What follows from several fields, none of which is odd alone."""
    full = rig.pack.full_v() or rig.pack.open_circuit(1.0)
    limits = (rig.tune.pack_current_a, rig.controller.max_pack_current_a, rig.pack.peak_current_a)
    given = [x for x in limits if x is not None]
    watts = [rig.tune.power_cap_w] if rig.tune.power_cap_w is not None else []
    watts += [min(given) * full] if given else []
    turns = rig.motor.gear_ratio * min(rig.bike.ratios)
    spins = rig.motor.kv_rpm_per_v * full / turns * rig.bike.roll_out_m / MINUTE / KMH
    every = [
        Odd("the full pack", full, VOLTS, "V"),
        Odd("bike, pack, rider and load", rig.mass_kg, MASS_KG, "kg"),
        Odd("the wheel off the ground", spins, SPINS_KMH, "km/h"),
    ]
    if watts:
        every.append(Odd("the power pack and tune allow", min(watts) / 1000, KILOWATTS, "kW"))
    outside = (x for x in every if not x.range[0] <= x.value <= x.range[1])
    yield from (x._replace(value=float(f"{x.value:.3g}")) for x in outside)


def _named(part: str, key: str) -> str:
    if part in ("conditions", ""):
        return possessive(f"road.{key}")
    return possessive(f"{part}.{key}")


def _amount(value: float, unit: str, units: Units) -> str:
    shown = units.written(value, unit, 3)
    return f"{_plain(shown)} {units.name(unit)}".rstrip()


def _plain(value: float) -> str:
    """A number to six digits with its thousands set apart."""
    return f"{float(f'{value:.6g}') + 0.0:,.10g}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
