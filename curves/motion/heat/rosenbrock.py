"""An implicit method of order four with an error estimate, for states that follow fast or slowly.

Each of its stages solves one linear system with the same matrix, so nothing is iterated; what dies
out within a step is gone at its end (L-stable). It is RODAS of E. Hairer, G. Wanner, Solving
Ordinary Differential Equations II, 2nd ed., Springer 1996, section IV.7, in the form for
autonomous systems, with the coefficients of their program.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from curves.numerics.roots import Array

GAMMA: Final = 0.25
"""Share of a step that stands in the matrix."""
ORDER: Final = 4
_MOVES: Final = np.array(
    (
        (0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        (1.544, 0.0, 0.0, 0.0, 0.0, 0.0),
        (0.9466785280815826, 0.2557011698983284, 0.0, 0.0, 0.0, 0.0),
        (3.314825187068521, 2.896124015972201, 0.9986419139977817, 0.0, 0.0, 0.0),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 0.0, 0.0),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 1.0, 0.0),
    )
)
_PUSHES: Final = np.array(
    (
        (0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        (-5.6688, 0.0, 0.0, 0.0, 0.0, 0.0),
        (-2.430093356833875, -0.2063599157091915, 0.0, 0.0, 0.0, 0.0),
        (-0.1073529058151375, -9.594562251023355, -20.47028614809616, 0.0, 0.0, 0.0),
        (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.7089089320616, 0.0, 0.0),
        (
            8.083246795921522,
            -7.981132988064893,
            -31.52159432874371,
            16.31930543123136,
            -6.058818238834054,
            0.0,
        ),
    )
)
_BENDS: Final = np.array(
    (
        (
            10.12623508344586,
            -7.487995877610167,
            -34.80091861555747,
            -7.992771707568823,
            1.025137723295662,
            0.0,
        ),
        (
            -0.6762803392801253,
            6.087714651680015,
            16.43084320892478,
            24.76722511418386,
            -6.594389125716872,
            0.0,
        ),
    )
)
STAGES: Final = len(_MOVES)


def trial(start: Array, moves: Array, stage: int) -> Array:
    """State at which a stage asks for rates.

    Args:
        start: State at the beginning of the step, any shape.
        moves: What the stages before have found, shape (STAGES, *state).
        stage: From 0; STAGES gives the state at the end of the step, of which the last stage's
            move is the estimated error.
    """
    if stage == STAGES:
        end: Array = trial(start, moves, STAGES - 1) + moves[-1]
        return end
    moved: Array = start + np.tensordot(_MOVES[stage, :stage], moves[:stage], 1)
    return moved


def pushed(moves: Array, stage: int) -> Array:
    """What is added to a stage's rates, times the step; arguments as of ``trial``."""
    total: Array = np.tensordot(_PUSHES[stage, :stage], moves[:stage], 1)
    return total


def bent(moves: Array, moved: Array) -> Array:
    """Coefficients of the way through a step, as a cubic in the share of it that is over.

    Args:
        moves: What the stages have found, shape (STAGES, *state).
        moved: The state's whole change.

    Returns:
        Factors of the share, its square and its cube, shape (*state, 3).
    """
    second, third = np.tensordot(_BENDS, moves, 1)
    return np.stack((moved + second, third - second, -third), axis=-1)
