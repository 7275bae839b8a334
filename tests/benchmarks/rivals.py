"""The same question put to general methods, one point at a time; each returns torque in N m."""

from collections.abc import Callable

import cvxpy as cp
import numpy as np
from scipy.optimize import minimize

Numbers = dict[str, float]
SQRT3 = 3.0**0.5


def power_limit(p: Numbers) -> float:
    """The least of pack current and cap, W (the cases have no cut-off)."""
    v, r = p["open_circuit_v"], p["pack_resistance"]
    amperes = min(p["pack_a"], v / (2 * r))
    return min(amperes * (v - r * amperes), p["cap_w"])


def convex_program() -> Callable[[Numbers], float]:
    """CVXPY with Clarabel, surface magnets; built once, then solved for each point's parameters.

    Sag enters as V^2 + R_pack P <= V_oc V, a convex quadratic. Amperes in units of the phase
    current, volts in units of V_oc.
    """
    i = cp.Variable(2)
    volts = cp.Variable()
    depth, copper, drive, rest, room = (cp.Parameter(nonneg=True) for _ in range(5))
    sag_copper, sag_drive, sag_rest = (cp.Parameter(nonneg=True) for _ in range(3))
    matrix, emf = cp.Parameter((2, 2)), cp.Parameter(2)
    length = cp.sum_squares(i)
    problem = cp.Problem(
        cp.Maximize(i[1]),
        [
            cp.norm(i) <= 1,
            i[0] >= -depth,
            i[0] <= 0,
            i[1] >= 0,
            copper * length + drive * i[1] + rest <= room,
            cp.square(volts) + sag_copper * length + sag_drive * i[1] + sag_rest <= volts,
            cp.norm(matrix @ i + emf) <= volts,
        ],
    )

    def solve(p: Numbers) -> float:
        amperes, v = p["vector_a"], p["open_circuit_v"]
        constant = 1.5 * p["pole_pairs"] * p["flux"]
        we, limit = p["pole_pairs"] * p["speed"], power_limit(p)
        depth.value = p["weakening_a"] / amperes
        copper.value = 1.5 * p["resistance"] * amperes**2 / limit
        drive.value = p["speed"] * constant * amperes / limit
        rest.value, room.value = p["standby_w"] / limit, 1.0
        share = p["pack_resistance"] / v**2
        sag_copper.value = share * copper.value * limit
        sag_drive.value, sag_rest.value = share * drive.value * limit, share * p["standby_w"]
        per_volt = SQRT3 / (p["modulation"] * v)
        z = np.array([[p["resistance"], -we * p["lq"]], [we * p["ld"], p["resistance"]]])
        matrix.value, emf.value = z * amperes * per_volt, np.array([0.0, we * p["flux"] * per_volt])
        problem.solve(solver=cp.CLARABEL)
        return constant * amperes * float(i.value[1]) if i.value is not None else np.nan

    return solve


def slsqp(p: Numbers, *, gradients: bool) -> float:
    """scipy's SLSQP from mid-range currents, with finite differences or gradients given."""
    scale, limit, we = p["vector_a"], power_limit(p), p["pole_pairs"] * p["speed"]
    k, flux, saliency = 1.5 * p["pole_pairs"], p["flux"], p["lq"] - p["ld"]
    r, ld, lq, w = p["resistance"], p["ld"], p["lq"], p["speed"]
    half, ohm, u = p["open_circuit_v"] / 2, p["pack_resistance"], p["modulation"] / SQRT3
    most = k * flux * scale

    def parts(x: np.ndarray) -> tuple[float, ...]:
        a, b = float(x[0]) * scale, float(x[1]) * scale
        torque = k * (flux - saliency * a) * b
        power = p["standby_w"] + 1.5 * r * (a * a + b * b) + w * torque
        root = max(half * half - ohm * power, 1e-6 * half * half) ** 0.5
        v_d, v_q = r * a - we * lq * b, r * b + we * (ld * a + flux)
        return a, b, torque, power, root, v_d, v_q, max((v_d * v_d + v_q * v_q) ** 0.5, 1e-9)

    def lost(x: np.ndarray) -> float:
        return -k * (flux - saliency * float(x[0]) * scale) * float(x[1]) * scale / most

    def room(x: np.ndarray) -> np.ndarray:
        a, b, _, power, root, _, _, v = parts(x)
        circle = 1 - (a * a + b * b) / scale**2
        return np.array([circle, 1 - power / limit, (u * (half + root) - v) / (u * half)])

    def lost_slope(x: np.ndarray) -> np.ndarray:
        a, b = float(x[0]) * scale, float(x[1]) * scale
        return np.array([saliency * b, saliency * a - flux]) * (k * scale / most)

    def room_slope(x: np.ndarray) -> np.ndarray:
        a, b, _, _, root, v_d, v_q, v = parts(x)
        power_d = 3 * r * a - w * k * saliency * b
        power_q = 3 * r * b + w * k * (flux - saliency * a)
        sag = u * ohm / (2 * root)
        volt_d = -sag * power_d - (v_d * r + v_q * we * ld) / v
        volt_q = -sag * power_q - (v_q * r - v_d * we * lq) / v
        rows = np.array(
            [
                [-2 * a / scale**2, -2 * b / scale**2],
                [-power_d / limit, -power_q / limit],
                [volt_d / (u * half), volt_q / (u * half)],
            ]
        )
        return rows * scale

    limits = {"type": "ineq", "fun": room} | ({"jac": room_slope} if gradients else {})
    found = minimize(
        lost,
        np.array([-0.5 * min(p["weakening_a"] / scale, 1.0), 0.5]),
        jac=lost_slope if gradients else None,
        bounds=[(-min(p["weakening_a"] / scale, 1.0), 0.0), (0.0, 1.0)],
        constraints=[limits],
        method="SLSQP",
        options={"ftol": 1e-9, "maxiter": 200},
    )
    return -float(found.fun) * most if found.success else np.nan


def dense_grid(p: Numbers, side: int = 300) -> float:
    """The best of ``side`` x ``side`` current vectors that break no limit."""
    depth = min(p["weakening_a"], p["vector_a"])
    a, b = np.linspace(-depth, 0, side)[:, None], np.linspace(0, p["vector_a"], side)
    we, square = p["pole_pairs"] * p["speed"], a * a + b * b
    torque = 1.5 * p["pole_pairs"] * (p["flux"] - (p["lq"] - p["ld"]) * a) * b
    power = p["standby_w"] + 1.5 * p["resistance"] * square + p["speed"] * torque
    half = p["open_circuit_v"] / 2
    volts = half + np.sqrt(np.maximum(half * half - p["pack_resistance"] * power, 0))
    v_d = p["resistance"] * a - we * p["lq"] * b
    v_q = p["resistance"] * b + we * (p["ld"] * a + p["flux"])
    fine = (square <= p["vector_a"] ** 2) & (power <= power_limit(p))
    fine &= np.hypot(v_d, v_q) <= p["modulation"] / SQRT3 * volts
    return float(np.max(torque, where=fine, initial=-1.0)) if fine.any() else np.nan
