"""What a caution is, and how serious it can be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

Severity: TypeAlias = Literal["danger", "warning", "notice", "reminder"]
SEVERITIES: tuple[Severity, ...] = ("danger", "warning", "notice", "reminder")
"""The worst first: can hurt or destroy; beyond a rating; less sure than it looks; to look after."""

MODEL = "derived: the model's own limits"
PRACTICE = "common practice"


@dataclass(frozen=True)
class Caution:
    """Something to know about a setup before riding or buying it.

    Attributes:
        key: short name of the caution, the same in every setup.
        severity: one of ``SEVERITIES``.
        title: a few words for a table.
        text: a sentence or two with the reason and the number.
        value: the number it rests on, in ``unit``; None where there is none.
        limit: what it is held against, in ``unit``; None where there is none.
        unit: of both.
        source: where the limit or the fact comes from.
    """

    key: str
    severity: Severity
    title: str
    text: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""


@dataclass(frozen=True)
class Warmth:
    """Temperatures a motor settles at, as the heat study finds them; °C, NaN where not known."""

    winding_c: float = math.nan
    magnet_c: float = math.nan
