"""What a table says of its values, where from and how sure, and when it no longer holds."""

from __future__ import annotations

from collections.abc import Collection

from curves.parts.problems import NOTES
from curves.parts.reading import Tree

NOT_GIVEN = "typed, source not given"
"""What a reader is told of a value that names no source."""
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
"""Relative standard uncertainty of a value that is only typical, or of which nothing is said
(common practice)."""


def values_of(table: Tree) -> Tree:
    """A table's values, without what is said of them."""
    return {key: value for key, value in table.items() if key not in (*NOTES, "profile")}


def well_formed(table: Tree) -> bool:
    """Whether what a table says of single values is told field by field, as it must be."""
    return all(isinstance(table.get(note, {}), dict) for note in ("sources", "tolerance"))


def without(table: Tree, fields: Collection[str]) -> Tree:
    """A table that says nothing any more of some of its values.

    Its one line of source goes to each of the others by itself.

    Args:
        table: as a job's tree has it.
        fields: of what nothing is said; not altogether absent, or the table stays as it is.
    """
    if not fields:
        return table
    made = {key: value for key, value in table.items() if key not in NOTES}
    line = table.get("source")
    apart = {} if line is None else dict.fromkeys(values_of(table), line)
    for note, more in (("sources", apart), ("tolerance", {})):
        said = {**more, **table.get(note, {})}
        if kept := {key: text for key, text in said.items() if key not in fields}:
            made[note] = kept
    return made


def revalued(kind: str, old: Tree, new: Tree) -> Tree:
    """A table with other values: what was said of those that changed does not hold for the new.

    Where something was said, a changed value is taken to be as unsure as is usual for its kind.

    Args:
        kind: of the table: ``motor`` and so on.
        old: the table before.
        new: the table after, notes as before.
    """
    had, has = values_of(old), values_of(new)
    changed = [key for key in {**had, **has} if had.get(key) != has.get(key)]
    said = {*old.get("sources", {}), *old.get("tolerance", {})}
    if "source" in old:
        said |= had.keys()
    made = without(new, changed)
    usual = {key: USUAL.get(f"{kind}.{key}") for key in changed if key in said and key in has}
    known = {key: share for key, share in usual.items() if share is not None}
    return {**made, "tolerance": {**made.get("tolerance", {}), **known}} if known else made


def own(tree: Tree) -> Tree:
    """A job with a value of the user's own in it: it is no invented one as a whole any more."""
    invented = str(tree.get("source", "")).lower().startswith("invented")
    return {key: value for key, value in tree.items() if not (invented and key == "source")}
