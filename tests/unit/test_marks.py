"""Differences beside figures: told with their sign, and only where there is one to see."""

import math

import pytest

from dashboard.widgets.marks import change


@pytest.mark.parametrize(
    ("difference", "digits", "said"),
    [(0.05001, 1, "+0.1"), (-0.06, 1, "−0.1"), (0.5001, 0, "+1"), (1234.0, 0, "+1,234")],
)
def test_a_difference_is_told_with_its_sign(difference, digits, said):
    (span,) = change(difference, digits)
    assert (span.children, span.className) == (said, "change")


@pytest.mark.parametrize(
    ("difference", "digits"),
    [(0.0, 1), (0.049, 1), (-0.049, 1), (0.4, 0), (-0.004, 2), (math.nan, 1), (-math.inf, 0)],
)
def test_no_difference_to_see_says_nothing(difference, digits):
    assert change(difference, digits) == []
