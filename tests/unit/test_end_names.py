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


def test_a_line_is_no_reason_to_stand_half_a_panel_from_the_end():
    # Flat lines everywhere but at the very top: a far height is free, the near ones are not.
    ends = [End(290.0, 20.0, 90.0)]
    drawn = [(np.linspace(0.0, 290.0, 80), np.full(80, up)) for up in np.arange(0.0, 330.0, 15.0)]
    (spot,) = place(ends, drawn, ACROSS, 400.0)
    assert abs(spot.up - 20.0) <= LANE


def test_the_names_of_one_place_do_not_push_another_far_from_its_end():
    # Four end together at the edge; one of the others, higher and further left, has
    # room over its end.
    together = [End(230.0, 178.0, width) for width in (55, 55, 55, 100)]
    ends = [*together, End(196.0, 216.0, 110.0), End(248.0, 148.0, 80.0)]
    spots = place(ends, lines(ends, 0.0), 250.0, 242.0)
    assert abs(spots[4].up - 216.0) <= LANE
    for one, other in itertools.combinations(spots, 2):
        assert abs(one.up - other.up) >= LANE
