"""Power of a cyclist on the road.

Source: Martin, Milliken, Cobb, McFadden, Coggan, J. Appl. Biomech. 14(3), 1998, worked example:
471.8 m in 56.42 s, 90 kg, slope 0.003, air 1.2234 kg/m3, drag area 0.2565 m2 and that of the wheels
0.0044 m2, wind 2.94 m/s from 310 degrees heading 340, 8.28 to 8.45 m/s, rolling 0.0032, inertia
0.14 kg m2 at 0.311 m, chain 0.97698, bearings v (91 + 8.7 v) mW, g 9.81: 213 W (recomputed 213.16).
"""

import numpy as np
import pytest

from curves.parts.bike import air_force, road_force

GRAVITY = 9.81


def test_power():
    time = 56.42
    v = 471.8 / time
    headwind = 2.94 * np.cos(np.radians(340 - 310))
    road = road_force(
        v,
        mass_kg=90.0,
        grade=0.003,
        headwind=headwind,
        rolling_coefficient=0.0032,
        drag_area_m2=0.2565 + 0.0044,
        density=1.2234,
        gravity=GRAVITY,
    )
    bearings = 1e-3 * (91 + 8.7 * v)
    kinetic = 0.5 * (90 + 0.14 / 0.311**2) * (8.45**2 - 8.28**2) / time
    power = ((float(road) + bearings) * v + kinetic) / 0.97698
    assert power == pytest.approx(213, abs=0.5)
    assert power == pytest.approx(213.16, abs=0.01)


def test_air_takes_ground_speed_times_air_speed_squared():
    assert float(air_force(8.0, 2.0, 0.3, 1.2)) * 8.0 == pytest.approx(0.5 * 1.2 * 0.3 * 100 * 8)
