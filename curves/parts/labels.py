"""Fields and states of a job as people call them."""

from __future__ import annotations

NEARLY_EMPTY = 0.10
"""State of charge at which a pack is asked when nearly empty."""

MAY_NOT_START = "may not start"
MAY_NOT_GET_THERE = "may not get there"
MAY_NOT_HOLD_IT = "may not hold it"
"""What one bike in twenty or more does not do, as its inputs are unsure."""

_UNITS = ("_rpm_per_v", "_nm_per_rad_s", "_w_per_k_per_m_s", "_w_per_k", "_j_per_k", "_per_k",
          "_kg_m2", "_mohm", "_ohm", "_uh", "_nm", "_kmh", "_percent", "_kg", "_km", "_m2", "_ah",
          "_m", "_a", "_v", "_w", "_c", "_n", "_s")  # fmt: skip
_NAMES = {
    "kv_rpm_per_v": "Kv",
    "bms_cutoff_v": "BMS cut-off",
    "cell": "Cell curve",
    "series": "Cells in series",
    "parallel": "Parallel strings",
    "mtpa": "Most torque per ampere",
    "cg_height_m": "Height of the centre of gravity",
    "cg_to_rear_axle_m": "Centre of gravity ahead of the rear axle",
    "low_voltage_cutoff_v": "Low-voltage cut-off",
    "max_rpm": "Highest rotor speed",
    "max_electrical_rpm": "Highest electrical speed",
    "inductance_d_uh": "Inductance, least (d)",
    "inductance_q_uh": "Inductance, most (q)",
    "no_load_torque_nm_per_rad_s": "No-load torque, growth with speed",
    "case_to_air_w_per_k_per_m_s": "Case to air, growth with speed",
}
_CAPITAL = ("Kv", "BMS")


def label_of(key: str) -> str:
    """A field's name as people read it, its unit left off: ``Drag area``, ``Bike: drag area``.

    Args:
        key: The field, alone or behind its table and a dot.
    """
    table, _, key = key.rpartition(".")
    if table:
        return f"{table.capitalize()}: {_within(label_of(key))}"
    unit = next((u for u in _UNITS if key.endswith(u)), "")
    words = key.removesuffix(unit).replace("_", " ").strip()
    return _NAMES.get(key, words[:1].upper() + words[1:])


def possessive(key: str) -> str:
    """A field within a sentence: ``the bike's drag area``.

    Args:
        key: The field behind its table and a dot.
    """
    table, _, field = key.rpartition(".")
    owner = f"{table}’" if table.endswith("s") else f"{table}’s"
    return f"the {owner} {_within(label_of(field))}"


def charged(charge: float) -> str:
    """A state of charge as people say it: ``full``, ``nearly empty``, ``50 % full``.

    Args:
        charge: State of charge, 0 to 1.
    """
    known = {1.0: "full", NEARLY_EMPTY: "nearly empty"}
    return known.get(charge, f"{100 * charge:.3g} % full")


def on_slope(percent: float) -> str:
    """A road as people say it: ``on the level``, ``up 8 %``, ``down 3 %``.

    Args:
        percent: Slope, rise over run, %.
    """
    return f"{'up' if percent > 0 else 'down'} {abs(percent):g} %" if percent else "on the level"


def _within(label: str) -> str:
    """A label that does not begin a sentence."""
    return label if label.startswith(_CAPITAL) else label[:1].lower() + label[1:]
