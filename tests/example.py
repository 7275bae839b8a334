"""Which pack, asked in Python: run it as it is, or paste it cell by cell into a notebook."""

# %% The job: the demonstration here, or load_job("my-bike.toml")
import numpy as np

from curves import load_job, top_speed
from curves.steady.envelope import envelope
from curves.units import KMH

job = load_job()

# %% How fast is it, and what holds it there?
rig = job.rig("13 cells")
found = top_speed([rig])
print(f"{rig.name}: {found.speed[0] / KMH:.1f} km/h, held by {', '.join(found.limited_by[0])}")

# %% Would more volts help, or more watts?
per_cell, per_watt = (found.gain[f"kmh_per_{what}"][0] for what in ("series_cell", "w"))
print(f"one more cell in series: {per_cell:+.1f} km/h; 100 W more: {100 * per_watt:+.1f} km/h")

# %% The same with other cells, and with the mass and the cut-offs that go with them
other = job.with_cells("cells-13", 16).rig(rig.name)
print(f"16 cells: {top_speed([other]).speed[0] / KMH:.1f} km/h")

# %% Force over road speed
force = envelope([rig], np.array([0.0, 25.0]) * KMH).rim_force[0]
print(f"{force[0]:.0f} N from rest, {force[1]:.0f} N at 25 km/h")
