"""A setup: which parts go together, and in what state they are asked."""

from __future__ import annotations

from typing import Annotated

from curves.parts.base import Table, quantity, text


class Setup(Table):
    """One row of the comparison.

    >>> from curves import Setup
    >>> Setup(name="14 cells, town", motor="hub", pack="p14", tune="town", bike="cargo").winding_c
    20.0
    """

    name: Annotated[str, text("Name of the setup, shown everywhere")]
    motor: Annotated[str, text("Name of a [motor.NAME] table")]
    controller: Annotated[
        str | None, text("Name of a [controller.NAME] table; an ideal one if left out")
    ] = None
    pack: Annotated[str, text("Name of a [pack.NAME] table")]
    tune: Annotated[str, text("Name of a [tune.NAME] table")]
    bike: Annotated[str, text("Name of a [bike.NAME] table")]
    state_of_charge: Annotated[
        float, quantity("Charge of the pack, 0 empty to 1 full", least=0.0, most=1.0)
    ] = 1.0
    winding_c: Annotated[
        float,
        quantity("Winding temperature", "°C", least=-273.15, most=1000.0, plausible=(-40, 250)),
    ] = 20.0
    magnet_c: Annotated[
        float,
        quantity("Magnet temperature", "°C", least=-273.15, most=1000.0, plausible=(-40, 250)),
    ] = 20.0
