"""A gain is what one unit more of a limit brings, all that follows from it included.

Held against whole setups worked out twice: as they are, and with a little more of one input.
"""

import json
import random

import numpy as np
import pytest

from curves import parse_job
from curves.setups.stack import stack
from curves.steady.envelope import batch_envelope, draw
from curves.steady.gains import torque_gains
from tests.oracle.random_jobs import job as random_job

SHARES = np.array([0.02, 0.45, 0.75, 0.95, 1.2])
"""Speeds, as shares of Kv times the pack's volts, at which gains are asked."""
STEP = 2e-5
"""Share of its own size by which an input is raised, and then half of that."""
AMPERES = {
    "phase_a": ("tune.phase_current_a", "controller.max_phase_current_a"),
    "pack_a": ("tune.pack_current_a", "controller.max_pack_current_a", "pack.peak_current_a"),
    "weakening_a": ("tune.field_weakening_a",),
    "w": ("tune.power_cap_w",),
}
"""A limit is the least of these, so more of it is more of each."""
KINDS = {
    "plain": 60,
    "low volts": 60,
    "saturated": 15,
    "hot": 60,
    "without mtpa": 60,
    "torque alone": 60,
}
"""What sets the limits in motion, and how many setups of it: saturation has no closed form."""


def random_rigs(kind, seed):
    """Random setups, most of them with one thing that limits set in motion."""
    rng = random.Random(f"{kind} {seed}")
    rigs = []
    while len(rigs) < KINDS[kind]:
        tree = random_job(rng)
        motor, tune = tree["motor"]["s0"], tree["tune"]["s0"]
        control = tree.setdefault("controller", {}).setdefault("s0", {})
        tree["setup"][0]["controller"] = "s0"
        phase = tune["phase_current_a"]
        if kind == "low volts":
            pack = tree["pack"]["s0"]
            volts = 3.7 * pack["series"] if "cell" in pack else pack["open_circuit_v"]
            control["foldback_start_v"] = volts * rng.uniform(0.8, 1.15)
            control["foldback_end_v"] = volts * rng.uniform(0.4, 0.78)
            tune.pop("low_voltage_cutoff_v", None)
            pack.pop("bms_cutoff_v", None)
        if kind == "saturated":
            first = phase * rng.uniform(0.1, 0.6)
            motor["torque_derating"] = [[first, 1.0], [2 * first, 0.9], [4 * first, 0.8]]
        if kind == "hot":
            warm = tree["setup"][0].setdefault("winding_c", 60.0)
            control["winding_foldback_c"] = [warm - rng.uniform(1, 30), warm + rng.uniform(5, 60)]
        control["mtpa"] = kind != "without mtpa"
        tune["phase_limit"] = "torque" if kind == "torque alone" else "vector"
        rigs += parse_job(json.dumps(tree), kind="json").rigs()
    return rigs


def speeds(setups):
    """Road speeds of each setup, m/s."""
    b = setups.batch()
    d = b.drive
    ideal = d.modulation * d.open_circuit_v / (np.sqrt(3) * d.pole_pairs * d.flux)
    return ideal * b.radius / b.ratio[:, :1] * SHARES


@pytest.mark.parametrize("kind", KINDS)
def test_a_little_more_of_a_limit_brings_what_its_gain_says(kind):
    setups = stack(random_rigs(kind, 1))
    batch, v = setups.batch(), speeds(setups)
    drawn = batch_envelope(batch, setups.names, v)
    gains = torque_gains(batch, drawn.gain)

    def torque(changed):
        return draw(changed, v).torque

    def more(name, step):
        if name == "pack_v":
            d = batch.drive
            raised = d._replace(open_circuit_v=d.open_circuit_v + step[:, None])
            return torque(batch._replace(drive=raised))
        changes = {field: setups.values[field] + step for field in AMPERES[name]}
        return torque(setups.vary(changes).batch())

    size = {
        "phase_a": setups.of("tune.phase_current_a"),
        "pack_a": np.nanmin([setups.of(f, np.inf) for f in AMPERES["pack_a"]], axis=0),
        "weakening_a": setups.of("tune.phase_current_a"),
        "w": setups.of("tune.power_cap_w", 1.0),
        "pack_v": batch.drive.open_circuit_v[:, 0],
    }
    bad = []
    for name, of in size.items():
        unit = np.where(np.isinf(of), 1.0, of)
        wide, narrow = (
            (more(name, h * unit) - drawn.torque) / (h * unit)[:, None] for h in (STEP, STEP / 2)
        )
        wanted, bend = 2 * narrow - wide, np.abs(narrow - wide)
        # Torque is right to some 1e-12, a difference of it over 1e-5 of an input to 1e-7 of
        # torque over input; the bend is what the two steps leave unsaid.
        blur = 1e-6 * np.nanmax(drawn.torque, axis=1, initial=0.0) / unit
        off = np.abs(gains[name] - wanted) > 1e-5 * np.abs(wanted) + 3 * bend + blur[:, None]
        known = ~np.isnan(gains[name]) & ~np.isnan(wanted)
        bad += [
            (name, int(k), int(j), gains[name][k, j], wanted[k, j], drawn.limited[k, j])
            for k, j in np.argwhere(off & known)
        ]
        assert np.any(known & (wanted > blur[:, None])), name
    assert not bad, (len(bad), bad[:8])
