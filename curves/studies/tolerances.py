"""How unsure each input is: what the job says, or what is usual for a typical value."""

from __future__ import annotations

from curves.parts.base import Table

USUAL = {
    "motor.kv_rpm_per_v": 0.03,
    "motor.resistance_ohm": 0.05,
    "motor.inductance_d_uh": 0.2,
    "motor.inductance_q_uh": 0.2,
    "motor.no_load_torque_nm": 0.2,
    "motor.no_load_torque_nm_per_rad_s": 0.3,
    "motor.magnet_coefficient_per_k": 0.15,
    "motor.winding_heat_j_per_k": 0.2,
    "motor.case_heat_j_per_k": 0.2,
    "motor.winding_to_case_w_per_k": 0.25,
    "motor.case_to_air_w_per_k": 0.25,
    "motor.case_to_air_w_per_k_per_m_s": 0.3,
    "controller.max_modulation": 0.02,
    "controller.resistance_mohm": 0.3,
    "controller.standby_w": 0.3,
    "pack.cell_capacity_ah": 0.03,
    "pack.cell_resistance_mohm": 0.25,
    "pack.wiring_resistance_mohm": 0.4,
    "pack.resistance_ohm": 0.25,
    "pack.mass_kg": 0.05,
    "bike.bike_mass_kg": 0.05,
    "bike.circumference_m": 0.01,
    "bike.rolling_coefficient": 0.25,
    "bike.drag_area_m2": 0.15,
    "bike.final_drive_efficiency": 0.02,
}
"""Relative standard uncertainty of a value that is only typical (common practice)."""


def tolerance_of(table: Table, part: str, field: str) -> float:
    """Relative standard uncertainty of one field.

    Args:
        table: The part.
        part: Its kind, ``motor`` and so on.
        field: The field's name.

    Returns:
        What the job says; for a typical value without one what is usual; otherwise 0.
    """
    if field in table.tolerance:
        return table.tolerance[field]
    typical = table.source_kind(field) == "typical"
    return USUAL.get(f"{part}.{field}", 0.0) if typical else 0.0
