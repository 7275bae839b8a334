"""What it means to leave a field empty, for those that may be: said in the empty field itself."""

from __future__ import annotations

from typing import Any

from curves.parts import Pack

_HEAT = "none: no heat worked out"
_NO_LIMIT = "none: no limit"
_UNRATED = "none: no rating known"
_NO_GOAL = "none: no goal"
_BY_VOLTS = "none: a pack given by its volts"
_BY_CELLS = "none: a pack given by its cells"
_STEADY = "none: lift not worked out"

MEANS = {
    "motor.winding_heat_j_per_k": _HEAT,
    "motor.case_heat_j_per_k": _HEAT,
    "motor.winding_to_case_w_per_k": _HEAT,
    "motor.case_to_air_w_per_k": _HEAT,
    "motor.case_to_air_w_per_k_per_m_s": _HEAT,
    "motor.winding_limit_c": _NO_LIMIT,
    "motor.magnet_limit_c": _NO_LIMIT,
    "motor.rotor_inertia_kg_m2": "none: counted as 0",
    "motor.max_rpm": _NO_LIMIT,
    "motor.valid_to_phase_current_a": "none: not known",
    "motor.torque_derating": "none: no saturation",
    "controller.max_input_v": _UNRATED,
    "controller.max_phase_current_a": _UNRATED,
    "controller.max_pack_current_a": _UNRATED,
    "controller.max_electrical_rpm": _NO_LIMIT,
    "controller.foldback_start_v": "none: no fold-back",
    "controller.foldback_end_v": "none: no fold-back",
    "controller.winding_foldback_c": "none: no fold-back",
    "controller.torque_rise_s": "none: at once",
    "pack.cell": _BY_VOLTS,
    "pack.series": _BY_VOLTS,
    "pack.parallel": _BY_VOLTS,
    "pack.cell_resistance_mohm": _BY_VOLTS,
    "pack.open_circuit_v": _BY_CELLS,
    "pack.resistance_ohm": _BY_CELLS,
    "pack.cell_capacity_ah": "none: no range worked out",
    "pack.wiring_resistance_mohm": "none: counted as 0",
    "pack.resistance_factor": "none: counted as 1",
    "pack.full_charge_v": _NO_LIMIT,
    "pack.continuous_current_a": _UNRATED,
    "pack.peak_current_a": _UNRATED,
    "pack.bms_cutoff_v": "none: no cut-off",
    "pack.charger_a": "none: no charging time",
    "pack.price": "none: not known",
    "tune.pack_current_a": _NO_LIMIT,
    "tune.power_cap_w": "none: no cap",
    "tune.low_voltage_cutoff_v": "none: no cut-off",
    "tune.speed_cap_kmh": "none: no cap",
    "bike.circumference_m": "none: from the tyre size",
    "bike.tyre": "none: roll-out measured",
    "bike.rolling_coefficient": "none: from the coast-down",
    "bike.drag_area_m2": "none: from the coast-down",
    "bike.road_load_n": "none: from rolling and drag",
    "bike.final_drive_ratio": "none: 1, or the gears",
    "bike.gear_ratios": "none: one gear",
    "bike.wheelbase_m": _STEADY,
    "bike.cg_height_m": _STEADY,
    "bike.cg_to_rear_axle_m": _STEADY,
    "bike.wheel_inertia_kg_m2": "none: usual share of mass",
    "goals.top_speed_kmh": _NO_GOAL,
    "goals.range_km": _NO_GOAL,
    "setup.controller": "none: an ideal one",
    "job.compare_to": "none: no differences shown",
}


def may_be(model: Any, key: str) -> bool:
    """Whether a field may be left empty: where nothing at all stands for it then.

    Args:
        model: The part's model.
        key: The field.
    """
    info = model.model_fields[key]
    return not info.is_required() and info.default is None


def means(part: str, key: str, table: Any) -> str:
    """What an empty field tells; empty where it has to be filled in.

    Args:
        part: The kind of the part.
        key: The field.
        table: The part, or its model.
    """
    model = table if isinstance(table, type) else type(table)
    if not may_be(model, key.rpartition(".")[2]):
        return ""
    told = MEANS.get(f"{part}.{key}", "none")
    if isinstance(table, Pack) and told == (_BY_VOLTS if table.from_cells else _BY_CELLS):
        return ""
    return told
