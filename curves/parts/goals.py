"""What the rider wants of the bike; every page is scored against it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from curves.parts.base import Table, quantity


class Hill(Table):
    """The hill that has to be climbed."""

    grade_percent: Annotated[
        float, quantity("Slope, rise over run", "%", least=0.0, most=100.0, plausible=(0, 40))
    ]
    length_m: Annotated[
        float, quantity("Length along the road", "m", above=0, plausible=(10, 50_000))
    ]
    speed_kmh: Annotated[
        float, quantity("Speed to be held", "km/h", least=0.0, most=300.0, plausible=(1, 150))
    ]


class Goals(Table):
    """Goals; any may be left out.

    >>> from curves import Goals
    >>> Goals(hill={"grade_percent": 8, "length_m": 900, "speed_kmh": 20}).hill.length_m
    900.0
    """

    top_speed_kmh: Annotated[
        float | None,
        quantity("Top speed wanted", "km/h", least=0.0, most=500.0, plausible=(5, 200)),
    ] = None
    hill: Annotated[Hill | None, Field(description="Hill to be climbed at a speed")] = None
    range_km: Annotated[
        float | None,
        quantity("Distance wanted from one charge", "km", least=0.0, plausible=(1, 1000)),
    ] = None

    @property
    def hill_percent(self) -> float | None:
        """Slope of the hill, %; None for none."""
        return None if self.hill is None else self.hill.grade_percent
