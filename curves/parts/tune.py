"""The tune: the limits a person sets in the controller."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from curves.parts.base import Table, quantity
from curves.units import PEAK_PER_RMS


class Tune(Table):
    """Limits set in the controller; an optional limit left out is no limit.

    >>> from curves import Tune
    >>> Tune(phase_current_a=75, current_basis="rms").power_cap_w is None
    True
    """

    phase_current_a: Annotated[
        float,
        quantity("Phase current limit, in the basis stated", "A", least=0.0, plausible=(1, 1500)),
    ]
    current_basis: Annotated[
        Literal["peak", "rms"],
        Field(description="Whether phase-side currents are peak or rms amperes"),
    ] = "peak"
    pack_current_a: Annotated[
        float | None,
        quantity("Pack current limit while driving", "A", least=0.0, plausible=(0.5, 800)),
    ] = None
    power_cap_w: Annotated[
        float | None,
        quantity(
            "Cap on power drawn at the controller's input", "W", least=0.0, plausible=(20, 60_000)
        ),
    ] = None
    field_weakening_a: Annotated[
        float,
        quantity(
            "Field-weakening current beyond most torque per ampere, in the basis stated",
            "A",
            least=0.0,
            plausible=(0, 600),
        ),
    ] = 0.0
    phase_limit: Annotated[
        Literal["vector", "torque"],
        Field(description="What the phase limit counts: the whole current, or its torque part"),
    ] = "vector"
    low_voltage_cutoff_v: Annotated[
        float | None,
        quantity("Pack voltage the tune never sags below", "V", least=0.0, plausible=(0, 230)),
    ] = None
    speed_cap_kmh: Annotated[
        float | None,
        quantity("Road speed at which drive ends", "km/h", least=0.0, plausible=(3, 200)),
    ] = None
    regen_pack_current_a: Annotated[
        float,
        quantity("Pack charging current limit while braking", "A", least=0.0, plausible=(0, 500)),
    ] = 0.0


def basis_factor(current_basis: str) -> float:
    """Peak amperes per ampere of the basis: 1 for ``peak``, √2 for ``rms``."""
    return PEAK_PER_RMS if current_basis == "rms" else 1.0
