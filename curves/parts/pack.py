"""The pack: cells to a source, and the voltage it keeps under load."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated, Any, Self

import numpy as np
import numpy.typing as npt
from pydantic import ConfigDict, model_validator

from curves.parts.base import FieldError, FloatArray, Table, Whole, count, quantity, text
from curves.units import MILLI

ArrayLike = npt.ArrayLike

CELL_FIELDS = (
    "cell",
    "series",
    "parallel",
    "cell_capacity_ah",
    "cell_resistance_mohm",
    "wiring_resistance_mohm",
    "resistance_factor",
)
SOURCE_FIELDS = ("open_circuit_v", "resistance_ohm", "full_charge_v")
NEEDED_OF_CELLS = ("cell", "series", "parallel", "cell_resistance_mohm")
NEEDED_OF_SOURCE = ("open_circuit_v", "resistance_ohm")


class Pack(Table):
    """A battery pack, from its cells or as a source.

    >>> from curves import Pack
    >>> pack = Pack(cell="nmc-21700", series=13, parallel=4, cell_resistance_mohm=30)
    >>> round(pack.open_circuit(1.0), 1)
    54.6
    """

    model_config = ConfigDict(
        json_schema_extra={
            "oneOf": [{"required": [*NEEDED_OF_CELLS]}, {"required": [*NEEDED_OF_SOURCE]}]
        }
    )

    cell: Annotated[str | None, text("Published open-circuit curve the cells follow")] = None
    series: Annotated[Whole | None, count("Cells in series", plausible=(3, 60))] = None
    parallel: Annotated[Whole | None, count("Parallel strings", plausible=(1, 200))] = None
    cell_capacity_ah: Annotated[
        float | None, quantity("Capacity of one cell", "Ah", above=0, plausible=(0.3, 400))
    ] = None
    cell_resistance_mohm: Annotated[
        float | None,
        quantity("Resistance of one cell, direct current", "mΩ", least=0.0, plausible=(0.05, 500)),
    ] = None
    wiring_resistance_mohm: Annotated[
        float | None,
        quantity("Resistance of leads, connectors and BMS", "mΩ", least=0.0, plausible=(0, 500)),
    ] = None
    resistance_factor: Annotated[
        float | None,
        quantity(
            "Factor on cell resistance: cold, aged or seconds into a pull, 1.3 to 2",
            least=0.0,
            plausible=(0.5, 10),
        ),
    ] = None
    open_circuit_v: Annotated[
        float | None,
        quantity("Open-circuit voltage of a source pack", "V", above=0, plausible=(9, 260)),
    ] = None
    resistance_ohm: Annotated[
        float | None, quantity("Resistance of a source pack", "Ω", least=0.0, plausible=(0, 2))
    ] = None
    full_charge_v: Annotated[
        float | None,
        quantity("Voltage a source pack may be charged to", "V", above=0, plausible=(9, 260)),
    ] = None
    continuous_current_a: Annotated[
        float | None,
        quantity("Current it may give all the time", "A", least=0.0, plausible=(1, 800)),
    ] = None
    peak_current_a: Annotated[
        float | None,
        quantity(
            "Current it may give for seconds, a hard limit", "A", least=0.0, plausible=(1, 1500)
        ),
    ] = None
    bms_cutoff_v: Annotated[
        float | None,
        quantity("Pack voltage at which its BMS cuts off", "V", least=0.0, plausible=(0, 230)),
    ] = None
    mass_kg: Annotated[float, quantity("Mass of the pack", "kg", least=0.0, plausible=(0, 150))] = (
        0.0
    )
    charger_a: Annotated[
        float | None, quantity("Charging current", "A", above=0, plausible=(0.1, 300))
    ] = None
    price: Annotated[float | None, quantity("Price, in any one currency", least=0.0)] = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        cells = [name for name in CELL_FIELDS if getattr(self, name) is not None]
        source = [name for name in SOURCE_FIELDS if getattr(self, name) is not None]
        if cells and source:
            raise FieldError(
                [
                    (
                        (source[0],),
                        getattr(self, source[0]),
                        "a pack is either cells (cell, series, parallel, cell_resistance_mohm) or "
                        f"a source (open_circuit_v, resistance_ohm): this one also has {cells[0]}",
                    )
                ]
            )
        needed = NEEDED_OF_SOURCE if source else NEEDED_OF_CELLS
        other = "" if source or cells else "; or give open_circuit_v and resistance_ohm"
        errors: list[tuple[tuple[str | int, ...], object, str]] = [
            ((name,), None, f"is missing{other}") for name in needed if getattr(self, name) is None
        ]
        if self.cell is not None and self.cell not in cell_names():
            errors.append((("cell",), self.cell, f"must be one of {', '.join(cell_names())}"))
        if errors:
            raise FieldError(errors)
        return self

    @property
    def from_cells(self) -> bool:
        """Whether the pack is described by its cells."""
        return self.cell is not None

    def open_circuit(self, state_of_charge: float) -> float:
        """Open-circuit voltage, V, at a state of charge (which a source pack ignores)."""
        if self.cell is None:
            return float(self.open_circuit_v or 0.0)
        return float(open_circuit_v(self.cell, self.series or 1, state_of_charge))

    def resistance(self) -> float:
        """Resistance at the pack's terminals, Ω."""
        if self.cell is None:
            return float(self.resistance_ohm or 0.0)
        return float(
            pack_resistance(
                self.series or 1,
                self.parallel or 1,
                self.cell_resistance_mohm or 0.0,
                1.0 if self.resistance_factor is None else self.resistance_factor,
                self.wiring_resistance_mohm or 0.0,
            )
        )

    def full_v(self) -> float | None:
        """Voltage when charged full, V; None for a source pack that does not say."""
        return self.full_charge_v if self.cell is None else self.open_circuit(1.0)


@dataclass(frozen=True)
class CellCurve:
    """A published open-circuit curve of one cell."""

    name: str
    title: str
    source: str
    note: str
    nominal_v: float
    positive: Electrode
    negative: Electrode


@dataclass(frozen=True)
class Electrode:
    """An electrode's potential over its lithium fraction, as terms of a published function."""

    at_empty: float
    at_full: float
    constant: float
    linear: float
    exp: tuple[tuple[float, float, float], ...]
    tanh: tuple[tuple[float, float, float], ...]

    def potential(self, soc: FloatArray) -> FloatArray:
        """Potential, V, at states of charge of any shape."""
        s = self.at_empty + soc * (self.at_full - self.at_empty)
        volts = self.constant + self.linear * s
        for size, rate, centre in self.exp:
            volts = volts + size * np.exp(rate * (s - centre))
        for size, rate, centre in self.tanh:
            volts = volts + size * np.tanh(rate * (s - centre))
        return np.asarray(volts)


def _electrode(table: dict[str, Any]) -> Electrode:
    terms = {name: tuple(tuple(term) for term in table[name]) for name in ("exp", "tanh")}
    return Electrode(**{**table, **terms})


@cache
def cell_names() -> tuple[str, ...]:
    """Names of the published cell curves."""
    folder = resources.files(__package__) / "cells"
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


@cache
def cell_curve(name: str) -> CellCurve:
    """A published cell curve with its title and source.

    Raises:
        KeyError: if there is none of that name.
    """
    if name not in cell_names():
        raise KeyError(name)
    data = (resources.files(__package__) / "cells" / f"{name}.toml").read_text(encoding="utf-8")
    table = tomllib.loads(data)
    positive, negative = (_electrode(table.pop(side)) for side in ("positive", "negative"))
    return CellCurve(name=name, positive=positive, negative=negative, **table)


def cell_voltage(name: str, soc: ArrayLike) -> FloatArray:
    """Open-circuit voltage of one cell, evaluated from its published function.

    Args:
        name: one of ``cell_names()``.
        soc: state of charge, 0 empty to 1 full, any shape.

    Returns:
        Volts, of the shape of ``soc``. Temperature and hysteresis are not modelled.

    Raises:
        KeyError: if there is no curve of that name.
    """
    curve = cell_curve(name)
    charge = np.asarray(soc, dtype=float)
    return np.asarray(curve.positive.potential(charge) - curve.negative.potential(charge))


def open_circuit_v(cell: str, series: ArrayLike, soc: ArrayLike) -> FloatArray:
    """Open-circuit voltage of a pack of cells, ``series · u(soc)``.

    Args:
        cell: one of ``cell_names()``.
        series: cells in series, any shape.
        soc: state of charge, 0 to 1.

    Returns:
        Volts, of the arguments' common shape.
    """
    return np.asarray(np.asarray(series, dtype=float) * cell_voltage(cell, soc))


def pack_resistance(
    series: ArrayLike,
    parallel: ArrayLike,
    cell_resistance_mohm: ArrayLike,
    factor: ArrayLike = 1.0,
    wiring_mohm: ArrayLike = 0.0,
) -> FloatArray:
    """Resistance of a pack of cells, ``series · r · factor / parallel + wiring``.

    Args:
        series: cells in series, any shape.
        parallel: parallel strings.
        cell_resistance_mohm: resistance of one cell, mΩ.
        factor: on the cells alone: cold, aged, or seconds into a pull.
        wiring_mohm: leads, connectors and BMS, mΩ.

    Returns:
        Ω, of the arguments' common shape.
    """
    s, p, r, k, w = (
        np.asarray(x, dtype=float)
        for x in (series, parallel, cell_resistance_mohm, factor, wiring_mohm)
    )
    return np.asarray((s * r * k / p + w) * MILLI)
