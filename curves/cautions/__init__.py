"""Every caution: its condition, number, reason and source. General information, never advice.

``survey`` works out, for all setups at once, what each asks of its parts; the rest reads that.
"""

from curves.cautions.caution import SEVERITIES, Caution, Severity, Warmth
from curves.cautions.facts import Facts, survey
from curves.cautions.fit import Fit, Reason, fit, plausible
from curves.cautions.hand_over import Instead, instead
from curves.cautions.law import CLASSES, RoadClass
from curves.cautions.links import (
    Link,
    Wiring,
    weakest_link,
    wire_current,
    wire_diameter,
    wire_resistance,
    wire_rise,
    wire_size,
)
from curves.cautions.risks import cautions

__all__ = [
    "CLASSES",
    "SEVERITIES",
    "Caution",
    "Facts",
    "Fit",
    "Instead",
    "Link",
    "Reason",
    "RoadClass",
    "Severity",
    "Warmth",
    "Wiring",
    "cautions",
    "fit",
    "instead",
    "plausible",
    "survey",
    "weakest_link",
    "wire_current",
    "wire_diameter",
    "wire_resistance",
    "wire_rise",
    "wire_size",
]
