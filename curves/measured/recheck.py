"""A few typed numbers against a setup's bands: agree or not, and the likeliest suspects in order.

To first order: every input is moved by its standard uncertainty, and the suspect is the one whose
move, alone and at its price in likelihood, makes most of the mismatch go away.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from curves import digits
from curves.balance import batch_top_speed
from curves.energy import consumption
from curves.heat import settled
from curves.parts.reading import refuse, show
from curves.parts.rig import Rig
from curves.roots import Array
from curves.stack import Stack, stack
from curves.studies.spread import BAND
from curves.studies.tolerances import USUAL, kept_possible, unsure
from curves.units import KMH

ABSOLUTE: Final[Mapping[str, tuple[float, float, float]]] = {
    "setup.state_of_charge": (0.05, 0.0, 1.0),
    "conditions.headwind_kmh": (4.0, -100.0, 100.0),
    "conditions.grade_percent": (0.3, -50.0, 50.0),
}
"""Suspects whose uncertainty is no share of them: standard uncertainty, least and most
(common practice)."""
STILL: Final = 1e-6
"""Share of its meter's uncertainty by which an input must move a number to count."""
WORTH: Final = 0.2
"""Share of the mismatch that a suspect must explain."""
MOST: Final = 5
"""Suspects that are named."""


@dataclass(frozen=True)
class Typed:
    """What was read without a logger; leave out what was not.

    Attributes:
        top_speed_kmh: On the level, no wind, as the job's conditions say.
        resting_v: Of the pack, before the ride.
        loaded_v: Of the pack under ``amperes``.
        amperes: The known current.
        motor_c: Winding temperature once it no longer rises at ``motor_speed_kmh``.
        motor_speed_kmh: The steady speed it was read at.
        wh_per_km: At the controller's input, at ``wh_speed_kmh``.
        wh_speed_kmh: The steady speed it was read at.
    """

    top_speed_kmh: float | None = None
    resting_v: float | None = None
    loaded_v: float | None = None
    amperes: float | None = None
    motor_c: float | None = None
    motor_speed_kmh: float | None = None
    wh_per_km: float | None = None
    wh_speed_kmh: float | None = None


METERS: Final[Mapping[str, tuple[float, float]]] = {
    "top_speed_kmh": (0.01, 0.3),
    "resting_v": (0.003, 0.05),
    "loaded_v": (0.003, 0.1),
    "motor_c": (0.0, 4.0),
    "wh_per_km": (0.03, 0.1),
}
"""Standard uncertainty of a typed number, a share of it and an amount (common practice)."""
WORDS: Final[Mapping[str, tuple[str, str]]] = {
    "top_speed_kmh": ("top speed", "km/h"),
    "resting_v": ("resting volts", "V"),
    "loaded_v": ("volts under load", "V"),
    "motor_c": ("motor temperature", "°C"),
    "wh_per_km": ("energy", "Wh/km"),
}
WITH: Final[Mapping[str, str]] = {
    "loaded_v": "amperes",
    "motor_c": "motor_speed_kmh",
    "wh_per_km": "wh_speed_kmh",
}
"""What a number means nothing without."""


@dataclass(frozen=True)
class Check:
    """One typed number beside its prediction.

    Attributes:
        quantity: Its name in ``Typed``.
        title: For people.
        unit: For people.
        measured: As typed.
        predicted: Of the job; NaN where it predicts none.
        low: Lower end of the prediction's band, 5 %.
        high: Upper end, 95 %.
        agrees: Whether they agree, the meter's own uncertainty included.
    """

    quantity: str
    title: str
    unit: str
    measured: float
    predicted: float
    low: float
    high: float
    agrees: bool


@dataclass(frozen=True)
class Suspect:
    """An input that may be wrong.

    Attributes:
        field: Of the stack.
        value: In the job.
        needed: What it would have to be, alone, to fit best.
        sigmas: By how many of its standard uncertainties that is off.
        explains: Share of the mismatch that goes away with it, 0 to 1.
    """

    field: str
    value: float
    needed: float
    sigmas: float
    explains: float


@dataclass(frozen=True)
class Recheck:
    """What a few typed numbers say of a setup.

    Attributes:
        checks: Each number beside its prediction.
        suspects: The likeliest first; none where all agree.
        sentences: The same in words.
    """

    checks: tuple[Check, ...]
    suspects: tuple[Suspect, ...]
    sentences: tuple[str, ...]


def recheck(rig: Rig, typed: Typed) -> Recheck:
    """Typed numbers against a setup's bands.

    Args:
        rig: the setup.
        typed: what was read.

    Raises:
        JobError: if nothing was typed, or a number that means nothing alone.
    """
    asked = _asked(typed)
    read = np.array([getattr(typed, name) for name in asked], dtype=np.float64)
    meter = np.array(
        [METERS[name][0] * abs(x) + METERS[name][1] for name, x in zip(asked, read, strict=True)]
    )
    moves = _moves(rig)
    base = stack([rig])
    predicted = predictions(base, typed, asked)[0]
    per_sigma = _slopes(base, moves, typed, asked)
    told = np.array([move.told for move in moves], dtype=np.bool_)
    spread = np.sqrt(np.sum(per_sigma[told] ** 2, axis=0))
    off = read - predicted
    agrees = np.abs(off) <= BAND * np.hypot(spread, meter)
    checks = tuple(
        Check(
            name,
            *WORDS[name],
            float(read[k]),
            float(predicted[k]),
            float(predicted[k] - BAND * spread[k]),
            float(predicted[k] + BAND * spread[k]),
            bool(agrees[k]),
        )
        for k, name in enumerate(asked)
    )
    known = np.isfinite(off)
    suspects = (
        ()
        if agrees[known].all()
        else _suspects(moves, per_sigma[:, known], off[known], meter[known])
    )
    return Recheck(checks, suspects, tuple(_sentences(checks, suspects)))


def predictions(setups: Stack, typed: Typed, asked: tuple[str, ...]) -> Array:
    """What setups predict of the numbers that were typed.

    Args:
        setups: the setups.
        typed: says at which current and speeds.
        asked: names in ``Typed``.

    Returns:
        In the numbers' units, shape (setups, asked); NaN where a setup does not get there.
    """
    batch = setups.batch()
    each = np.ones(batch.size)

    def motor_c() -> Array:
        at = settled(setups, each * (typed.motor_speed_kmh or 0.0) * KMH, slower=False)
        return np.where(at.held & np.isfinite(at.winding_c), at.winding_c, np.nan)

    ways: Mapping[str, Callable[[], Array]] = {
        "top_speed_kmh": lambda: batch_top_speed(batch, setups.names).speed / KMH,
        "resting_v": lambda: batch.drive.open_circuit_v[:, 0],
        "loaded_v": lambda: (
            batch.drive.open_circuit_v - batch.drive.pack_resistance * (typed.amperes or 0.0)
        )[:, 0],
        "motor_c": motor_c,
        "wh_per_km": lambda: consumption(
            setups, np.array([(typed.wh_speed_kmh or 0.0) * KMH])
        ).wh_per_km[:, 0],
    }
    return np.column_stack([np.broadcast_to(ways[name](), (batch.size,)) for name in asked])


@dataclass(frozen=True)
class _Move:
    """An input and what one standard uncertainty of it is, in its unit."""

    fields: tuple[str, ...]
    value: float
    sigma: float
    told: bool


def _asked(typed: Typed) -> tuple[str, ...]:
    asked = tuple(name for name in METERS if getattr(typed, name) is not None)
    if not asked:
        refuse("recheck", f"needs at least one of {', '.join(METERS)}")
    for name in asked:
        other, value = WITH.get(name), getattr(typed, name)
        if not np.isfinite(value) or (value <= 0 and name != "motor_c"):
            refuse(name, "must be a number above 0", show(value))
        if other is not None and not (getattr(typed, other) or 0) > 0:
            refuse(name, f"means nothing without {other}, above 0")
    return asked


def _moves(rig: Rig) -> list[_Move]:
    """Every input that may be wrong: those with a tolerance, and those that usually have one."""
    base = stack([rig]).values
    found: dict[tuple[str, ...], _Move] = {}
    for name, one in unsure(rig).items():
        value = float(base[name][0])
        found[one.fields] = _Move(one.fields, value, one.share * abs(value), told=True)
    taken = {field for fields in found for field in fields}
    for name, share in USUAL.items():
        if name in taken or name not in base:
            continue
        value = float(base[name][0])
        if np.isfinite(value) and value != 0:
            found[(name,)] = _Move((name,), value, share * abs(value), told=False)
    for name, (sigma, _, _) in ABSOLUTE.items():
        found[(name,)] = _Move((name,), float(base[name][0]), sigma, told=False)
    return list(found.values())


def _slopes(base: Stack, moves: list[_Move], typed: Typed, asked: tuple[str, ...]) -> Array:
    """Change of each prediction by one standard uncertainty of each input, (inputs, asked)."""
    sides = []
    spans = np.zeros((2, len(moves)))
    for side, sign in enumerate((1.0, -1.0)):
        values: dict[str, Array] = {}
        for row, move in enumerate(moves):
            for field in move.fields:
                start = float(base.values[field][0])
                column = values.setdefault(field, np.full(len(moves), start))
                share = move.sigma / abs(move.value) if move.value else 0.0
                by = move.sigma if field in ABSOLUTE else share * start
                column[row] = _possible(field, start + sign * by)
                if field == move.fields[0]:
                    spans[side, row] = abs(column[row] - start) / move.sigma
        sides.append(predictions(base.vary(values), typed, asked))
    span = np.maximum(spans.sum(axis=0), 1e-9)[:, None]
    return np.asarray(np.nan_to_num((sides[0] - sides[1]) / span))


def _possible(field: str, value: float) -> float:
    if field in ABSOLUTE:
        return float(np.clip(value, *ABSOLUTE[field][1:]))
    return float(kept_possible(field, np.array(value)))


def _suspects(moves: list[_Move], slopes: Array, off: Array, meter: Array) -> tuple[Suspect, ...]:
    """Each input alone, by how much likelier its best move makes what was read."""
    scaled, wrong = slopes / meter, off / meter
    before = float(wrong @ wrong)
    weight = np.sum(scaled**2, axis=1)
    along = scaled @ wrong
    moved = weight > STILL**2
    sigmas = np.where(moved, along / np.where(moved, weight, 1.0), 0.0)
    # One standard uncertainty of its own costs as much as one of a meter.
    gain = along**2 / (1 + weight)
    explains = np.where(moved, along**2 / np.where(moved, weight, 1.0), 0.0) / before
    order: NDArray[np.intp] = np.argsort(-gain)
    return tuple(
        Suspect(
            field=moves[k].fields[0],
            value=moves[k].value,
            needed=moves[k].value + float(sigmas[k]) * moves[k].sigma,
            sigmas=float(sigmas[k]),
            explains=float(explains[k]),
        )
        for k in order[:MOST]
        if explains[k] >= WORTH
    )


def _sentences(checks: tuple[Check, ...], suspects: tuple[Suspect, ...]) -> list[str]:
    said = []
    for check in checks:
        if np.isnan(check.predicted):
            said.append(f"The job predicts no {check.title}: it lacks what that takes.")
            continue
        word = "agrees" if check.agrees else "does not agree"
        low, high = (digits.digits(x) for x in (check.low, check.high))
        said.append(
            f"{check.title[0].upper()}{check.title[1:]} {word}: {check.measured:g} {check.unit} "
            f"against {low} to {high}."
        )
    for suspect in suspects:
        from_, to = (digits.digits(x) for x in (suspect.value, suspect.needed))
        said.append(
            f"{suspect.field}: {to} instead of {from_} would explain {suspect.explains:.0%} of "
            f"what is off ({abs(suspect.sigmas):.1f} of its usual uncertainties)."
        )
    if not suspects and not all(check.agrees or np.isnan(check.predicted) for check in checks):
        said.append("No single input explains it: more than one is off, or a reading is wrong.")
    return said
