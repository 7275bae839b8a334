"""First-order spread: against closed forms, and what it leaves alone."""

import numpy as np
import pytest

from curves import load_job
from curves.balance import batch_top_speed
from curves.stack import stack
from curves.studies.spread import spread
from tests.unit.one_rig import rig


def no_load_emf_per_speed(batch):
    """Volts per rad/s: 1/Kv up to constants, linear in flux."""
    return (batch.drive.flux * batch.drive.pole_pairs)[:, 0]


def test_without_tolerances_nothing_is_unsure():
    assert spread([rig(), rig()], lambda b: b.road.mass[:, 0]).tolist() == [0.0, 0.0]


def test_a_linear_result_is_exact_and_squares_add():
    # m = bike + rider + …: σ² = (0.1 · 34)² + (0.05 · 80)² (derived: sum of independent inputs).
    unsure = rig(bike__tolerance={"bike_mass_kg": 0.1, "rider_kg": 0.05})
    found = spread([rig(), unsure], lambda b: b.road.mass[:, 0])
    assert found == pytest.approx([0.0, np.hypot(3.4, 4.0)], rel=1e-12)


def test_a_reciprocal_is_right_to_first_order():
    # λ ~ 1/Kv: half of 1/(1-s) - 1/(1+s) is s/(1-s²) (derived).
    unsure = rig(motor__tolerance={"kv_rpm_per_v": 0.02})
    value = no_load_emf_per_speed
    found = spread([unsure], value)[0]
    flux = value(stack([unsure]).batch())[0]
    assert found == pytest.approx(flux * 0.02 / (1 - 0.02**2), rel=1e-12)


def test_inductances_move_together_so_d_never_passes_q():
    unsure = rig(
        motor__inductance_d_uh=340.0,
        motor__tolerance={"inductance_d_uh": 0.1, "inductance_q_uh": 0.1},
    )
    seen = []

    def watch(batch):
        seen.append((batch.drive.lq - batch.drive.ld).min())
        return batch.drive.lq[:, 0]

    found = spread([unsure], watch)
    assert min(seen) >= 0
    assert found[0] == pytest.approx(0.1 * 170e-6, rel=1e-12)


def test_efficiency_never_passes_one():
    unsure = rig(
        bike__final_drive_efficiency=0.98, bike__tolerance={"final_drive_efficiency": 0.05}
    )
    seen = []

    def watch(batch):
        seen.append(batch.efficiency.max())
        return batch.efficiency[:, 0]

    spread([unsure], watch)
    assert max(seen) == 1.0


def test_any_shape_of_result_and_what_is_not_a_number():
    unsure = rig(bike__tolerance={"rider_kg": 0.1})

    def result(batch):
        mass = batch.road.mass
        return np.stack((mass, np.where(mass > 119, np.nan, mass)), axis=-1)

    assert spread([unsure], result) == pytest.approx(np.array([[[8.0, 0.0]]]))


def test_the_demos_top_speeds_are_unsure_by_a_few_per_cent():
    rigs = load_job().rigs()

    def speed(batch):
        return batch_top_speed(batch, ("",) * batch.size).speed

    share = spread(rigs, speed) / speed(stack(rigs).batch())
    assert np.all(share > 0.01)
    assert np.all(share < 0.1)
