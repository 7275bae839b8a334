"""Time per point against general methods, all measured in this run, with what they disagree by.

Nothing here asserts a time. What is asserted is that the methods answer the same question.
"""

import numpy as np
import pytest

from curves.point.solve import operating_point
from tests.benchmarks import cases, rivals

BATCH = 100_000
RIVALS = {
    "CVXPY with Clarabel": (rivals.convex_program(), 60, 1e-6),
    "SLSQP, gradients given": (lambda p: rivals.slsqp(p, gradients=True), 300, 1e-5),
    "SLSQP, finite differences": (lambda p: rivals.slsqp(p, gradients=False), 300, 1e-5),
    # A cell of the grid is 1/300 of the phase current, or of the weakening where that decides.
    "dense grid, 300 x 300": (rivals.dense_grid, 300, 2e-2),
}
ANSWERED = 0.9
"""Share of points that a rival must solve for its time to count."""


def seconds_a_point(motor: str, timer) -> tuple[float, np.ndarray]:
    d, speed = cases.batch(motor, BATCH)
    took = []
    for _ in range(3):
        start = timer()
        found = operating_point(d, speed)
        took.append(timer() - start)
    return sorted(took)[1] / BATCH, found.torque


@pytest.mark.parametrize("motor", cases.MOTORS)
@pytest.mark.parametrize("rival", RIVALS)
def test_ratio(motor, rival, benchmark, timer, note):
    if motor == "interior magnets" and rival.startswith("CVXPY"):
        pytest.skip("with interior magnets the program is not convex")
    solve, count, tolerance = RIVALS[rival]
    ours, torque = seconds_a_point(motor, timer)
    points, rows, columns = cases.some(*cases.batch(motor, BATCH), count)
    answers = []

    def every() -> None:
        answers[:] = [solve(p) for p in points]

    solve(points[0])
    benchmark.pedantic(every, rounds=3)
    theirs = benchmark.stats.stats.median / count
    scale = np.array([1.5 * p["pole_pairs"] * p["flux"] * p["vector_a"] for p in points])
    apart = np.abs(np.array(answers) - torque[rows, columns]) / scale
    both = ~np.isnan(apart)
    benchmark.extra_info["times as fast"] = theirs / ours
    figure = f"{theirs / ours:,.0f} times as fast"
    answered = int(np.sum(~np.isnan(answers)))
    how = f"{theirs * 1e3:.3g} ms a point; it solved {answered} of {count} points"
    note(
        f"against {rival}, {motor}",
        figure,
        f"{how}, largest difference {np.nanmax(apart):.1e} of torque scale",
    )
    assert both.mean() >= ANSWERED
    assert np.quantile(apart[both], ANSWERED) < tolerance
