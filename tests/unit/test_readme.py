"""The numbers that README tells of the demonstration are those that it gives."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curves import load_job, top_speed
from curves.motion.heat.settling import settled
from curves.setups.stack import stack
from curves.steady.balance import balance_speed
from curves.steady.envelope import no_load_speed
from curves.studies.sensitivity import sensitivity
from curves.studies.spread import stack_band, top_speed_band
from curves.units import KMH, PERCENT

ROOT = Path(__file__).resolve().parents[2]
NAMES = ("as delivered", "13 cells", "16 cells", "20 cells", "20 cells, cap lifted")


@pytest.fixture(scope="module")
def said():
    return " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())


@pytest.fixture(scope="module")
def rigs():
    job = load_job()
    return [job.rig(name) for name in NAMES]


def speeds(setups):
    """Top speeds of a stack, m/s."""
    batch = setups.batch()
    return balance_speed(batch, no_load_speed(batch)).speed


def shares(values):
    """The least and the most of some shares, as README writes them."""
    low, high = (round(float(x) / PERCENT) for x in (values.min(), values.max()))
    return f"{low} to {high} %"


def test_the_errors_to_expect_are_the_demos(rigs, said):
    top = speeds(stack(rigs))
    half = top_speed_band(rigs).half(top)
    assert f"nine times in ten, {shares(half / top)} of its top speeds" in said
    assert f"({top[1] / KMH:.0f} ± {half[1] / KMH:.0f} km/h)" in said
    held_by_power = sensitivity(rigs[1:2])[0]
    air = held_by_power.influences[0]
    assert air.input == "bike.drag_area_m2"
    assert air.kmh**2 > 0.5 * held_by_power.together_kmh**2

    def warmth(setups):
        return settled(setups, speeds(setups)).winding_c

    warm = warmth(stack(rigs))
    rise = warm - [rig.conditions.air_c for rig in rigs]
    half = stack_band(rigs, warmth).half(warm)
    assert f"{shares(half / rise)} of the winding's rise at top speed" in said


def test_the_speeds_of_the_example_are_the_demos(rigs, said):
    full = np.round(top_speed(rigs).speed / KMH)
    empty = np.round(top_speed([replace(rig, state_of_charge=0.1) for rig in rigs]).speed / KMH)
    assert f"as delivered, reaches {full[0]:.0f} km/h" in said
    assert f"13 cells are enough when full, {full[1]:.0f} ± 3 km/h" in said
    assert f"they fall to {empty[1]:.0f}, where 16 still do {empty[2]:.0f}" in said
    assert f"lift the cap and they do {full[4]:.0f}" in said
    assert full[3] == full[1]
