"""What a sweep of packs has for each count of cells in series."""

from __future__ import annotations

from curves.parts.labels import charged
from curves.present.table import Column, keyed
from curves.studies.packs import PackSweep
from curves.units import KMH


def pack_columns(sweep: PackSweep) -> dict[str, Column]:
    """The columns of its tables, for the first slope; ``top_speed_kmh_0`` is the first charge's.

    Args:
        sweep: What was found.
    """
    first = charged(sweep.charge[0])
    return keyed(
        [
            Column("series", "Cells", sweep.series.astype(int), places=0),
            Column("strings", "Strings", sweep.strings, places=None),
            Column("full_v", "Full", sweep.full_v, "V"),
            Column("open_circuit_v", f"Volts {first}", sweep.open_circuit_v[0], "V"),
            Column("pack_kg", "Pack", sweep.mass, "kg"),
            Column("energy_wh", "Energy", sweep.energy, "Wh", 0),
            *(
                Column(f"top_speed_kmh_{k}", f"Top speed {charged(c)}", speed[0] / KMH, "km/h")
                for k, (c, speed) in enumerate(zip(sweep.charge, sweep.top_speed, strict=True))
            ),
            Column("limited_by", f"Held by, {first}", sweep.limited_by[0][0]),
            Column("pack_current_a", "Pack", sweep.pack_current[0, 0], "A"),
            Column("phase_current_a", "Phase current, peak", sweep.phase_current[0, 0], "A"),
        ]
    )
