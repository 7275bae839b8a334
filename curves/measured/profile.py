"""A motor profile from bench readings, each value with its source and uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pydantic import ValidationError

from curves.errors import JobError, Problem
from curves.measured.bench import Derived, derive
from curves.measured.estimate import Estimate
from curves.measured.readings import Bench
from curves.measured.rows import VoltKind
from curves.measured.spinning import KIND_WORDS, PEAK_VOLTS
from curves.parts.job import Job
from curves.parts.motor import Motor
from curves.parts.problems import problems
from curves.parts.profiles import PROFILE_FORMAT, lay_over
from curves.parts.reading import Tree
from curves.units import PEAK_PER_RMS, RPM

FROM = {
    "kv_rpm_per_v": "[[back_emf]] or [[no_load]] readings, or [kv_stated]",
    "resistance_ohm": "[[resistance]] readings",
    "inductance_d_uh": "[[inductance]] readings",
    "inductance_q_uh": "[[inductance]] readings",
    "pole_pairs": "[[poles]] readings, or a count in [not_measured] pole_pairs",
}
"""What a profile cannot do without, and what gives it."""
UNITS = {
    "kv_rpm_per_v": "rpm/V",
    "resistance_ohm": "Ω",
    "inductance_d_uh": "µH",
    "inductance_q_uh": "µH",
    "pole_pairs": "",
    "no_load_torque_nm": "N·m",
    "no_load_torque_nm_per_rad_s": "N·m per rad/s",
    "pack_resistance_ohm": "Ω",
    "circumference_m": "m",
    "max_modulation": "",
}
"""Of what readings give."""
MEASURED = (*FROM, "no_load_torque_nm", "no_load_torque_nm_per_rad_s")


@dataclass(frozen=True)
class Profile:
    """A motor from bench readings.

    Attributes:
        motor: The motor, valid in a job.
        text: The profile, TOML: a file to keep beside a job.
        fields: The same as plain values: what was measured or given, with sources and tolerance.
        derived: What the readings gave, the pack's resistance and the roll-out among it.
        kv_stated_as: Kv in the ways others state it, rpm per volt of each kind.
        torque_per_ampere: N·m per ampere, by the kind of ampere.
        warnings: What should be looked at again.
    """

    motor: Motor
    text: str
    fields: Tree
    derived: Derived
    kv_stated_as: dict[str, float]
    torque_per_ampere: dict[str, float]
    warnings: tuple[str, ...]


def motor_profile(bench: Bench, *, name: str = "bench") -> Profile:
    """A profile from readings, laid over what the file says was not measured.

    Args:
        bench: the readings.
        name: of the file, for messages.

    Raises:
        JobError: if something a motor needs was neither measured nor given.
    """
    derived = derive(bench)
    given = bench.not_measured.model_dump(exclude_unset=True, exclude_none=True)
    missing = [field for field in FROM if field not in derived.values and field not in given]
    if missing:
        raise JobError(
            Problem(f"{name}: {field}", "", f"is not known: it takes {FROM[field]}")
            for field in missing
        )
    tree = _tree(bench, derived, given)
    try:
        motor = Motor.model_validate(tree)
    except ValidationError as error:
        raise JobError(problems(error, Motor, tree, name)) from None
    kv, pairs = motor.kv_rpm_per_v, motor.pole_pairs
    modulation = bench.drive.max_modulation
    return Profile(
        motor=motor,
        text=profile_text(bench.title, tree),
        fields=tree,
        derived=derived,
        kv_stated_as={word: kv_per(kv, kind, modulation) for kind, word in KIND_WORDS.items()},
        torque_per_ampere=torque_per_ampere(kv),
        warnings=(*derived.warnings, *_unsure(derived, pairs)),
    )


def put_into(job: Job, motor: str, found: Profile) -> Job:
    """The job with what was measured laid over one of its motors; the old job stays.

    Args:
        job: the job.
        motor: name of the motor; one that the job does not have is added.
        found: what was measured.

    Raises:
        JobError: if the motor would not be one any more.
    """
    old = job.tree().get("motor", {}).get(motor, {})
    new = lay_over(old, found.fields) if old else found.fields
    return job.replace(("motor", motor), new)


def kv_per(kv: float, kind: VoltKind, modulation: float = 1.0) -> float:
    """Kv as others state it.

    Args:
        kv: rpm per peak line-to-line volt.
        kind: the volt it is to be stated for.
        modulation: share of the linear voltage limit that a DC volt is turned to account for.
    """
    return kv * (modulation if kind == "dc volt" else PEAK_VOLTS[kind])


def torque_per_ampere(kv: float) -> dict[str, float]:
    """Torque constants of a sinusoidal motor, N·m per ampere.

    ``T = 1.5 p λ I`` with ``p λ = 1 / (√3 Kv)``; the DC convention is ``1 / Kv`` (SI).

    Args:
        kv: rpm per peak line-to-line volt.
    """
    per_peak = 1.5 / (math.sqrt(3) * kv * RPM)
    return {
        "peak phase ampere": per_peak,
        "rms phase ampere": per_peak * PEAK_PER_RMS,
        "ampere in the DC convention": 1 / (kv * RPM),
    }


def profile_text(title: str, tree: Tree) -> str:
    """A motor's fields as the TOML of a profile, each beside its source and tolerance.

    Args:
        title: what was measured, for the comment on top.
        tree: fields of the motor, with ``sources`` and ``tolerance``.
    """
    import tomlkit  # slow to import, and needed only to write

    document = tomlkit.document()
    document.add(tomlkit.comment(title))
    document.add(tomlkit.nl())
    document.add("format", PROFILE_FORMAT)
    notes = {"source", "sources", "tolerance"}
    if "source" in tree:
        document.add("source", tree["source"])
    for name, value in tree.items():
        if name in notes:
            continue
        document.add(tomlkit.nl())
        document.add(name, [list(row) for row in value] if isinstance(value, tuple) else value)
        for note in ("sources", "tolerance"):
            if name in tree[note]:
                document.append(tomlkit.key([note, name]), tomlkit.item(tree[note][name]))
    return tomlkit.dumps(document)


def _tree(bench: Bench, derived: Derived, given: Tree) -> Tree:
    """Fields of the motor: the measured ones first, laid over those that were given."""
    note = f"; {bench.note}" if bench.note else ""
    tree: Tree = {}
    sources: Tree = dict(given.get("sources", {}))
    tolerance: Tree = dict(given.get("tolerance", {}))
    for field in MEASURED:
        if field not in derived.values:
            continue
        found = derived.values[field]
        tree[field] = int(found.value) if field == "pole_pairs" else rounded(found)
        count = f", {found.readings} readings" if found.readings > 1 else ""
        kind = "measured" if found.readings else "maker"
        sources[field] = f"{kind}: {found.how}{count}{note}"
        tolerance.pop(field, None)
        if found.uncertainty > 0 and found.value > 0:
            tolerance[field] = min(float(f"{found.uncertainty / found.value:.2g}"), 1.0)
    rest = {
        key: value for key, value in given.items() if key not in {*tree, "sources", "tolerance"}
    }
    return {**rest, **tree, "sources": sources, "tolerance": tolerance}


def rounded(found: Estimate) -> float:
    """A value without digits far below its uncertainty: two beyond the first unsure one."""
    if not found.uncertainty > 0 or found.value == 0:
        return float(f"{found.value:.6g}")
    return round(found.value, 2 - math.floor(math.log10(found.uncertainty)))


def _unsure(derived: Derived, pairs: int) -> list[str]:
    """A word on each value that is hardly known."""
    said = [
        f"{field} is known to {found.uncertainty / found.value:.0%} only."
        for field, found in derived.values.items()
        if found.value > 0 and found.uncertainty > 0.15 * found.value
    ]
    if pairs > 60:
        said.append(f"{pairs} pole pairs are many: is the speed that of the rotor, before gears?")
    return said
