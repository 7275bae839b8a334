"""What each setup asks of its parts, in plain numbers; computed for all setups at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.point.limits import SQRT3, power_limits, sagged_voltage
from curves.setups.batch import Batch
from curves.setups.stack import Stack, stack
from curves.steady.balance import COASTING, TopSpeed, batch_top_speed
from curves.steady.drive_off import DriveOff, stack_drive_off
from curves.steady.envelope import draw, input_power_at
from curves.steady.starting import held_at_rest, starts

LOOKS = 12
"""Speeds from rest to top at which currents are looked at, besides the base speed."""


@dataclass(frozen=True)
class Facts:
    """What one setup asks and what it can reach. SI, phase currents in peak amperes, NaN for none.

    Attributes:
        name: The setup.
        full_v: Pack volts charged full; for a source that does not say, its open-circuit volts.
        rest_v: Open-circuit volts at the setup's charge.
        cutoff_v: The higher of the tune's and the BMS's cut-off, 0 for none.
        top_speed: m/s.
        coasts: Whether the road, not the motor, makes that speed.
        no_load_speed: Wheel off the ground, at the setup's charge, no cap or ceiling, m/s.
        top_rotor_speed: Rotor speed at top speed, rad/s; no more than no-load with a clutch.
        no_load_rotor_speed: Rotor speed there, held by the tune's speed cap, rad/s; infinite where
            field weakening drives on without end.
        pole_pairs: Rotor to electrical speed.
        asked_pack_a: The most pack current the tune may call for: its own limit, or its power cap
            at the lowest volts it allows; infinite where the tune sets neither.
        pack_a: The most pack current between rest and top speed, within every rating.
        steady_pack_a: Pack current at top speed.
        phase_a: The most phase current between rest and top speed.
        asked_phase_a: The most the tune may call for.
        weakening_a: The most of -i_d the tune may call for, most torque per ampere included.
        characteristic_a: Flux over Ld: weakening past it stops paying; infinite for no inductance.
        coldest_c: The temperature of the strongest magnets: the coldest of these conditions.
        volts_per_rotor_speed: Line-to-line peak back-EMF of the coldest magnet, V per rad/s.
        rotor_per_road: Rotor rad/s per m/s of road in the tallest gear.
        brakes_above: Road speed above which a drive that goes off leaves the motor braking itself,
            m/s; none behind a freewheel.
        harms_above: Road speed above which its back-EMF passes the controller's rated volts, m/s.
        off_brake_force: The most it then brakes with at top speed, at the rim, N.
        off_charging_a: The most it then charges the pack with, A.
        wheel_torque: The most torque at the wheel, N m.
        shaft_power: The most power at the rotor, W.
        mass: With pack, rider and load, kg.
        allowed_w: The most power at the controller's input that pack and tune allow, W; below 0
            for a pack at its cut-off.
        rest_force: At rest, at the rim, N; NaN where nothing turns the motor.
        rest_load: What the road asks at rest, N.
        held_at_rest: The words of what limits the force at rest; empty for one that starts.
    """

    name: str
    full_v: float
    rest_v: float
    cutoff_v: float
    top_speed: float
    coasts: bool
    no_load_speed: float
    top_rotor_speed: float
    no_load_rotor_speed: float
    pole_pairs: float
    asked_pack_a: float
    pack_a: float
    steady_pack_a: float
    phase_a: float
    asked_phase_a: float
    weakening_a: float
    characteristic_a: float
    coldest_c: float
    volts_per_rotor_speed: float
    rotor_per_road: float
    brakes_above: float
    harms_above: float
    off_brake_force: float
    off_charging_a: float
    wheel_torque: float
    shaft_power: float
    mass: float
    allowed_w: float
    rest_force: float
    rest_load: float
    held_at_rest: tuple[str, ...]

    @property
    def starts(self) -> bool:
        """Whether it starts on the road it is asked on."""
        return bool(starts(self.top_speed))

    @property
    def top_emf(self) -> float:
        """Line-to-line peak back-EMF at top speed with the drive off, coldest magnet, V."""
        return self.top_rotor_speed * self.volts_per_rotor_speed

    @property
    def no_load_emf(self) -> float:
        """The same with the wheel off the ground, V."""
        return self.no_load_rotor_speed * self.volts_per_rotor_speed


def survey(rigs: Sequence[Rig], top: TopSpeed | None = None) -> tuple[Facts, ...]:
    """The facts of every setup.

    Args:
        rigs: the setups, as ``Job.rigs`` gives them.
        top: their top speeds, computed here if left out.
    """
    if not rigs:
        return ()
    setups = stack(rigs)
    b = setups.batch()
    if top is None:
        top = batch_top_speed(b, setups.names)
    off = stack_drive_off(setups, top)
    columns = _asked(rigs, b) | _reached(b, top) | _motors(setups, b) | _off(off)
    # A motor that drives and has no no-load speed is weakened without end.
    endless = np.isnan(top.no_load_speed) & ~np.isnan(top.speed)
    off_ground = np.where(endless, np.inf, top.no_load_speed)
    off_ground = np.where(np.isnan(off_ground), np.nan, np.minimum(off_ground, b.speed_cap[:, 0]))
    columns["no_load_rotor_speed"] = off_ground * columns["rotor_per_road"]
    stuck = np.flatnonzero(~starts(top.speed))
    held = dict(zip(stuck.tolist(), held_at_rest(b.pick(stuck)), strict=True)) if stuck.size else {}
    return tuple(
        Facts(
            name=rig.name,
            coasts=COASTING in top.limited_by[k],
            held_at_rest=held.get(k, ()),
            **{name: float(values[k]) for name, values in columns.items()},
        )
        for k, rig in enumerate(rigs)
    )


def _asked(rigs: Sequence[Rig], b: Batch) -> dict[str, Array]:
    """What pack and tune say, whatever the motor makes of it."""
    d = b.drive
    rest, cutoff = d.open_circuit_v[:, 0], d.cutoff_v[:, 0]
    longest = np.where(np.isinf(d.torque_a), d.vector_a, np.hypot(d.torque_a, d.weakening_a))
    full = np.array([rig.pack.full_v() or rig.pack.open_circuit(1.0) for rig in rigs])
    limit = np.array([_or_infinite(rig.tune.pack_current_a) for rig in rigs])
    cap = np.array([_or_infinite(rig.tune.power_cap_w) for rig in rigs])
    # The cap draws the most amperes at the lowest volts: the cut-off, or what the sag leaves.
    sagged = sagged_voltage(d, np.where(np.isinf(cap), 0.0, cap)[:, None])[:, 0]
    lowest = np.where(cutoff > 0, cutoff, sagged)
    return {
        "full_v": full,
        "rest_v": rest,
        "cutoff_v": cutoff,
        "asked_pack_a": np.minimum(limit, cap / lowest),
        "asked_phase_a": np.array([rig.tune.phase_current_a for rig in rigs]) * b.basis[:, 0],
        "weakening_a": np.minimum(d.weakening_a, longest)[:, 0],
        "mass": b.road.mass[:, 0],
        "allowed_w": power_limits(d).total[:, 0],
    }


def _reached(b: Batch, top: TopSpeed) -> dict[str, Array]:
    """Currents, torque and power between rest and top speed."""
    end = np.where(np.isnan(top.speed), np.nan_to_num(top.no_load_speed), top.speed)
    base = np.fmin(np.nan_to_num(top.base_speed), end)
    grid = np.column_stack((end[:, None] * np.linspace(0.0, 1.0, LOOKS), base))
    drawn = draw(b, grid)
    power = input_power_at(b, drawn)
    amperes = power / sagged_voltage(b.drive, power)
    # A balance may lie a rounding error beyond the last speed that is driven.
    steady = np.where(np.isnan(amperes[:, LOOKS - 1]), 0.0, amperes[:, LOOKS - 1])
    most = {
        "pack_a": amperes,
        "phase_a": np.hypot(drawn.point.current_d, drawn.point.current_q),
        "wheel_torque": drawn.rim_force * b.radius,
        "shaft_power": drawn.torque * drawn.rotor_speed,
    }
    found = {name: np.nan_to_num(x, nan=0.0).max(axis=1) for name, x in most.items()}
    dead = ~starts(top.speed)
    return found | {
        "top_speed": top.speed,
        "no_load_speed": top.no_load_speed,
        "steady_pack_a": np.where(dead, np.nan, steady),
        "rest_force": drawn.rim_force[:, 0],
        "rest_load": b.road.force(np.zeros((b.size, 1)))[:, 0],
    }


def _motors(setups: Stack, b: Batch) -> dict[str, Array]:
    """The motor's own figures, with magnets as cold as the conditions allow."""
    flux, coldest = setups.coldest_flux()
    pairs = b.drive.pole_pairs[:, 0]
    with np.errstate(divide="ignore"):
        characteristic = b.drive.flux[:, 0] / b.drive.ld[:, 0]
    return {
        "pole_pairs": pairs,
        "coldest_c": coldest,
        "characteristic_a": characteristic,
        "volts_per_rotor_speed": SQRT3 * pairs * flux,
        "rotor_per_road": b.ratio[:, 0] / b.radius[:, 0],
    }


def _off(off: DriveOff) -> dict[str, Array]:
    """What a drive that goes off does."""
    return {
        "top_rotor_speed": off.rotor_speed,
        "brakes_above": np.where(off.lasts, off.starts, np.nan),
        "harms_above": off.exceeds_rating,
        "off_brake_force": off.brake_force,
        "off_charging_a": off.charging_current,
    }


def _or_infinite(value: float | None) -> float:
    return np.inf if value is None else value
