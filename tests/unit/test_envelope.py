"""The envelope's power adds up, place by place."""

import numpy as np
import pytest

from curves.steady import envelope as module
from curves.steady.envelope import envelope
from tests.unit.one_rig import rig


def test_what_the_pack_gives_is_the_shaft_and_every_loss():
    speed = np.array([0.0, 2.0, 5.0, 9.0, 12.0])
    found = envelope([rig()], speed)
    places = ("winding", "controller", "no-load", "standby")
    lost = sum(found.losses[place] for place in places)
    # The balance is a sum of the same numbers, to rounding.
    assert found.shaft_power + lost == pytest.approx(found.pack_power, rel=1e-12)
    gears = found.losses["gears"]
    assert found.rim_power + gears == pytest.approx(found.shaft_power, rel=1e-12, abs=1e-9)


def test_it_asks_for_nothing_but_its_speeds(monkeypatch):
    """Where the line ends is top speed's: looking for it took nine tenths of the time."""
    asked = []

    def counted(drive, speeds):
        asked.append(np.shape(speeds))
        return operating_point(drive, speeds)

    operating_point = module.operating_point
    monkeypatch.setattr(module, "operating_point", counted)
    envelope([rig()], np.array([0.0, 5.0]))
    assert asked == [(1, 2)]
