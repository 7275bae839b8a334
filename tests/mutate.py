"""Turn one sign of the model at a time and see that a test goes red: ``python -m tests.mutate``.

Each change is made in a copy of the repository, never here. It takes some minutes, so it is run by
hand after a change of the model, not with the other tests.
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
    "tests/outside",
    "tests/point/test_convex_program.py",
)


class Change(NamedTuple):
    """A term of the model, the file that has it, and how its sign is turned there."""

    term: str
    file: str
    old: str
    new: str


LIMITS, LOCUS = "curves/point/limits.py", "curves/point/locus.py"
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
    Change("no-load torque", "curves/envelope.py", "point.torque - d.no_load_torque -", "point.torque + d.no_load_torque -"),
    Change("no-load drag", "curves/envelope.py", "- d.no_load_drag * w\n", "+ d.no_load_drag * w\n"),
    Change("slope of the road", "curves/parts/bike.py", "        slope_force(mass_kg", "        -slope_force(mass_kg"),
    Change("rolling", "curves/parts/bike.py", "        + rolling_force(", "        - rolling_force("),
    Change("headwind", "curves/parts/bike.py", "(v + w) * np.abs(v + w))", "(v - w) * np.abs(v - w))"),
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
        if change.old not in text:
            raise ValueError(f"{change.file} has no {change.old!r}")
        file.write_text(text.replace(change.old, change.new), encoding="utf-8")
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *TESTS]
        done = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=False)
    failed = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return failed[0].split(" - ")[0] if failed else None


def main() -> int:
    """Print what each change did; 1 if one of them passed unseen."""
    unseen = 0
    with ThreadPoolExecutor(2) as pool:
        for change, test in zip(CHANGES, pool.map(red, CHANGES), strict=True):
            unseen += test is None
            print(f"{change.term}: {test or 'NOT SEEN'}", flush=True)
    return int(unseen > 0)


if __name__ == "__main__":
    sys.exit(main())
