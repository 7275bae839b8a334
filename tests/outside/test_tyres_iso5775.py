"""Roll-out from the tyre size. ISO 5775 sizes; circumferences long published in shop tables."""

import pytest

from curves.parts.bike import tyre_circumference


@pytest.mark.parametrize(
    ("size", "published_mm"),
    [("23-622", 2096), ("28-622", 2136), ("32-559", 1953), ("38-559", 1985)],
)
def test_narrow_tyres(size, published_mm):
    # The rule π (bead + 2 width) is known to be within 0.6 %, no better.
    assert tyre_circumference(size) * 1000 == pytest.approx(published_mm, rel=0.006)


def test_fat_tyres_are_overstated():
    # Published 2170 mm, computed 2227: the reason a measured roll-out is asked for first.
    assert round(tyre_circumference("75-559") * 1000) == 2227
