"""Bare drives for tests of the operating point: what is not given is no limit and no loss."""

import numpy as np

from curves.point.limits import Drive

SQRT3 = np.sqrt(3.0)
RPM = 2 * np.pi / 60


def drive(**values: float) -> Drive:
    """A drive of shape (1,), fields as in ``Drive``."""
    none = {
        "modulation": 1.0,
        "vector_a": np.inf,
        "torque_a": np.inf,
        "pack_a": np.inf,
        "cap_w": np.inf,
    }
    given = {name: np.array([{**none, **values}.get(name, 0.0)]) for name in Drive._fields[:-2]}
    return Drive(**given, derating_a=np.array([[0.0]]), derating=np.array([[1.0]]))
