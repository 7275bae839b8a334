"""What the model leaves out, and whom to ask: in plain words."""

from __future__ import annotations

from curves.cautions.law import CLASSES, DEFER
from curves.report.markup import Markup, tag
from curves.report.pieces import section

LEFT_OUT = (
    (
        "Saturation",
        "With much current the iron fills up and an ampere gives less torque. That is reckoned "
        "with only where the job holds measured values.",
    ),
    (
        "Iron loss",
        "The drag of the motor is taken from a free spin. Field weakening changes it, and not "
        "always for the better: losses at high speed are rough.",
    ),
    (
        "Switching",
        "Each switch waits a moment before the next turns on, which takes a few hundredths of the "
        "voltage, and loses a little at every turn. Put it into the share of the voltage used.",
    ),
    (
        "Sine drive",
        "Currents are sines. A controller that steps its current gives 5 to 10 % less torque per "
        "ampere. One that weakens by a fixed map over speed reaches the same top speed and wastes "
        "more on the way.",
    ),
    (
        "Magnets",
        "They weaken with heat as their coefficient says. That too much weakening current or heat "
        "ruins them for good is warned of, not reckoned with.",
    ),
    (
        "The pack",
        "One resistance stands for all of it. Cells that sag on over seconds and minutes, age or "
        "get cold are only as right as the resistance in the job.",
    ),
    (
        "The road",
        "Steady wind, one grade, one rolling resistance, a rider who keeps the same posture. The "
        "air alone changes top speed by some per cent from a cold day to a hot one.",
    ),
    (
        "Steady state",
        "The curves say what is possible at each speed once the controller has settled, not how it "
        "gets there.",
    ),
)

SAFETY = (
    "A pack or controller beyond its rating can burn, and above 60 V DC a touch can injure. Have "
    "packs built, changed and checked by qualified people.",
    "A faster bike needs brakes, tyres, a frame and lights made for that speed and load, and a "
    "rider who has practised with it.",
    "Which speed, power and voltage are allowed, with which papers, is for the law of the place "
    "where it is ridden. Ask the authority or a testing body there.",
    "Where this page and the papers of a part, the law or a qualified person differ, they are "
    "right and this page is wrong.",
)


def model_limits() -> Markup:
    """What the model does not know."""
    return section(
        "What the numbers leave out",
        tag("dl", [[tag("dt", what), tag("dd", said)] for what, said in LEFT_OUT]),
        id_="left-out",
    )


def safety() -> Markup:
    """Whom to ask before building and riding."""
    sources = "; ".join(sorted({kind.source for kind in CLASSES.values()}))
    return section(
        "Before anything is bought, built or ridden",
        tag("ul", [tag("li", said) for said in SAFETY], class_="notes"),
        tag("p", f"{DEFER} Rules named in this report: {sources}.", class_="soft"),
        id_="safety",
    )
