"""The bike and its rider: mass, wheel, gearing and road load."""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self

import numpy as np
import numpy.typing as npt
from pydantic import Field, model_validator

from curves.parts.base import FieldError, FloatArray, Listed, Number, Table, quantity, series, text
from curves.units import MILLIMETRE

ArrayLike = npt.ArrayLike
TYRE = re.compile(r"(\d{2,3})-(\d{3})")
Positive = Annotated[float, quantity("a ratio", above=0)]


class Bike(Table):
    """Bike, rider and load, without the pack.

    >>> from curves import Bike
    >>> bike = Bike(
    ...     bike_mass_kg=34, rider_kg=80, tyre="57-507", rolling_coefficient=0.012, drag_area_m2=0.6
    ... )
    >>> round(bike.roll_out_m, 2)
    1.95
    """

    bike_mass_kg: Annotated[
        float, quantity("Mass of the bike without its pack", "kg", least=0.0, plausible=(5, 400))
    ]
    rider_kg: Annotated[float, quantity("Mass of the rider", "kg", least=0.0, plausible=(15, 250))]
    load_kg: Annotated[
        float, quantity("Mass of the load carried", "kg", least=0.0, plausible=(0, 500))
    ] = 0.0
    circumference_m: Annotated[
        float | None,
        quantity(
            "Measured roll-out of the driven wheel under load",
            "m",
            above=0,
            most=100.0,
            plausible=(0.3, 3.2),
        ),
    ] = None
    tyre: Annotated[
        str | None,
        text("Tyre size, width-bead in mm (ISO 5775), such as 57-507; a roll-out is surer"),
    ] = None
    rolling_coefficient: Annotated[
        float | None,
        quantity("Rolling resistance over weight", least=0.0, most=1.0, plausible=(0.001, 0.1)),
    ] = None
    drag_area_m2: Annotated[
        float | None,
        quantity(
            "Drag coefficient times frontal area", "m²", least=0.0, most=100.0, plausible=(0.02, 3)
        ),
    ] = None
    road_load_n: Annotated[
        tuple[Number, Number, Number] | None,
        Listed,
        series(
            "Coast-down coefficients f0, f1, f2 instead of rolling and drag", "N, N/(m/s), N/(m/s)²"
        ),
    ] = None
    final_drive_ratio: Annotated[
        float | None,
        quantity("Motor output turns per wheel turn; 1 for a hub", above=0, plausible=(0.1, 40)),
    ] = None
    gear_ratios: Annotated[
        tuple[Positive, ...] | None,
        Listed,
        series(
            "Motor output turns per wheel turn in each gear, for a mid-drive", plausible=(0.1, 40)
        ),
    ] = None
    final_drive_efficiency: Annotated[
        float,
        quantity("Efficiency from motor output to wheel", above=0, most=1.0, plausible=(0.5, 1)),
    ] = 1.0
    driven_wheel: Annotated[
        Literal["rear", "front"], Field(description="Which wheel the motor drives")
    ] = "rear"
    tyre_grip: Annotated[
        float,
        quantity(
            "Grip of the driven tyre: most force over weight on it",
            above=0,
            most=3.0,
            plausible=(0.1, 1.5),
        ),
    ] = 0.8
    wheelbase_m: Annotated[
        float | None, quantity("Wheelbase", "m", above=0, plausible=(0.5, 3.5))
    ] = None
    cg_height_m: Annotated[
        float | None,
        quantity(
            "Height of the centre of gravity, rider included", "m", least=0.0, plausible=(0.2, 2)
        ),
    ] = None
    cg_to_rear_axle_m: Annotated[
        float | None,
        quantity(
            "Centre of gravity ahead of the rear axle, rider included",
            "m",
            least=0.0,
            plausible=(0.05, 2.5),
        ),
    ] = None
    wheel_inertia_kg_m2: Annotated[
        float | None,
        quantity("Moment of inertia of both wheels", "kg·m²", least=0.0, plausible=(0.001, 5)),
    ] = None
    rider_power_w: Annotated[
        float, quantity("Power the rider adds at the wheel", "W", least=0.0, plausible=(0, 2000))
    ] = 0.0

    @model_validator(mode="after")
    def _one_of_each(self) -> Self:
        errors = self._wheel_errors() + self._load_errors() + self._gear_errors()
        if errors:
            raise FieldError(errors)
        return self

    def _wheel_errors(self) -> list[tuple[tuple[str | int, ...], object, str]]:
        if self.circumference_m is None and self.tyre is None:
            return [(("circumference_m",), None, "is missing: give it, or tyre")]
        if self.tyre is None:
            return []
        if self.circumference_m is not None:
            return [(("tyre",), self.tyre, "give either circumference_m or tyre, not both")]
        return (
            []
            if _tyre_mm(self.tyre)
            else [(("tyre",), self.tyre, 'must be width-bead in mm (ISO 5775), such as "57-507"')]
        )

    def _load_errors(self) -> list[tuple[tuple[str | int, ...], object, str]]:
        pair = {
            "rolling_coefficient": self.rolling_coefficient,
            "drag_area_m2": self.drag_area_m2,
        }
        if self.road_load_n is None:
            return [
                ((name,), None, "is missing: give it, or road_load_n instead of both")
                for name, value in pair.items()
                if value is None
            ]
        return [
            ((name,), value, "road_load_n stands for it: give one or the other")
            for name, value in pair.items()
            if value is not None
        ]

    def _gear_errors(self) -> list[tuple[tuple[str | int, ...], object, str]]:
        errors: list[tuple[tuple[str | int, ...], object, str]] = []
        if self.gear_ratios is not None and not self.gear_ratios:
            errors.append((("gear_ratios",), [], "needs at least one ratio"))
        if self.gear_ratios is not None and self.final_drive_ratio is not None:
            errors.append(
                (
                    ("final_drive_ratio",),
                    self.final_drive_ratio,
                    "give either final_drive_ratio or gear_ratios, not both",
                )
            )
        base, ahead = self.wheelbase_m, self.cg_to_rear_axle_m
        if base is not None and ahead is not None and ahead > base:
            errors.append(
                (("cg_to_rear_axle_m",), ahead, f"must be within the wheelbase ({base:g} m)")
            )
        return errors

    @property
    def roll_out_m(self) -> float:
        """Distance of one wheel turn, m: measured, or from the tyre size."""
        if self.circumference_m is not None:
            return self.circumference_m
        return tyre_circumference(self.tyre or "")

    @property
    def ratios(self) -> tuple[float, ...]:
        """Motor output turns per wheel turn, one a gear."""
        return self.gear_ratios or (self.final_drive_ratio or 1.0,)


def _tyre_mm(tyre: str) -> tuple[int, int] | None:
    match = TYRE.fullmatch(tyre.strip())
    if match is None:
        return None
    width, bead = int(match[1]), int(match[2])
    return (width, bead) if 10 <= width <= 200 and 100 <= bead <= 700 else None


def tyre_circumference(tyre: str) -> float:
    """Roll-out of a tyre by its ISO 5775 size, ``π (bead + 2 width)``.

    Within 0.6 % of published tables for narrow tyres; it overstates fat ones by some per cent.

    Args:
        tyre: width and bead seat diameter in mm, such as ``57-507``.

    Returns:
        Circumference in m.

    Raises:
        ValueError: if the text is no such size.
    """
    size = _tyre_mm(tyre)
    if size is None:
        raise ValueError(f"{tyre!r} is not a tyre size such as 57-507 (ISO 5775)")
    width, bead = size
    return float(np.pi * (bead + 2 * width) * MILLIMETRE)


def wheel_radius(circumference_m: ArrayLike) -> FloatArray:
    """Rolling radius, m, of a roll-out in m."""
    return np.asarray(np.asarray(circumference_m, dtype=float) / (2 * np.pi))


def slope_force(mass_kg: ArrayLike, grade: ArrayLike, gravity: ArrayLike) -> FloatArray:
    """Force of the slope along the road, ``m g sin θ``.

    Args:
        mass_kg: total mass, kg, any shape.
        grade: slope as a tangent (0.08 for 8 %); negative downhill.
        gravity: m/s².

    Returns:
        Force against forward motion, N.
    """
    m, tangent, g = (np.asarray(x, dtype=float) for x in (mass_kg, grade, gravity))
    return np.asarray(m * g * tangent / np.sqrt(1 + tangent**2))


def rolling_force(
    mass_kg: ArrayLike, grade: ArrayLike, rolling_coefficient: ArrayLike, gravity: ArrayLike
) -> FloatArray:
    """Rolling resistance, ``m g Crr cos θ``; it acts at rest too.

    Args:
        mass_kg: total mass, kg, any shape.
        grade: slope as a tangent.
        rolling_coefficient: rolling resistance over weight.
        gravity: m/s².

    Returns:
        Force against forward motion, N.
    """
    m, tangent, crr, g = (
        np.asarray(x, dtype=float) for x in (mass_kg, grade, rolling_coefficient, gravity)
    )
    return np.asarray(m * g * crr / np.sqrt(1 + tangent**2))


def air_force(
    speed: ArrayLike, headwind: ArrayLike, drag_area_m2: ArrayLike, density: ArrayLike
) -> FloatArray:
    """Force of the air, ``½ ρ CdA (v + w)|v + w|``.

    Args:
        speed: road speed, m/s, any shape.
        headwind: m/s, negative for a tailwind.
        drag_area_m2: drag coefficient times frontal area, m².
        density: air density, kg/m³.

    Returns:
        Force against forward motion, N; negative when the wind pushes.
    """
    v, w, area, rho = (np.asarray(x, dtype=float) for x in (speed, headwind, drag_area_m2, density))
    return np.asarray(0.5 * rho * area * (v + w) * np.abs(v + w))


def coast_down_force(
    speed: ArrayLike, headwind: ArrayLike, f0: ArrayLike, f1: ArrayLike, f2: ArrayLike
) -> FloatArray:
    """Road load on the level from a coast-down, ``f0 + f1 v + f2 (v + w)|v + w|``.

    Args:
        speed: road speed, m/s, any shape.
        headwind: m/s, negative for a tailwind.
        f0: N.
        f1: N/(m/s).
        f2: N/(m/s)²; not rescaled by air density.

    Returns:
        Force against forward motion, N.
    """
    v, w, a, b, c = (np.asarray(x, dtype=float) for x in (speed, headwind, f0, f1, f2))
    return np.asarray(a + b * v + c * (v + w) * np.abs(v + w))


def road_force(
    speed: ArrayLike,
    *,
    mass_kg: ArrayLike,
    grade: ArrayLike,
    headwind: ArrayLike,
    rolling_coefficient: ArrayLike,
    drag_area_m2: ArrayLike,
    density: ArrayLike,
    f0: ArrayLike = 0.0,
    f1: ArrayLike = 0.0,
    f2: ArrayLike = 0.0,
    gravity: ArrayLike,
) -> FloatArray:
    """Whole road load: slope, rolling and air, plus coast-down coefficients where those are given.

    A bike has either rolling and drag or f0 to f2; the others are 0, so one call serves both.

    Args:
        speed: road speed, m/s, any shape that broadcasts with the rest.
        mass_kg: bike, pack, rider and load, kg.
        grade: slope as a tangent.
        headwind: m/s.
        rolling_coefficient: rolling resistance over weight.
        drag_area_m2: m².
        density: air density, kg/m³.
        f0: N.
        f1: N/(m/s).
        f2: N/(m/s)².
        gravity: m/s².

    Returns:
        Force against forward motion, N.
    """
    return np.asarray(
        slope_force(mass_kg, grade, gravity)
        + rolling_force(mass_kg, grade, rolling_coefficient, gravity)
        + air_force(speed, headwind, drag_area_m2, density)
        + coast_down_force(speed, headwind, f0, f1, f2)
    )
