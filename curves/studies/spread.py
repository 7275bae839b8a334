"""How sure a result is, to first order, from the tolerances of the inputs.

Each unsure input is moved one standard uncertainty up and down with the others at rest, and the
halves of the differences are added as squares (JCGM 100:2008, section 5.1, independent inputs).
Good for telling which digits mean something; samples tell more where a limit sets in between.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from curves.batch import Batch
from curves.parts.rig import Rig
from curves.roots import Array
from curves.stack import Stack, stack
from curves.studies.tolerances import Unsure, kept_possible, unsure


def spread(rigs: Sequence[Rig], result: Callable[[Batch], Array]) -> Array:
    """Standard uncertainty of a result of every setup; see ``stack_spread``.

    Args:
        rigs: the setups.
        result: what is asked, of a batch of any size: an array whose first axis is its setups.
    """
    return stack_spread(rigs, lambda setups: result(setups.batch()))


def stack_spread(rigs: Sequence[Rig], result: Callable[[Stack], Array]) -> Array:
    """Standard uncertainty of a result of every setup that needs more than what the solver takes.

    Args:
        rigs: the setups.
        result: what is asked, of a stack of any size: an array whose first axis is its setups.

    Returns:
        In the unit of the result and of its shape; 0 where no input has a tolerance. A result that
        is NaN on one side of an input's tolerance tells nothing of that input.
    """
    moved = [(k, input_) for k, rig in enumerate(rigs) for input_ in unsure(rig).values()]
    if not moved:
        # One setup is enough to see the result's shape.
        one = result(stack(rigs[:1]))
        return np.zeros((len(rigs), *one.shape[1:]))
    owners = np.array([k for k, _ in moved])
    # Both ways at once: a call costs more than its setups.
    signs = np.repeat((1.0, -1.0), len(moved))
    many = stack([rigs[k] for k in (*owners, *owners)])
    up, down = np.split(result(many.vary(_values(many, [*moved, *moved], signs))), 2)
    with np.errstate(invalid="ignore"):
        squares = ((up - down) / 2) ** 2
    variance = np.zeros((len(rigs), *up.shape[1:]))
    np.add.at(variance, owners, np.nan_to_num(squares, nan=0.0))
    return np.asarray(np.sqrt(variance))


def _values(many: Stack, moved: Sequence[tuple[int, Unsure]], signs: Array) -> dict[str, Array]:
    """Every field that moves, with one setup a row and one move a setup."""
    changed: dict[str, Array] = {}
    for row, ((_, input_), sign) in enumerate(zip(moved, signs, strict=True)):
        for name in input_.fields:
            column = changed.setdefault(name, many.values[name].copy())
            column[row] = kept_possible(name, column[row] * (1 + sign * input_.share))
    return changed
