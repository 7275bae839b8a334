"""A few typed numbers against a setup's bands."""

from __future__ import annotations

import numpy as np

from curves.measured.recheck import Recheck
from curves.words.digits import digits


def sentences(found: Recheck) -> list[str]:
    """Each number against its band, then the suspects, the likeliest first.

    Args:
        found: what ``recheck`` found.
    """
    said = []
    for check in found.checks:
        if np.isnan(check.predicted):
            said.append(f"The job predicts no {check.title}: it lacks what that takes.")
            continue
        low, high = (digits(x) for x in (check.low, check.high))
        said.append(
            f"{check.title[0].upper()}{check.title[1:]}: {check.measured:g} {check.unit} "
            f"{check.verdict} with {low} to {high}."
        )
    for suspect in found.suspects:
        from_, to = (digits(x) for x in (suspect.value, suspect.needed))
        said.append(
            f"{suspect.title}: {to} {suspect.unit}".rstrip()
            + f" instead of {from_} would explain {suspect.explains:.0%} of what is off "
            f"({abs(suspect.sigmas):.1f} of its usual uncertainties)."
        )
    if not found.suspects and not all(
        check.agrees or np.isnan(check.predicted) for check in found.checks
    ):
        said.append("No single input explains it: more than one is off, or a reading is wrong.")
    return said
