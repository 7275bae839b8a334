"""The controller: its ratings. Without one a setup is driven by an ideal controller."""

from __future__ import annotations

from math import pi, sqrt
from typing import Annotated, Final, Self

from pydantic import model_validator

from curves.parts.base import FieldError, Listed, Number, Table, flag, quantity, series

SIX_STEP: Final = 2 * sqrt(3) / pi
"""Fundamental of six-step operation over the linear limit of space-vector modulation."""
MOST_MODULATION: Final = 1.1027
"""Six-step as people write it; rounding up must not be an error."""


class Controller(Table):
    """A three-phase motor controller; every field left out is no limit or no loss.

    >>> from curves import Controller
    >>> Controller(max_input_v=90).max_modulation
    1.0
    """

    max_input_v: Annotated[
        float | None,
        quantity(
            "Highest input voltage the controller withstands", "V", above=0, plausible=(10, 400)
        ),
    ] = None
    max_phase_current_a: Annotated[
        float | None,
        quantity(
            "Phase current rating, in the tune's basis (peak or rms)",
            "A",
            least=0.0,
            plausible=(2, 1500),
        ),
    ] = None
    max_pack_current_a: Annotated[
        float | None,
        quantity("Current rating on the pack side", "A", least=0.0, plausible=(1, 800)),
    ] = None
    max_electrical_rpm: Annotated[
        float | None,
        quantity(
            "Highest electrical speed: rotor rpm times pole pairs",
            "rpm",
            least=0.0,
            plausible=(1000, 300_000),
        ),
    ] = None
    max_modulation: Annotated[
        float,
        quantity(
            "Share of the pack voltage it can use: 1 is the linear limit of space-vector "
            "modulation, 1.1027 six-step, 0.90 to 0.95 typical",
            above=0,
            most=MOST_MODULATION,
            plausible=(0.5, 1.1027),
        ),
    ] = 1.0
    mtpa: Annotated[
        bool,
        flag("Uses most torque per ampere; false: no d current until the field is weakened"),
    ] = True
    foldback_start_v: Annotated[
        float | None,
        quantity(
            "Pack voltage below which pack current is reduced", "V", least=0.0, plausible=(5, 300)
        ),
    ] = None
    foldback_end_v: Annotated[
        float | None,
        quantity(
            "Pack voltage at which pack current reaches 0", "V", least=0.0, plausible=(5, 300)
        ),
    ] = None
    winding_foldback_c: Annotated[
        tuple[Number, Number] | None,
        Listed,
        series(
            "Winding temperatures at which current starts to fall and reaches 0",
            "°C",
            plausible=(30, 300),
        ),
    ] = None
    resistance_mohm: Annotated[
        float,
        quantity(
            "Resistance of one phase: the switch that conducts, and the lead",
            "mΩ",
            least=0.0,
            plausible=(0, 100),
        ),
    ] = 0.0
    standby_w: Annotated[
        float, quantity("Power drawn while idle", "W", least=0.0, plausible=(0, 100))
    ] = 0.0
    torque_rise_s: Annotated[
        float | None,
        quantity(
            "Time in which torque is let rise from 0 to full", "s", least=0.0, plausible=(0, 10)
        ),
    ] = None

    @model_validator(mode="after")
    def _foldbacks_in_order(self) -> Self:
        start, end = self.foldback_start_v, self.foldback_end_v
        if (start is None) != (end is None):
            absent = "foldback_start_v" if start is None else "foldback_end_v"
            raise FieldError([((absent,), None, "is missing: foldback needs a start and an end")])
        if start is not None and end is not None and start <= end:
            raise FieldError(
                [(("foldback_start_v",), start, f"must be above foldback_end_v ({end:g} V)")]
            )
        if self.winding_foldback_c and self.winding_foldback_c[0] >= self.winding_foldback_c[1]:
            raise FieldError(
                [
                    (
                        ("winding_foldback_c",),
                        list(self.winding_foldback_c),
                        "the first temperature (start) must be below the second (end)",
                    )
                ]
            )
        return self
