"""Turn one sign of the model at a time and see that a test goes red: ``python -m tests.mutate``.

Each change is made in a copy of the repository, never here. It takes some minutes, so it is run by
hand after a change of the model, not with the other tests; words after it choose the terms that
contain one of them.
"""

# One change a line reads best, however long.
# ruff: noqa: E501

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
TESTS = (
    "tests/unit/test_limits.py",
    "tests/unit/test_envelope.py",
    "tests/unit/test_locus.py",
    "tests/unit/test_cli.py",
    "tests/unit/test_motor.py",
    "tests/unit/test_pack.py",
    "tests/unit/test_bike.py",
    "tests/unit/test_where_limits_meet.py",
    "tests/unit/test_rulings.py",
    "tests/unit/test_drive_off.py",
    "tests/unit/test_braking.py",
    "tests/outside",
    "tests/point",
)


class Change(NamedTuple):
    """A term of the model, the file that has it, and how its sign is turned there."""

    term: str
    file: str
    old: str
    new: str


LIMITS, LOCUS, SOLVE, SEARCH, GAINS, MOVES, DEPTH = (
    f"curves/point/{name}.py"
    for name in ("limits", "locus", "solve", "search", "gains", "moves", "depth")
)
BRAKING, DIODES, STACK = (
    "curves/point/braking.py",
    "curves/point/drive_off.py",
    "curves/setups/stack.py",
)
FIRST = {
    **dict.fromkeys((GAINS, MOVES, SEARCH), "tests/point/test_brute_force.py"),
    **dict.fromkeys((BRAKING, DEPTH), "tests/unit/test_braking.py"),
    DIODES: "tests/unit/test_drive_off.py",
    STACK: "tests/unit/test_rulings.py",
}
"""What is likely to see a change in a file, so that little else need run."""
CHANGES = (
    Change("reluctance torque", LIMITS, "(d.flux - d.saliency * i_d) * i_q", "(d.flux + d.saliency * i_d) * i_q"),
    Change("v_d: R i_d", LIMITS, "d.resistance * i_d - w", "-d.resistance * i_d - w"),
    Change("v_d: w Lq i_q", LIMITS, "i_d - w * d.lq * i_q", "i_d + w * d.lq * i_q"),
    Change("v_q: R i_q", LIMITS, "d.resistance * i_q + w", "-d.resistance * i_q + w"),
    Change("v_q: w Ld i_d", LIMITS, "(d.ld * i_d + d.flux)", "(-d.ld * i_d + d.flux)"),
    Change("v_q: w flux", LIMITS, "(d.ld * i_d + d.flux)", "(d.ld * i_d - d.flux)"),
    Change("copper loss", LIMITS, "d.standby_w + copper +", "d.standby_w - copper +"),
    Change("standby", LIMITS, "return d.standby_w + copper", "return -d.standby_w + copper"),
    Change("power to torque", LIMITS, "copper + speed *", "copper - speed *"),
    Change("sag", LIMITS, "half * half - d.pack_resistance", "half * half + d.pack_resistance"),
    Change("upper root of V(P)", LIMITS, "return half + np.sqrt", "return half - np.sqrt"),
    Change("pack current to watts", LIMITS, "pack_a * (v - r * pack_a)", "pack_a * (v + r * pack_a)"),
    Change("cut-off to watts", LIMITS, "d.cutoff_v * (v - d.cutoff_v)", "d.cutoff_v * (v + d.cutoff_v)"),
    Change("most torque per ampere", LIMITS, "(flux + np.sqrt(under))", "(-flux + np.sqrt(under))"),
    Change("copper with heat", "curves/parts/motor.py", "* (1 + rise)", "* (1 - rise)"),
    Change("magnets with heat", "curves/parts/motor.py", "(1 + alpha *", "(1 - alpha *"),
    Change("locus: back-EMF d", LOCUS, "            -emf * xq,", "            emf * xq,"),
    Change("locus: back-EMF q", LOCUS, "            -emf * r,", "            emf * r,"),
    Change("locus: saliency", LOCUS, "salient = xd - xq", "salient = xd + xq"),
    Change("locus: sag of back-EMF", LOCUS, "open_v - sag * back", "open_v + sag * back"),
    Change("locus: sag of the square", LOCUS, "1 + sag * u * bulk", "1 - sag * u * bulk"),
    Change("locus: standby", LOCUS, "- square * standby", "+ square * standby"),
    Change("locus: peak of torque", LOCUS, "gain = (turn_linear - turn", "gain = (turn_linear + turn"),
    Change("path: sag", LOCUS, "rest - copper * current", "rest + copper * current"),
    Change("path: weakening", LOCUS, "emf - xd * depth", "emf + xd * depth"),
    Change("path: R in v_d", LOCUS, "v_d = r * depth + xq * i_q", "v_d = r * depth - xq * i_q"),
    Change("path: power to torque", LOCUS, "current - per * psi * i_q", "current + per * psi * i_q"),
    Change("locus: weakening limit", LOCUS, "i_d * per + weakening", "i_d * per - weakening"),
    Change("locus: slope of torque", LOCUS, "slope_q - saliency * slope_d", "slope_q + saliency * slope_d"),
    Change("derating", LIMITS, "y0 + slope * (np.minimum", "y0 - slope * (np.minimum"),
    Change("fold-back: sag", LIMITS, "above / (span + r * pack_a)", "above / (span - r * pack_a)"),
    Change("fold-back: end", LIMITS, "above = v - d.foldback_end_v", "above = v + d.foldback_end_v"),
    Change("fold-back: watts", LIMITS, "foldback_a * (v - r * foldback_a)", "foldback_a * (v + r * foldback_a)"),
    Change("fold-back: where it sets in", LIMITS, "v - r * pack_a, v)", "v + r * pack_a, v)"),
    Change("wiring", STACK, "cell_ohm + wiring", "cell_ohm - wiring"),
    Change("budget of most torque per ampere", STACK, '("tune.field_weakening_a") * basis + aligned', '("tune.field_weakening_a") * basis - aligned'),
    Change("current of a power", LIMITS, "drive * drive + 4 * copper", "drive * drive - 4 * copper"),
    Change("torque at a weakening", SOLVE, "(d.flux + d.saliency * depth)", "(d.flux - d.saliency * depth)"),
    Change("along most torque: reluctance", SOLVE, "psi = flux + saliency * i_d", "psi = flux - saliency * i_d"),
    Change("along most torque: copper", SOLVE, "excess = copper * i * i +", "excess = -copper * i * i +"),
    Change("search: reluctance", SEARCH, "(each.flux - each.saliency * i_d)", "(each.flux + each.saliency * i_d)"),
    Change("search: w Ld i_d", SEARCH, "(each.ld * i_d + each.flux)", "(-each.ld * i_d + each.flux)"),
    Change("search: w Lq i_q", SEARCH, "v_d - xq * i_q", "v_d + xq * i_q"),
    Change("search: R i_q", SEARCH, "v_q + r * i_q", "v_q - r * i_q"),
    Change("search: copper", SEARCH, "idle + copper * (i", "idle - copper * (i"),
    Change("search: power to torque", SEARCH, "i_q) + turn * i_q", "i_q) - turn * i_q"),
    Change("search: sag", SEARCH, "sagged = half + np.sqrt(np.maximum(half * half - ohm", "sagged = half + np.sqrt(np.maximum(half * half + ohm"),
    Change("least weakening: flux", SEARCH, "half + root, flux + ld * x", "half + root, flux - ld * x"),
    Change("least weakening: sag", SEARCH, "root = np.sqrt(np.maximum(half * half - ohm", "root = np.sqrt(np.maximum(half * half + ohm"),
    Change("zero torque: least i_d", SEARCH, "(-middle - root) / square", "(middle - root) / square"),
    Change("gain: reluctance along d", GAINS, "torque_d = -factor", "torque_d = factor"),
    Change("gain: reluctance along q", GAINS, "factor * k * (d.flux - d.saliency", "factor * k * (d.flux + d.saliency"),
    Change("gain: copper along d", GAINS, "3 * d.resistance * i_d + w", "-3 * d.resistance * i_d + w"),
    Change("gain: copper along q", GAINS, "3 * d.resistance * i_q + w", "-3 * d.resistance * i_q + w"),
    Change("gain: volts along d", GAINS, "(v_d * d.resistance + v_q", "(v_d * d.resistance - v_q"),
    Change("gain: volts along q", GAINS, "(v_q * d.resistance - v_d", "(v_q * d.resistance + v_d"),
    Change("gain: sag along d", GAINS, "+ sag * power_d", "- sag * power_d"),
    Change("gain: sag along q", GAINS, "+ sag * power_q", "- sag * power_q"),
    Change("gain per pack ampere", MOVES, "d.open_circuit_v - 2 * d.pack_resistance * amperes", "d.open_circuit_v + 2 * d.pack_resistance * amperes"),
    Change("gain per volt: pack current", MOVES, "volt[PACK] = amperes", "volt[PACK] = -amperes"),
    Change("gain per volt: cut-off", MOVES, "rising / v, cut / r)", "rising / v, -cut / r)"),
    Change("gain per volt: voltage", MOVES, "np.inf, u * np.where(r > 0, volts", "np.inf, -u * np.where(r > 0, volts"),
    Change("gain per ohm", MOVES, "-np.inf, -u * power / root", "-np.inf, u * power / root"),
    Change("gain per speed: power", MOVES, "speed[LOW] = -derated_torque", "speed[LOW] = derated_torque"),
    Change("gain per speed: back-EMF", MOVES, "(d.ld * i_d + d.flux) - v_d * d.lq", "(d.ld * i_d - d.flux) - v_d * d.lq"),
    Change("charging raises the volts", BRAKING, "(v + r * regen_a)", "(v - r * regen_a)"),
    Change("full-charge volts", BRAKING, "(v - full_charge_v) / r", "(v + full_charge_v) / r"),
    Change("braking: reluctance", DEPTH, "(c.flux - c.saliency * x)", "(c.flux + c.saliency * x)"),
    Change("braking: copper at no torque", DEPTH, "c.standby_w + copper * x * x", "c.standby_w - copper * x * x"),
    Change("braking: charging root", DEPTH, "drive * drive - 4 * copper", "drive * drive + 4 * copper"),
    Change("braking: volts", DEPTH, "(v_d * x_q - v_q * d.resistance)", "(v_d * x_q + v_q * d.resistance)"),
    Change("braking: power", DEPTH, "(copper * s - drive) * s + idle_w", "(copper * s + drive) * s + idle_w"),
    Change("braking derated: power", DEPTH, "(i * i + s * s) - driven * s", "(i * i + s * s) + driven * s"),
    Change("braking derated: volts", DEPTH, "np.hypot(u_d + x_q * s, u_q - r * s)", "np.hypot(u_d - x_q * s, u_q - r * s)"),
    Change("diode drops", DIODES, "rails = d.open_circuit_v + 2 * diode_v", "rails = d.open_circuit_v - 2 * diode_v"),
    Change("diodes: pack as a resistance", DIODES, "d.resistance + share * MEAN_SHARE", "d.resistance - share * MEAN_SHARE"),
    Change("diodes: d current", DIODES, "-emf * x_q * current", "emf * x_q * current"),
    Change("diodes: q current", DIODES, "-emf * load * current", "emf * load * current"),
    Change("diodes: drop in the loop", DIODES, "load = ohm * current + volts", "load = ohm * current - volts"),
    Change("no-load torque", "curves/steady/envelope.py", "point.torque - d.no_load_torque -", "point.torque + d.no_load_torque -"),
    Change("no-load drag", "curves/steady/envelope.py", "- d.no_load_drag * w\n", "+ d.no_load_drag * w\n"),
    Change("slope of the road", "curves/parts/bike.py", "        slope_force(mass_kg", "        -slope_force(mass_kg"),
    Change("rolling", "curves/parts/bike.py", "        + rolling_force(", "        - rolling_force("),
    Change("headwind", "curves/parts/bike.py", "rho * area * (v + w) * np.abs(v + w)", "rho * area * (v - w) * np.abs(v - w)"),
    Change("headwind of a coast-down", "curves/parts/bike.py", "+ c * (v + w) * np.abs(v + w)", "+ c * (v - w) * np.abs(v - w)"),
)  # fmt: skip


def red(change: Change) -> str | None:
    """The first test that fails under a change; None if none does.

    Raises:
        ValueError: if the file no longer has the term, once and only once.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        ignored = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache")
        shutil.copytree(ROOT, copy, ignore=ignored)
        file = copy / change.file
        text = file.read_text(encoding="utf-8")
        if text.count(change.old) != 1:
            raise ValueError(f"{change.file} has {change.old!r} not just once")
        file.write_text(text.replace(change.old, change.new), encoding="utf-8")
        tests = dict.fromkeys((FIRST.get(change.file, TESTS[0]), *TESTS))
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
        done = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=False)
    failed = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return failed[0].split(" - ")[0] if failed else None


def main() -> int:
    """Print what each change did; 1 if one of them passed unseen."""
    unseen, words = 0, sys.argv[1:]
    chosen = [c for c in CHANGES if not words or any(word in c.term for word in words)]
    with ThreadPoolExecutor(2) as pool:
        for change, test in zip(chosen, pool.map(red, chosen), strict=True):
            unseen += test is None
            print(f"{change.term}: {test or 'NOT SEEN'}", flush=True)
    return int(unseen > 0)


if __name__ == "__main__":
    sys.exit(main())
