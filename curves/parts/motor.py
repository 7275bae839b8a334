"""The motor: what is measured at its three leads, and the laws that need nothing else."""

from __future__ import annotations

from typing import Annotated, Any, Self

import numpy as np
import numpy.typing as npt
from pydantic import ConfigDict, model_validator

from curves.parts.base import (
    FieldError,
    FloatArray,
    Listed,
    Number,
    Table,
    Whole,
    count,
    flag,
    quantity,
    series,
    text,
)
from curves.units import RPM

COPPER_COEFFICIENT_PER_K = 0.00393
"""Rise of copper's resistance per kelvin above 20 °C (IEC 60028)."""

ArrayLike = npt.ArrayLike
_C = "°C"


def _either_profile_or_fields(schema: dict[str, Any]) -> None:
    needed = schema.pop("required")
    schema["anyOf"] = [{"required": ["profile"]}, {"required": needed}]


class Motor(Table):
    """A permanent-magnet synchronous motor, surface or interior magnets.

    >>> from curves import load_profile
    >>> load_profile("demo-hub-direct").kv_rpm_per_v
    8.4
    """

    model_config = ConfigDict(json_schema_extra=_either_profile_or_fields)

    profile: Annotated[
        str | None,
        text("Motor profile the other fields are laid over: a packaged name, or a .toml file"),
    ] = None
    kv_rpm_per_v: Annotated[
        float,
        quantity(
            "Rotor speed per volt of peak line-to-line back-EMF at 20 °C "
            "(with sine drive also no-load speed per pack volt)",
            "rpm/V",
            above=0,
            plausible=(1, 400),
        ),
    ]
    resistance_ohm: Annotated[
        float,
        quantity(
            "Winding resistance, terminal to terminal at 20 °C",
            "Ω",
            least=0.0,
            plausible=(0.001, 5),
        ),
    ]
    inductance_d_uh: Annotated[
        float,
        quantity(
            "Least inductance over rotor angle, terminal to terminal (d axis)",
            "µH",
            least=0,
            plausible=(1, 10_000),
        ),
    ]
    inductance_q_uh: Annotated[
        float,
        quantity(
            "Most inductance over rotor angle, terminal to terminal (q axis)",
            "µH",
            least=0,
            plausible=(1, 10_000),
        ),
    ]
    pole_pairs: Annotated[
        Whole, count("Pole pairs: magnets around the rotor, halved", most=1000, plausible=(1, 60))
    ]
    no_load_torque_nm: Annotated[
        float,
        quantity(
            "Drag of the unloaded rotor, part that stays with speed",
            "N·m",
            least=0.0,
            plausible=(0, 10),
        ),
    ] = 0.0
    no_load_torque_nm_per_rad_s: Annotated[
        float,
        quantity(
            "Drag of the unloaded rotor, growth with speed",
            "N·m per rad/s",
            least=0.0,
            plausible=(0, 0.5),
        ),
    ] = 0.0
    gear_ratio: Annotated[
        float,
        quantity(
            "Reduction inside the motor, rotor turns per output turn", above=0, plausible=(0.9, 150)
        ),
    ] = 1.0
    gear_efficiency: Annotated[
        float,
        quantity(
            "Efficiency of the reduction inside the motor", above=0, most=1.0, plausible=(0.5, 1)
        ),
    ] = 1.0
    overrunning_clutch: Annotated[
        bool, flag("Freewheel inside: cannot brake, and the wheel cannot drive it")
    ] = False
    magnet_coefficient_per_k: Annotated[
        float,
        quantity(
            "Change of magnet flux with temperature",
            "1/K",
            least=-0.1,
            most=0.1,
            plausible=(-0.003, 0),
        ),
    ] = -0.0011
    winding_heat_j_per_k: Annotated[
        float | None,
        quantity("Heat capacity of the winding", "J/K", above=0, plausible=(20, 10_000)),
    ] = None
    case_heat_j_per_k: Annotated[
        float | None,
        quantity("Heat capacity of the rest of the motor", "J/K", above=0, plausible=(50, 50_000)),
    ] = None
    winding_to_case_w_per_k: Annotated[
        float | None,
        quantity("Heat flow from winding to case", "W/K", above=0, plausible=(0.2, 200)),
    ] = None
    case_to_air_w_per_k: Annotated[
        float | None,
        quantity("Heat flow from case to air at rest", "W/K", above=0, plausible=(0.1, 100)),
    ] = None
    case_to_air_w_per_k_per_m_s: Annotated[
        float | None,
        quantity(
            "Growth of the case's heat flow with road speed",
            "W/K per m/s",
            least=0,
            plausible=(0, 20),
        ),
    ] = None
    winding_limit_c: Annotated[
        float | None,
        quantity(
            "Temperature the winding may reach", _C, least=-60.0, most=500.0, plausible=(60, 250)
        ),
    ] = None
    magnet_limit_c: Annotated[
        float | None,
        quantity(
            "Temperature the magnets may reach", _C, least=-60.0, most=500.0, plausible=(40, 250)
        ),
    ] = None
    rotor_inertia_kg_m2: Annotated[
        float | None,
        quantity("Moment of inertia of the rotor", "kg·m²", least=0.0, plausible=(1e-06, 2)),
    ] = None
    max_rpm: Annotated[
        float | None,
        quantity("Highest rotor speed allowed", "rpm", least=0.0, plausible=(50, 60_000)),
    ] = None
    valid_to_phase_current_a: Annotated[
        float | None,
        quantity(
            "Peak phase current up to which saturation may be neglected",
            "A",
            least=0.0,
            plausible=(1, 2000),
        ),
    ] = None
    torque_derating: Annotated[
        tuple[tuple[Number, Number], ...] | None,
        Listed,
        series(
            "Measured saturation: pairs of peak phase amperes and the factor on torque, "
            "1 at the first"
        ),
    ] = None

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if self.inductance_q_uh < self.inductance_d_uh:
            raise FieldError(
                [
                    (
                        ("inductance_q_uh",),
                        self.inductance_q_uh,
                        "must be at least inductance_d_uh "
                        f"({self.inductance_d_uh:g} µH): d is the smaller of the two readings",
                    )
                ]
            )
        if self.torque_derating is not None and (wrong := _derating_fault(self.torque_derating)):
            raise FieldError([(("torque_derating",), list(self.torque_derating), wrong)])
        return self


def _derating_fault(points: tuple[tuple[float, float], ...]) -> str:
    """What is wrong with a saturation table, empty if nothing is."""
    if not points:
        return "needs at least one pair of amperes and factor"
    current, factor = np.array(points).T
    if current[0] < 0 or np.any(np.diff(current) <= 0):
        return "amperes must rise from pair to pair, and not begin below 0"
    if factor[0] != 1.0:
        return f"the factor of the first pair must be 1, not {factor[0]:g}"
    # Between points factor·current is a parabola: it still rises at the segment's far end, where
    # a falling factor bites most, exactly if this is not negative.
    slope = np.diff(factor) / np.diff(current)
    falls = np.flatnonzero(factor[1:] + slope * current[1:] < -1e-12)
    if falls.size:
        return (
            f"between {current[falls[0]]:g} and {current[falls[0] + 1]:g} A more current would "
            "give less torque (factor × current falls)"
        )
    return ""


def flux_linkage(
    kv_rpm_per_v: ArrayLike,
    pole_pairs: ArrayLike,
    magnet_c: ArrayLike = 20.0,
    magnet_coefficient_per_k: ArrayLike = 0.0,
) -> FloatArray:
    """Peak flux linkage of one phase, ``λ = 60 / (2π √3 p Kv) · (1 + α (T − 20))``.

    Args:
        kv_rpm_per_v: rpm per volt of peak line-to-line back-EMF at 20 °C, any shape.
        pole_pairs: pole pairs.
        magnet_c: magnet temperature, °C.
        magnet_coefficient_per_k: change of flux per kelvin, 1/K.

    Returns:
        Flux linkage in Wb, of the arguments' common shape.
    """
    kv, pairs, hot, alpha = (
        np.asarray(x, dtype=float)
        for x in (kv_rpm_per_v, pole_pairs, magnet_c, magnet_coefficient_per_k)
    )
    return np.asarray((1 + alpha * (hot - 20)) / (np.sqrt(3) * pairs * kv * RPM))


def copper_resistance(resistance_20: ArrayLike, winding_c: ArrayLike) -> FloatArray:
    """Resistance of copper at a temperature, ``R20 (1 + 0.00393 (T − 20))`` (IEC 60028).

    Args:
        resistance_20: resistance at 20 °C, Ω, any shape.
        winding_c: temperature, °C.

    Returns:
        Resistance in Ω, of the arguments' common shape.
    """
    rise = COPPER_COEFFICIENT_PER_K * (np.asarray(winding_c, dtype=float) - 20)
    return np.asarray(np.asarray(resistance_20, dtype=float) * (1 + rise))
