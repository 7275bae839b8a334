"""Largest torque as a convex program, Ld = Lq: CVXPY with Clarabel against the tool.

With Ld = Lq torque is i_q times a constant, |v| is a norm of a linear map, and the pack's volts V
are bounded by (V - V_oc/2)^2 + R_pack P <= V_oc^2/4, a second-order cone; in V the limits on the
pack's side are linear (P <= I_pack V, V >= V_cut). V is a variable of the program, so that nothing
is shared with the tool but the physics. The fold-back of pack current is taken at the current
where its straight line meets the pack's own.
"""

import warnings
from functools import cache

import cvxpy as cp
import numpy as np
import pytest

from curves.point.gains import gains
from curves.point.limits import SQRT3, input_power, sagged_voltage
from curves.point.solve import operating_point
from tests.point.random_drives import describe, random_drives

SETUPS = 2000
ENOUGH = {
    "tol_gap_abs": 1e-12,
    "tol_gap_rel": 1e-12,
    "tol_feas": 1e-12,
    "tol_infeas_abs": 1e-10,
    "tol_infeas_rel": 1e-10,
    "max_iter": 200,
}
NEAR = 1e-6
"""Agreement asked of torque, relative to the program's own scale."""


class Program:
    """The program once, its coefficients as parameters; x and y are currents and volts in units."""

    def __init__(self):
        self.x = cp.Variable(2)
        self.y = cp.Variable()
        names = "phase_d phase_q torque reach sag_d sag_q sag_turn sag_rest cap_d cap_q cap_turn"
        names += " cap_rest pack_d pack_q pack_turn pack_rest cut v_dd v_dq v_qd v_qq v_e"
        self.parameters = {name: cp.Parameter() for name in names.split()}
        p, x, y = self.parameters, self.x, self.y
        half = p["sag_rest"] - p["sag_turn"] * x[1]
        self.phase = cp.norm(cp.hstack([p["phase_d"] * x[0], p["phase_q"] * x[1]])) <= 1
        self.depth = -x[0] <= p["reach"]
        self.cap = self._power("cap") <= 1
        self.pack = self._power("pack") <= y
        self.volts = (
            cp.norm(
                cp.hstack(
                    [
                        p["v_dd"] * x[0] + p["v_dq"] * x[1],
                        p["v_qd"] * x[0] + p["v_qq"] * x[1] + p["v_e"],
                    ]
                )
            )
            <= y
        )
        sag = cp.sum_squares(cp.hstack([y - 0.5, p["sag_d"] * x[0], p["sag_q"] * x[1]])) <= half
        self.torque = p["torque"] * x[1] <= 1
        limits = [self.phase, self.torque, self.depth, x[0] <= 0, x[1] >= 0, sag]
        limits += [self.cap, self.pack, y >= p["cut"], self.volts]
        self.problem = cp.Problem(cp.Maximize(x[1]), limits)
        assert self.problem.is_dcp(dpp=True)

    def _power(self, name):
        p, x = self.parameters, self.x
        copper = cp.sum_squares(cp.hstack([p[f"{name}_d"] * x[0], p[f"{name}_q"] * x[1]]))
        return copper + p[f"{name}_turn"] * x[1] + p[f"{name}_rest"]

    def solve(self, values):
        for name, value in values.items():
            self.parameters[name].value = value
        with warnings.catch_warnings():
            # A gap of 1e-12 is asked; where it stops short of that CVXPY warns, and that is all.
            warnings.simplefilter("ignore", UserWarning)
            self.problem.solve(solver=cp.CLARABEL, accept_unknown=True, **ENOUGH)
        return self.problem.status


def coefficients(d, w, k):
    """Numbers of one program, and its units of i_d and i_q."""
    s = {name: float(getattr(d, name)[k]) for name in d._fields[:-2]}
    w, r, v_oc = float(w[k]), s["resistance"], s["open_circuit_v"]
    e, kt = s["pole_pairs"] * w, 1.5 * s["pole_pairs"] * s["flux"]
    u = s["modulation"] * v_oc / SQRT3
    copper, r_pack = 1.5 * r, s["pack_resistance"]
    pack_a = min(s["pack_a"], v_oc / (2 * r_pack) if r_pack else np.inf)
    start, end = s["foldback_start_v"], s["foldback_end_v"]
    if start > 0 and np.isfinite(pack_a) and v_oc - r_pack * pack_a < start:
        # I = I_pack (V - V_end) / (V_start - V_end) with V = V_oc - R I.
        pack_a = pack_a * (v_oc - end) / (start - end + r_pack * pack_a)
    elif start > 0 and np.isinf(pack_a) and v_oc < end:
        # A stiff pack without any rating gives nothing once it rests below the line's end.
        pack_a = -1.0
    power = min(s["cap_w"], pack_a * v_oc) - s["standby_w"]
    impedance = np.hypot(r, e * s["lq"])
    size = [s["vector_a"], s["torque_a"], 1e6]
    with np.errstate(divide="ignore"):
        size.append((u + e * s["flux"]) / impedance if impedance else np.inf)
        along_d, along_q = list(size), list(size)
        if np.isfinite(power) and power > 0:
            along_q.append(np.divide(power, w * kt))
            along_q.append(np.sqrt(np.divide(power, copper)))
            along_d.append(np.sqrt(np.divide(power, copper)))
    # Without weakening i_d is left out of every row, so that the program keeps an inside.
    along_d.append(s["weakening_a"])
    a, b = min(along_d), min(along_q)
    root = np.sqrt(copper)
    out = {
        "phase_d": a / s["vector_a"],
        "phase_q": b / s["vector_a"],
        "torque": b / s["torque_a"],
        # The circle of the phase current ends before 10 units.
        "reach": min(s["weakening_a"] / a, 10.0) if a else 1.0,
        "sag_d": np.sqrt(r_pack) * root * a / v_oc,
        "sag_q": np.sqrt(r_pack) * root * b / v_oc,
        "sag_turn": r_pack * w * kt * b / v_oc**2,
        "sag_rest": 0.25 - r_pack * s["standby_w"] / v_oc**2,
        "cut": s["cutoff_v"] / v_oc,
        "v_dd": r * a / u,
        "v_dq": -e * s["lq"] * b / u,
        "v_qd": e * s["ld"] * a / u,
        "v_qq": r * b / u,
        "v_e": e * s["flux"] / u,
    }
    for name, most in (("cap", s["cap_w"]), ("pack", pack_a * v_oc)):
        out |= {
            f"{name}_d": root * a / np.sqrt(abs(most)),
            f"{name}_q": root * b / np.sqrt(abs(most)),
            f"{name}_turn": w * kt * b / abs(most),
            f"{name}_rest": s["standby_w"] / abs(most) + 2.0 * (most < 0),
        }
    return out, kt, a, b, pack_a


@cache
def solved():
    """The random setups, the tool's answers and the program's."""
    drive, speed = random_drives(11, SETUPS)
    with np.errstate(all="raise", under="ignore"):
        point = operating_point(drive, speed)
    program = Program()
    answers = []
    for k in range(SETUPS):
        values, kt, a, b, pack_a = coefficients(drive, speed, k)
        status = program.solve(values)
        answer = {"status": status, "scale": kt * b, "kt": kt}
        if program.x.value is not None:
            answer |= {
                "torque": kt * b * program.x.value[1],
                "i_d": a * program.x.value[0],
                "i_q": b * program.x.value[1],
                "y": float(program.y.value),
                "phase": kt * b * program.phase.dual_value / drive.vector_a[k]
                + kt * b * program.torque.dual_value / drive.torque_a[k],
                "depth": kt * b * program.depth.dual_value / a if a else np.nan,
                "cap": kt * b * program.cap.dual_value / drive.cap_w[k],
                "pack": kt * b * float(program.pack.dual_value[0] * program.y.value) / pack_a,
            }
        answers.append(answer)
    return drive, speed, point, answers


def test_torque_over_the_whole_legal_range(record_property, capsys):
    drive, speed, point, answers = solved()
    worst, at = 0.0, 0
    driven = infeasible = 0
    for k, answer in enumerate(answers):
        torque = point.torque[k]
        if "torque" not in answer:
            infeasible += 1
            # Where the program finds nothing, the tool may find no more than a rounding's worth.
            assert np.isnan(torque) or torque <= NEAR * answer["scale"], describe(drive, speed, k)
            continue
        driven += not np.isnan(torque)
        off = abs(np.nan_to_num(torque) - answer["torque"]) / answer["scale"]
        if off > worst:
            worst, at = off, k
    with capsys.disabled():
        print(
            f"\nconvex program: {driven} of {SETUPS} setups driven, {infeasible} with no point; "
            f"worst disagreement of torque {worst:.1e} of its scale"
        )
    record_property("worst", worst)
    assert driven > SETUPS / 2
    assert worst < NEAR, (answers[at], describe(drive, speed, at))


# Each gain, and the drive's field by whose size it is measured.
GAINS = {
    "phase": ("phase", "vector_a"),
    "depth": ("weakening", "vector_a"),
    "cap": ("cap", "cap_w"),
    "pack": ("pack", "pack_a"),
}


@pytest.mark.parametrize("name", GAINS)
def test_multipliers_are_the_gains(name):
    drive, speed, point, answers = solved()
    held = gains(drive, speed, point)
    field, scale = GAINS[name]
    power = input_power(drive, speed, point.current_d, point.current_q)
    volts = sagged_voltage(drive, power)
    compared = nonzero = 0
    for k, answer in enumerate(answers):
        size = np.minimum(getattr(drive, scale)[k], 1e6)
        gain = getattr(held, field)[k]
        if "torque" not in answer or np.isnan(gain) or np.isnan(answer[name]):
            continue
        # Beside a kink, and near V_oc/2, the program's multipliers are one set of many.
        if held.limited[k].sum() > 2 or 2 * volts[k] < 1.01 * drive.open_circuit_v[k]:
            continue
        # Folded back, the program's limit is not the rating.
        if name == "pack" and drive.foldback_start_v[k] > 0:
            continue
        if point.torque[k] < 1e-3 * answer["scale"]:
            continue
        compared += 1
        nonzero += gain != 0
        # A program solved to 1e-10 gives its multipliers to about the root of that.
        near = 1e-4 * (answer["torque"] / size + answer[name]) + 1e-7 * answer["kt"]
        assert abs(gain - answer[name]) <= near, (k, gain, answer, describe(drive, speed, k))
    print(f"\n{name}: {compared} multipliers compared, {nonzero} of them not zero")
    assert compared > 300
    assert nonzero > 30
