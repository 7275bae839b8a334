"""What a sweep of field weakening has for each setting."""

from __future__ import annotations

from curves.present.table import Column, keyed
from curves.studies.weakening import WeakeningSweep
from curves.units import KMH


def weakening_columns(sweep: WeakeningSweep) -> dict[str, Column]:
    """The columns of its tables.

    Args:
        sweep: What was found.
    """
    top, at_top = sweep.top, sweep.running
    return keyed(
        [
            Column("amps", "Setting", sweep.amps, f"A {sweep.basis}", None),
            Column("top_speed_kmh", "Top speed", top.speed / KMH, "km/h"),
            Column("ampere_buys_kmh", "An ampere buys", sweep.more / KMH, "km/h", 2),
            Column("loss_w", "Loss", at_top.loss, "W", 0),
            Column("efficiency", "Efficiency", at_top.efficiency),
            Column("efficiency_percent", "Efficiency", at_top.efficiency * 100, "%"),
            Column("wh_per_km", "Energy per distance", at_top.wh_per_km, "Wh/km"),
            Column("winding_c", "Winding", sweep.winding_c, "°C", 0),
            Column("drive_off_emf_v", "Back-EMF, drive off", top.drive_off_emf_v, "V"),
            Column(
                "drive_off_emf_cold_v",
                "Back-EMF, drive off, cold magnets",
                top.drive_off_emf_cold_v,
                "V",
            ),
            Column("limited_by", "Held by", top.limited_by),
        ]
    )
