"""Names at the ends of lines: near, off the lines, off each other, in the panel."""

import itertools

import numpy as np
import pytest

from dashboard.figures.end_names import CLEAR, LANE, End, place

ACROSS, HEIGHT = 300.0, 200.0


def lines(ends, slope):
    """Straight lines that come to given ends."""
    x = [np.linspace(0.0, end.x, 80) for end in ends]
    return [(along, end.y + slope * (end.x - along)) for along, end in zip(x, ends, strict=True)]


@pytest.mark.parametrize("slope", [0.0, 0.3, -0.3])
@pytest.mark.parametrize("apart", [0.0, 5.0, 30.0])
def test_names_keep_off_lines_and_each_other(slope, apart):
    # No room at the right: every name flies left, over the lines.
    ends = [End(290.0, 60.0 + apart * k, 90.0) for k in range(3)]
    drawn = lines(ends, slope)
    spots = place(ends, drawn, ACROSS, HEIGHT)
    for one, other in itertools.combinations(spots, 2):
        assert abs(one.up - other.up) >= LANE
    for spot in spots:
        assert not spot.right
        assert 0 < spot.up < HEIGHT
        for x, y in drawn:
            over = (x > 202) & (x < 288)
            assert np.all(np.abs(y[over] - spot.up) >= CLEAR)


def test_a_name_with_room_stands_at_its_end():
    ends = [End(100.0, 50.0, 80.0)]
    (spot,) = place(ends, lines(ends, 0.2), ACROSS, HEIGHT)
    assert spot.right
    assert spot.up == 50.0


def test_more_names_than_heights_still_have_spots_in_the_panel():
    ends = [End(100.0, 0.0, 80.0)] * 30
    spots = place(ends, lines(ends, 0.0), ACROSS, HEIGHT)
    assert len(spots) == 30
    assert all(0 < spot.up < HEIGHT for spot in spots)


@pytest.mark.parametrize("across", [ACROSS, 500.0])
def test_names_of_lines_that_end_together_stand_in_their_order(across):
    ends = [End(290.0, up, width) for up, width in ((120, 60), (90, 110), (95, 70), (90, 80))]
    spots = place(ends, lines(ends, 0.4), across, HEIGHT)
    ups = [spots[k].up for k in (3, 1, 2, 0)]
    assert all(np.diff(ups) >= LANE)
    assert len({spot.right for spot in spots}) == 1
