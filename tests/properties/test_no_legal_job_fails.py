"""No legal job gives a warning, an exception, or nothing where there should be a number."""

import json
import random
import re
from dataclasses import fields

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from curves import parse_job
from curves.cautions import cautions, survey
from curves.parts.labels import MAY_NOT_START
from curves.setups.stack import stack
from curves.steady.balance import top_speed
from curves.steady.braking import braking_envelope
from curves.steady.drive_off import drive_off
from curves.steady.envelope import envelope
from curves.steady.gains import torque_gains
from curves.studies.levers import tried
from curves.studies.sensitivity import sensitivity
from curves.studies.spread import top_speed_band
from curves.units import KMH
from curves.words.digits import spanned
from curves.words.levers import buys
from curves.words.sensitivity import measure_next
from tests.oracle.random_jobs import job as random_job

SOME = settings(max_examples=12, deadline=None)
SEEDS = st.integers(0, 10**9)
DRIVEN = ("torque", "rim_force", "shaft_power", "rim_power", "pack_power", "pack_voltage")
DRIVEN += ("pack_current", "phase_current", "current_d", "current_q")
OFF = ("brake_torque", "brake_force", "charging_current", "pack_voltage", "heat")


def rigs(seed):
    """One to three setups with every feature; braking, a rating and tolerances laid over them."""
    rng = random.Random(seed)
    tree = random_job(rng, rng.choice([1, 1, 2, 3]))
    for tune in tree["tune"].values():
        tune["regen_pack_current_a"] = rng.choice([0.0, rng.uniform(1, 60)])
    for control in tree.get("controller", {}).values():
        control["max_input_v"] = rng.uniform(30, 150)
    for motor in tree["motor"].values():
        motor["tolerance"] = {"kv_rpm_per_v": 0.03, "inductance_q_uh": 0.2, "resistance_ohm": 0.05}
    for bike in tree["bike"].values():
        bike["tolerance"] = {"bike_mass_kg": 0.05}
        if "drag_area_m2" in bike:
            bike["tolerance"]["drag_area_m2"] = 0.15
    return parse_job(json.dumps(tree), kind="json").rigs()


def whole(some, null):
    """Finite where not null, and null where null."""
    return bool(np.all(np.isfinite(some) != null))


@SOME
@given(SEEDS, st.lists(st.floats(0, 40), min_size=1, max_size=6))
def test_curves_and_braking(seed, speeds):
    made, v = rigs(seed), np.array(speeds)
    with np.errstate(all="raise", under="ignore"):
        drawn, braked = envelope(made, v), braking_envelope(made, v)
        gains = torque_gains(stack(made).batch(), drawn.gain)
    null = np.isnan(drawn.torque)
    for name in DRIVEN:
        assert whole(getattr(drawn, name), null), name
    # Efficiency is null also where nothing is drawn.
    assert whole(drawn.efficiency, null | (drawn.pack_power == 0))
    assert np.isfinite(drawn.rotor_speed).all()
    assert np.isfinite(drawn.road_force).all()
    ceilings = drawn.limited[..., 6:].any(axis=-1)
    assert np.all(~drawn.limited[..., :6].any(axis=-1) | ~null)
    assert np.all(drawn.limited.any(axis=-1) | null | (drawn.torque == 0) | ceilings)
    assert not any(np.isinf(x).any() for x in gains.values())
    off = np.isnan(braked.torque)
    for name in ("torque", "rim_force", "pack_power", "pack_current", "current_d", "current_q"):
        assert whole(getattr(braked, name), off), name
    assert np.all(braked.torque[~off] <= 0)


@SOME
@given(SEEDS)
def test_top_speed_its_gains_and_what_goes_with_it(seed):
    made = rigs(seed)
    with np.errstate(all="raise", under="ignore"):
        top = top_speed(made)
        off = drive_off(made, top)
        moved, gained = sensitivity(made), tried(made)
        band = top_speed_band(made)
        facts = survey(made, top)
    stuck = np.isnan(top.speed)
    for x in (top.drive_off_emf_v, top.pack_voltage, top.rim_force):
        assert whole(x, stuck)
    assert np.all(top.speed[~stuck] >= 0)
    for name, gain in top.gain.items():
        assert not np.isinf(gain).any(), name
        assert np.isnan(gain[stuck]).all(), name
    for name in OFF:
        assert whole(getattr(off, name), stuck), name
        assert np.all(getattr(off, name)[~stuck] >= 0), name
    assert np.isfinite(off.starts).all()
    for k, (rig, found, fact) in enumerate(zip(made, moved, facts, strict=True)):
        assert all(np.isfinite(x.kmh) for x in found.influences)
        assert (found.influences == ()) == bool(stuck[k] or top.speed[k] == 0)
        texts = [buys(gained[k], top.limited_by[k])]
        kept = (x[k] / KMH for x in (top.speed, *band))
        texts += [spanned(*kept, "km/h", none=MAY_NOT_START)]
        texts += [measure_next(found) or ""] + [c.text for c in cautions(rig, fact)]
        assert not re.search(r"\b(nan|inf)\b", " ".join(texts))
        assert {x.name for x in fields(fact)} == set(vars(fact))
