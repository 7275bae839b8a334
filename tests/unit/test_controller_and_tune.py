"""Ratings and limits: defaults, orders, bases."""

import math

import pytest
from pydantic import ValidationError

from curves.parts.controller import MOST_MODULATION, SIX_STEP, Controller
from curves.parts.tune import Tune, basis_factor


def test_left_out_means_ideal():
    ideal = Controller()
    assert (ideal.max_modulation, ideal.resistance_mohm, ideal.standby_w, ideal.mtpa) == (
        1.0,
        0.0,
        0.0,
        True,
    )
    assert ideal.max_phase_current_a is None


def test_six_step_may_be_typed_with_four_decimals():
    assert pytest.approx(2 * math.sqrt(3) / math.pi) == SIX_STEP
    assert round(SIX_STEP, 4) == MOST_MODULATION
    Controller(max_modulation=1.1027)


@pytest.mark.parametrize(
    "fields",
    [
        {"max_modulation": 1.11},
        {"max_modulation": 0.0},
        {"foldback_start_v": 40.0},
        {"foldback_end_v": 40.0},
        {"foldback_start_v": 40.0, "foldback_end_v": 40.0},
        {"winding_foldback_c": [120.0, 120.0]},
        {"winding_foldback_c": [120.0]},
        {"standby_w": -1.0},
    ],
)
def test_refused(fields):
    with pytest.raises(ValidationError):
        Controller(**fields)


def test_foldbacks_in_order_are_kept():
    controller = Controller(
        foldback_start_v=42, foldback_end_v=38, winding_foldback_c=[110.0, 140.0]
    )
    assert controller.winding_foldback_c == (110.0, 140.0)


def test_a_limit_of_nothing_is_legal():
    tune = Tune(phase_current_a=0, pack_current_a=0, power_cap_w=0)
    assert (tune.pack_current_a, tune.speed_cap_kmh) == (0.0, None)


def test_basis():
    assert basis_factor("peak") == 1.0
    assert basis_factor("rms") == math.sqrt(2)
