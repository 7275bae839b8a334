"""The dynamic machine settles where the envelope says.

Source: the dq equations of a permanent-magnet synchronous machine (theory as in Morimoto et al.,
IEEE Trans. Ind. Appl. 26(5), 1990): v_d = R i_d + Ld di_d/dt - w Lq i_q and
v_q = R i_q + Lq di_q/dt + w (Ld i_d + flux), integrated by scipy from currents of zero, with the
envelope's own v_d and v_q applied. Nothing of the tool's steady state enters.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from curves.point.limits import phase_voltage
from curves.point.solve import operating_point
from tests.drives import SQRT3, drive

MACHINES = {
    "surface magnets": {"ld": 150e-6, "lq": 150e-6},
    "interior magnets": {"ld": 120e-6, "lq": 260e-6},
    "weakened": {"ld": 150e-6, "lq": 150e-6, "weakening_a": 40.0},
    "interior, weakened": {"ld": 120e-6, "lq": 260e-6, "weakening_a": 40.0},
}


@pytest.mark.parametrize("share", [0.2, 0.7, 1.0, 1.15])
@pytest.mark.parametrize("name", MACHINES)
def test_currents_settle_at_the_envelopes(name, share):
    made = drive(
        pole_pairs=16,
        flux=0.012,
        resistance=0.06,
        open_circuit_v=48.0,
        pack_resistance=0.08,
        vector_a=70.0,
        pack_a=30.0,
        modulation=0.95,
        **{"weakening_a": 12.0, **MACHINES[name]},
    )
    ideal = 0.95 * 48.0 / (SQRT3 * 16 * 0.012)
    speed = np.array([share * ideal])
    point = operating_point(made, speed)
    if np.isnan(point.torque[0]):
        # Unweakened it does not reach 1.15 of its ideal speed; the weakened ones must.
        assert share > 1
        assert "weakened" not in name
        return
    v_d, v_q = (float(v[0]) for v in phase_voltage(made, speed, point.current_d, point.current_q))
    w = 16 * speed[0]
    r, ld, lq, flux = 0.06, float(made.ld[0]), float(made.lq[0]), 0.012

    def change(_, i):
        return (
            (v_d - r * i[0] + w * lq * i[1]) / ld,
            (v_q - r * i[1] - w * (ld * i[0] + flux)) / lq,
        )

    # 40 time constants of the slower winding leave e^-40 of the start.
    end = 40 * lq / r
    run = solve_ivp(change, (0, end), (0.0, 0.0), method="DOP853", rtol=1e-10, atol=1e-10)
    assert run.success
    assert run.y[0, -1] == pytest.approx(point.current_d[0], abs=1e-6)
    assert run.y[1, -1] == pytest.approx(point.current_q[0], abs=1e-6)
    torque = 1.5 * 16 * (flux + (ld - lq) * run.y[0, -1]) * run.y[1, -1]
    assert torque == pytest.approx(point.torque[0], abs=1e-6)
