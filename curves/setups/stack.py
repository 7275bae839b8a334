"""Setups as arrays: every field of every part becomes one array with a value a setup.

Studies vary fields as arrays too (``Stack.vary``), so that ten thousand setups are one call and
no Python loop.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.errors import JobError, Problem
from curves.numerics.roots import Array
from curves.parts import bike as bike_laws
from curves.parts import conditions as air
from curves.parts import motor as motor_laws
from curves.parts import pack as pack_laws
from curves.parts.base import Table
from curves.parts.rig import Rig
from curves.parts.tune import basis_factor
from curves.point.limits import Drive, mtpa_current_d, mtpa_rise
from curves.setups.batch import Batch, Road
from curves.units import KMH, MICRO, MILLI, PERCENT, RPM

PARTS = ("motor", "controller", "pack", "tune", "bike", "conditions")


@dataclass(frozen=True)
class Stack:
    """Setups as arrays, one value a setup, under the names of the job file.

    Attributes:
        names: Name of each setup.
        values: ``"pack.series"`` and the like to arrays of shape (setups,); NaN where a field is
            not given. Texts are numbers: ``pack.cell`` counts in ``cell_names``, ``tune.basis`` is
            peak amperes per ampere, ``tune.torque_limit`` is 1 where the limit counts i_q alone,
            ``bike.front_driven`` is 1 where the front wheel is driven.
        ratios: Final drive ratios, shape (setups, gears), rising.
        derating: Measured saturation, phase amperes and factors, shape (2, setups, points).
    """

    names: tuple[str, ...]
    values: Mapping[str, Array]
    ratios: Array
    derating: Array

    def vary(self, changes: Mapping[str, Array]) -> Stack:
        """The same setups with some fields replaced by arrays.

        Args:
            changes: Field to values in the file's unit; shapes (n,) broadcast with (setups,), so a
                stack of one setup becomes one of n. ``bike.final_drive_ratio`` replaces all gears
                of a setup; where it is NaN they stay.

        Raises:
            KeyError: if a field does not exist.
        """
        for name in changes:
            if name not in self.values:
                raise KeyError(name)
        arrays = {k: np.atleast_1d(np.asarray(v, dtype=np.float64)) for k, v in changes.items()}
        (n,) = np.broadcast_shapes((len(self.names),), *(v.shape for v in arrays.values()))
        values = {k: np.broadcast_to(arrays.get(k, v), (n,)) for k, v in self.values.items()}
        names = self.names if len(self.names) == n else self.names * n
        ratios = np.broadcast_to(self.ratios, (n, self.ratios.shape[1]))
        if "bike.final_drive_ratio" in arrays:
            one = values["bike.final_drive_ratio"]
            stays = np.isnan(one)
            values["bike.final_drive_ratio"] = np.where(
                stays, self.values["bike.final_drive_ratio"], one
            )
            ratios = np.where(stays[:, None], ratios, one[:, None]) if stays.any() else one[:, None]
        derating = np.broadcast_to(self.derating, (2, n, self.derating.shape[2]))
        return replace(self, names=names, values=values, ratios=ratios, derating=derating)

    def start(self, name: str) -> Array:
        """A field's values to begin from where ``vary`` is to change those of some setups only.

        Args:
            name: The field.
        """
        if name == "bike.final_drive_ratio":
            # The one ratio stands for all gears: a bike that keeps its own gives none.
            return np.full(len(self.names), np.nan)
        return np.array(self.values[name])

    def of(self, name: str, default: float = 0.0) -> Array:
        """A field's values with a default where it is not given."""
        x = self.values[name]
        return np.where(np.isnan(x), default, x)

    def batch(self) -> Batch:
        """Everything in SI, for the solver."""
        flux, winding = self._flux(), self._winding()
        source, cell_v, cell_ohm = self._source()
        series = np.where(source, np.nan, self.of("pack.series", 1.0))
        radius = bike_laws.wheel_radius(self.of("bike.circumference_m"))
        ratio = self.of("motor.gear_ratio")[:, None] * self.ratios
        efficiency = self.of("motor.gear_efficiency") * self.of("bike.final_drive_efficiency")
        batch = Batch(
            drive=self._drive(flux, winding, source, cell_v, cell_ohm),
            road=self.road(),
            ratio=ratio,
            radius=radius,
            efficiency=efficiency,
            motor_efficiency=self.of("motor.gear_efficiency"),
            controller_ohm=self.of("controller.resistance_mohm") * MILLI,
            speed_cap=self.of("tune.speed_cap_kmh", np.inf) * KMH,
            rotor_limit=self.of("motor.max_rpm", np.inf) * RPM,
            electrical_limit=self.of("controller.max_electrical_rpm", np.inf) * RPM,
            clutch=self.of("motor.overrunning_clutch"),
            regen_a=self.of("tune.regen_pack_current_a"),
            full_charge_v=np.where(source, self.of("pack.full_charge_v", np.inf), self._full_v()),
            basis=self.of("tune.basis"),
            phase_per_a=self._phase_current()[2],
            cell_v=np.where(source, np.nan, cell_v),
            cell_ohm=np.where(source, np.nan, cell_ohm),
            cell_kg=self.of("pack.mass_kg") / series,
            cold_flux=self.coldest_flux()[0],
        )
        whole = batch.each(lambda x: x if x.ndim == 2 else x[:, None])
        tables = {
            "derating_a": whole.drive.derating_a[:, None, :],
            "derating": whole.drive.derating[:, None, :],
        }
        return whole._replace(drive=whole.drive._replace(**tables))

    def road(self) -> Road:
        """The bikes and conditions, SI, each field of shape (setups,)."""
        mass = self.of("bike.bike_mass_kg") + self.of("pack.mass_kg")
        return Road(
            mass=mass + self.of("bike.rider_kg") + self.of("bike.load_kg"),
            grade=self.of("conditions.grade_percent") * PERCENT,
            headwind=self.of("conditions.headwind_kmh") * KMH,
            rolling=self.of("bike.rolling_coefficient"),
            drag_area=self.of("bike.drag_area_m2"),
            density=air.air_density(self.of("conditions.altitude_m"), self.of("conditions.air_c")),
            f0=self.of("bike.f0"),
            f1=self.of("bike.f1"),
            f2=self.of("bike.f2"),
            rider_w=self.of("bike.rider_power_w"),
        )

    def coldest_flux(self) -> tuple[Array, Array]:
        """Most flux linkage that the magnets have in the conditions, Wb, and its temperature, °C.

        They are as warm as the setup says or as the air, whichever gives more flux.
        """
        magnets, air_c = self.of("setup.magnet_c"), self.of("conditions.air_c")
        warm, cold = self._flux_at(magnets), self._flux_at(air_c)
        more = cold > warm
        return np.where(more, cold, warm), np.where(more, air_c, magnets)

    def _flux_at(self, celsius: Array) -> Array:
        motor = (self.of("motor.kv_rpm_per_v"), self.of("motor.pole_pairs"))
        return motor_laws.flux_linkage(*motor, celsius, self.of("motor.magnet_coefficient_per_k"))

    def _flux(self) -> Array:
        flux = self._flux_at(self.of("setup.magnet_c"))
        return self._positive(flux, "magnet_c", "leaves the magnets no flux")

    def _winding(self) -> Array:
        ohm = motor_laws.copper_resistance(
            self.of("motor.resistance_ohm") / 2, self.of("setup.winding_c")
        )
        if np.any(ohm < 0):
            self._positive(np.where(ohm < 0, -1.0, 1.0), "winding_c", "makes resistance negative")
        return ohm

    def _positive(self, x: Array, field: str, what: str) -> Array:
        if np.any(x <= 0):
            k = int(np.argmax(x <= 0))
            where = f"[[setup]] {self.names[k]!r} {field}"
            raise JobError([Problem(where, f"{self.values[f'setup.{field}'][k]:g}", what)])
        return x

    def _source(self) -> tuple[Array, Array, Array]:
        """Which packs are sources, and open-circuit volts and resistance of one cell in series."""
        volts = self._cell_volts(self.of("setup.state_of_charge"))
        ohm = pack_laws.pack_resistance(
            1.0,
            self.of("pack.parallel", 1.0),
            self.of("pack.cell_resistance_mohm"),
            self.of("pack.resistance_factor", 1.0),
        )
        return np.isnan(self.values["pack.cell"]), volts, ohm

    def _cell_volts(self, charge: Array) -> Array:
        """Open-circuit volts of one cell of each pack; zero for a source."""
        volts = np.zeros_like(charge)
        for k, name in enumerate(pack_laws.cell_names()):
            rows = self.values["pack.cell"] == k
            if rows.any():
                volts[rows] = pack_laws.cell_voltage(name, charge[rows])
        return volts

    def _full_v(self) -> Array:
        full = np.ones_like(self.values["pack.cell"])
        return self.of("pack.series", 1.0) * self._cell_volts(full)

    def _phase_current(self) -> tuple[Array, Array, Array]:
        """The phase limit and the controller's rating, peak A, and what an ampere of either adds.

        That ampere is one more in the tune's basis, of setting and rating alike: the least counts.
        """
        of, basis = self.of, self.of("tune.basis")
        # Thermal fold-back takes its share of the phase current that is set.
        start, end = (
            of("controller.foldback_from_c", np.inf),
            of("controller.foldback_to_c", np.inf),
        )
        with np.errstate(invalid="ignore"):
            share = np.clip((end - of("setup.winding_c")) / (end - start), 0.0, 1.0)
        share = np.where(np.isinf(end), 1.0, share)
        setting = of("tune.phase_current_a") * basis * share
        rating = of("controller.max_phase_current_a", np.inf) * basis
        per_a = np.where(setting < rating, basis * share, basis)
        return np.minimum(setting, rating), rating, per_a

    def _drive(
        self, flux: Array, winding: Array, source: Array, cell_v: Array, cell_ohm: Array
    ) -> Drive:
        series = self.of("pack.series", 1.0)
        wiring = self.of("pack.wiring_resistance_mohm") * MILLI
        of, basis = self.of, self.of("tune.basis")
        ld, lq = of("motor.inductance_d_uh") / 2 * MICRO, of("motor.inductance_q_uh") / 2 * MICRO
        by_torque = of("tune.torque_limit") > 0
        phase, rating, _ = self._phase_current()
        mtpa = of("controller.mtpa") > 0
        aligned = np.where(mtpa, mtpa_current_d(flux, lq - ld, phase, by_torque), 0.0)
        return Drive(
            pole_pairs=of("motor.pole_pairs"),
            flux=flux,
            resistance=winding + of("controller.resistance_mohm") * MILLI,
            ld=ld,
            lq=lq,
            no_load_torque=of("motor.no_load_torque_nm"),
            no_load_drag=of("motor.no_load_torque_nm_per_rad_s"),
            open_circuit_v=np.where(source, of("pack.open_circuit_v"), series * cell_v),
            pack_resistance=np.where(source, of("pack.resistance_ohm"), series * cell_ohm + wiring),
            standby_w=of("controller.standby_w"),
            modulation=of("controller.max_modulation"),
            vector_a=np.where(by_torque, rating, phase),
            # A rating below what is set limits the whole current, and i_q with it.
            torque_a=np.where(by_torque & (phase < rating), phase, np.inf),
            weakening_a=of("tune.field_weakening_a") * basis + aligned,
            mtpa_per_a=np.where(mtpa, mtpa_rise(flux, lq - ld, phase, by_torque), 0.0),
            pack_a=np.minimum(
                np.minimum(
                    of("tune.pack_current_a", np.inf), of("controller.max_pack_current_a", np.inf)
                ),
                of("pack.peak_current_a", np.inf),
            ),
            cap_w=of("tune.power_cap_w", np.inf),
            cutoff_v=np.maximum(of("tune.low_voltage_cutoff_v"), of("pack.bms_cutoff_v")),
            foldback_start_v=of("controller.foldback_start_v"),
            foldback_end_v=of("controller.foldback_end_v"),
            derating_a=self.derating[0],
            derating=self.derating[1],
        )


def stack(rigs: Sequence[Rig]) -> Stack:
    """Setups of a job as arrays.

    Args:
        rigs: One or more setups with their parts, as ``Job.rigs`` gives them.
    """
    rows = [_row(rig) for rig in rigs]
    # A list counts as not given where it is left out, and as no number where it is there.
    names = [name for name in rows[0] if all(name in row for row in rows)] if rows else []
    values = {name: np.array([row[name] for row in rows], dtype=np.float64) for name in names}
    ratios = [tuple(sorted(rig.bike.ratios)) for rig in rigs]
    gears = max((len(r) for r in ratios), default=1)
    tables = [rig.motor.torque_derating or ((0.0, 1.0),) for rig in rigs]
    points = max((len(t) for t in tables), default=1)
    padded = np.array([[*t, *([t[-1]] * (points - len(t)))] for t in tables], dtype=np.float64)
    return Stack(
        names=tuple(rig.name for rig in rigs),
        values=values,
        ratios=np.array([[*r, *([r[-1]] * (gears - len(r)))] for r in ratios], dtype=np.float64),
        derating=np.moveaxis(padded.reshape(len(rigs), points, 2), 2, 0),
    )


def _row(rig: Rig) -> dict[str, float]:
    """Every number of a setup, under the names of the job file."""
    row: dict[str, float] = {
        "setup.state_of_charge": rig.state_of_charge,
        "setup.winding_c": rig.winding_c,
        "setup.magnet_c": rig.magnet_c,
    }
    for part in PARTS:
        table: Table = getattr(rig, part)
        for field in type(table).model_fields:
            value = getattr(table, field)
            if value is None or isinstance(value, int | float):
                row[f"{part}.{field}"] = np.nan if value is None else float(value)
    pack, tune, bike = rig.pack, rig.tune, rig.bike
    cells = pack_laws.cell_names()
    row["pack.cell"] = np.nan if pack.cell is None else float(cells.index(pack.cell))
    row["tune.basis"] = basis_factor(tune.current_basis)
    row["tune.torque_limit"] = float(tune.phase_limit == "torque")
    row["bike.front_driven"] = float(bike.driven_wheel == "front")
    row["bike.circumference_m"] = bike.roll_out_m
    row["bike.final_drive_ratio"] = bike.ratios[0]
    row.update(zip(("bike.f0", "bike.f1", "bike.f2"), bike.road_load_n or (0.0,) * 3, strict=True))
    start, end = rig.controller.winding_foldback_c or (np.nan, np.nan)
    row["controller.foldback_from_c"], row["controller.foldback_to_c"] = start, end
    return row
