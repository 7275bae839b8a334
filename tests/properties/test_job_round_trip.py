"""Any legal job survives being written and read; no text makes the reader stumble."""

import contextlib
import json

from hypothesis import given, settings
from hypothesis import strategies as st

from curves import JobError, dump_job, parse_job
from curves.parts import Job


def numbers(low, high):
    return st.floats(low, high, allow_nan=False) | st.integers(int(low) + 1, int(high))


def optional(strategies):
    return st.fixed_dictionaries({}, optional=strategies)


def joined(*tables):
    return st.tuples(*tables).map(lambda parts: {k: v for part in parts for k, v in part.items()})


NAMES = st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=12)
MOTORS = joined(
    st.fixed_dictionaries(
        {
            "kv_rpm_per_v": numbers(1, 500),
            "resistance_ohm": numbers(0, 5),
            "inductance_d_uh": numbers(0, 100),
            "inductance_q_uh": numbers(100, 900),
            "pole_pairs": st.integers(1, 50),
        }
    ),
    optional(
        {
            "no_load_torque_nm": numbers(0, 3),
            "gear_efficiency": st.floats(0.5, 1),
            "overrunning_clutch": st.booleans(),
            "winding_limit_c": numbers(80, 200),
            "torque_derating": st.just([[30.0, 1.0], [60.0, 0.9]]),
            "source": NAMES.map(lambda text: f"measured {text}"),
            "tolerance": st.just({"kv_rpm_per_v": 0.02}),
            "sources": NAMES.map(lambda text: {"pole_pairs": f"maker {text}"}),
        }
    ),
)
PACKS = st.fixed_dictionaries(
    {
        "cell": st.sampled_from(["nmc-21700", "lfp-26650"]),
        "series": st.integers(1, 40),
        "parallel": st.integers(1, 20),
        "cell_resistance_mohm": numbers(0, 100),
    },
    optional={"mass_kg": numbers(0, 20), "bms_cutoff_v": numbers(0, 100)},
) | st.fixed_dictionaries({"open_circuit_v": numbers(1, 120), "resistance_ohm": numbers(0, 2)})
TUNES = st.fixed_dictionaries(
    {"phase_current_a": numbers(0, 400)},
    optional={
        "current_basis": st.sampled_from(["peak", "rms"]),
        "power_cap_w": numbers(0, 9000),
        "speed_cap_kmh": numbers(0, 90),
    },
)
BIKES = joined(
    st.fixed_dictionaries({"bike_mass_kg": numbers(10, 90), "rider_kg": numbers(0, 150)}),
    st.fixed_dictionaries({"circumference_m": numbers(0.5, 3)}) | st.just({"tyre": "57-507"}),
    st.fixed_dictionaries(
        {"rolling_coefficient": st.floats(0, 0.1), "drag_area_m2": st.floats(0, 2)}
    )
    | st.fixed_dictionaries({"road_load_n": st.tuples(*[numbers(0, 9)] * 3).map(list)}),
    st.just({}) | st.fixed_dictionaries({"gear_ratios": st.lists(numbers(0.3, 4), min_size=1)}),
)


@st.composite
def jobs(draw):
    parts = {
        kind: draw(st.dictionaries(NAMES, tables, min_size=1, max_size=2))
        for kind, tables in (("motor", MOTORS), ("pack", PACKS), ("tune", TUNES), ("bike", BIKES))
    }
    names = draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))
    rows = [
        {
            "name": name,
            **{kind: draw(st.sampled_from(sorted(named))) for kind, named in parts.items()},
            "state_of_charge": draw(st.floats(0, 1)),
        }
        for name in names
    ]
    top = {"format": "rimforce-job-1", "title": draw(NAMES), "compare_to": names[-1]}
    return {**top, **parts, "setup": rows}


@given(jobs())
@settings(deadline=None)
def test_toml_and_json_give_the_job_back(tree):
    job = Job.model_validate(tree)
    assert parse_job(dump_job(job)) == job
    assert parse_job(json.dumps(tree)) == job
    assert parse_job(json.dumps(job.tree())).tree() == job.tree()


@given(jobs(), st.integers(1, 40))
@settings(deadline=None, max_examples=30)
def test_an_edit_undone_is_no_edit(tree, charge):
    job = Job.model_validate(tree)
    old = job.setup[0].state_of_charge
    edited = job.replace(("setup", 0, "state_of_charge"), charge / 40)
    assert edited.setup[0].state_of_charge == charge / 40
    assert edited.replace(("setup", 0, "state_of_charge"), old) == job


@given(st.text(max_size=200) | st.text('[]{}"=.,#\n 1aé', max_size=200))
@settings(deadline=None)
def test_any_text_is_a_job_or_a_job_error(text):
    with contextlib.suppress(JobError):
        parse_job(text)


PLACES = ("motor", "pack", "tune", "bike", "setup", "conditions", "goals", "title", "compare_to")
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(jobs(), st.sampled_from(PLACES), VALUES)
@settings(deadline=None)
def test_any_value_anywhere_is_a_job_or_a_job_error(tree, place, value):
    with contextlib.suppress(JobError):
        parse_job(json.dumps({**tree, place: value}))
