"""The pack as a source: resistance, sag, and its two forms."""

import numpy as np
import pytest
from pydantic import ValidationError

from curves.parts.pack import (
    Pack,
    cell_curve,
    cell_names,
    cell_voltage,
    open_circuit_v,
    pack_resistance,
)

CELLS = {"cell": "nmc-21700", "series": 14, "parallel": 4, "cell_resistance_mohm": 30.0}


def test_resistance_of_cells():
    # Derived by hand: 14 · 30 / 4 = 105 mΩ; doubled when cold; the wires stay.
    assert pack_resistance(14, 4, 30.0, wiring_mohm=12.0) == pytest.approx(0.117, rel=1e-15)
    assert pack_resistance(14, 4, 30.0, 2.0, 12.0) == pytest.approx(0.222, rel=1e-15)
    assert Pack(**CELLS, wiring_resistance_mohm=12, resistance_factor=2).resistance() == (
        pytest.approx(0.222, rel=1e-15)
    )


def test_state_of_charge_moves_cells_and_not_a_source():
    cells, source = Pack(**CELLS), Pack(open_circuit_v=48, resistance_ohm=0)
    assert cells.open_circuit(1.0) == pytest.approx(58.8, abs=1e-3)  # 14 · 4.2, common practice
    assert cells.open_circuit(0.2) < cells.open_circuit(0.8)
    assert source.open_circuit(0.1) == source.open_circuit(1.0) == 48.0
    assert (cells.from_cells, source.from_cells) == (True, False)
    assert source.full_v() is None
    assert Pack(open_circuit_v=48, resistance_ohm=0, full_charge_v=54.6).full_v() == 54.6


def test_voltage_broadcasts():
    assert open_circuit_v("nmc-21700", np.arange(10, 13)[:, None], [0.2, 0.9]).shape == (3, 2)
    assert cell_voltage("lfp-26650", 0.5).shape == ()


@pytest.mark.parametrize("name", cell_names())
def test_curves_rise_with_charge_and_say_where_they_come_from(name):
    assert np.all(np.diff(cell_voltage(name, np.linspace(0, 1, 2001))) > 0)
    source = cell_curve(name).source
    assert "doi" in source or source.startswith("invented")


def test_unknown_curve():
    with pytest.raises(KeyError):
        cell_voltage("../nmc-21700", 0.5)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({}, "cell is missing; or give open_circuit_v"),
        ({**CELLS, "open_circuit_v": 48}, "either cells"),
        ({"open_circuit_v": 48}, "resistance_ohm"),
        ({"open_circuit_v": 48, "resistance_ohm": 0, "series": 13}, "either cells"),
        ({k: v for k, v in CELLS.items() if k != "parallel"}, "missing"),
        ({**CELLS, "cell": "unobtainium"}, f"must be one of {', '.join(cell_names())}"),
    ],
)
def test_one_form_exactly(fields, message):
    with pytest.raises(ValidationError) as caught:
        Pack(**fields)
    said = "; ".join(
        f"{'.'.join(map(str, below))} {text}"
        for error in caught.value.errors()
        for below, _, text in error["ctx"]["error"].errors
    )
    assert message in said
