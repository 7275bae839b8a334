"""What the page for the controller prints is set in the job, and then no caution forbids it."""

import json
import random

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from curves import parse_job
from curves.cautions import cautions, fit, instead, survey
from tests.oracle.random_jobs import job as random_job

SOME = settings(max_examples=60, deadline=None)
SETTABLE = {
    "controller-phase",
    "controller-current",
    "pack-current",
    "cutoff-below-full",
    "cutoff-order",
    "foldback",
    "electrical-speed-top",
    "electrical-speed-no-load",
    "rotor-speed",
    "pack-peak",
    "pack-continuous",
    "deep-discharge",
    "characteristic-current",
    "drive-off-controller",
}
"""Keys of what a setting in the controller cures."""


def made(seed):
    """A random setup with ratings that its tune may pass."""
    rng = random.Random(seed)
    tree = random_job(rng)
    (pack,), (motor,) = tree["pack"].values(), tree["motor"].values()
    control = tree.setdefault("controller", {}).setdefault("s0", {})
    tree["setup"][0]["controller"] = "s0"
    if rng.random() < 0.5:
        pack["continuous_current_a"] = rng.uniform(2, 80)
    if rng.random() < 0.5:
        control["max_input_v"] = rng.uniform(20, 150)
    if rng.random() < 0.3:
        motor["winding_limit_c"] = rng.uniform(90, 180)
        control["winding_foldback_c"] = [rng.uniform(70, 130), rng.uniform(131, 200)]
    return parse_job(json.dumps(tree), kind="json")


def against(rig, facts):
    """What speaks against a setup that a setting would cure."""
    some = {r.key for r in fit(rig, facts).against}
    # A notice forbids nothing: a short pull above what is borne for good.
    some |= {c.key for c in cautions(rig, facts) if c.severity in ("danger", "warning")}
    return some & SETTABLE


@SOME
@given(st.integers(0, 10**9))
def test_what_is_printed_instead_is_what_no_caution_forbids(seed):
    job = made(seed)
    (rig,) = job.rigs()
    (facts,) = survey([rig])
    assume(facts.starts and not facts.coasts)
    right = instead(rig, facts)
    assert bool(right) or not against(rig, facts)
    # Where the pack itself is wrong no setting helps.
    pack = right.pop("bms_cutoff_v", None)
    assume(pack is None or pack.value is not None)
    cutoff = right.get("low_voltage_cutoff_v")
    assume(cutoff is None or cutoff.value is not None or rig.pack.bms_cutoff_v is None)
    if pack is not None:
        job = job.replace("pack.s0.bms_cutoff_v", pack.value)
    tree = job.tree()
    control = tree["controller"]["s0"]
    for field, put in right.items():
        if field == "foldback_start_v":
            del control["foldback_start_v"], control["foldback_end_v"]
        elif field == "winding_foldback_c":
            control[field][1] = put.value or assume(False)
        elif put.value is None:
            tree["tune"]["s0"].pop(field)
        else:
            tree["tune"]["s0"][field] = put.value
    (after,) = parse_job(json.dumps(tree), kind="json").rigs()
    (then,) = survey([after])
    assume(not then.coasts)
    assert against(after, then) == set()
