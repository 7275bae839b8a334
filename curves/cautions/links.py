"""The weakest link: every rating from cell to motor lead beside what the setup asks of it.

Source of the wire sizes: ASTM B258, d = 0.127 · 92^((36 − n) / 39) mm; copper by IEC 60028.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from curves.cautions.facts import Facts, survey
from curves.cautions.wording import given, number, rated
from curves.parts.motor import COPPER_COEFFICIENT_PER_K
from curves.parts.rig import Rig
from curves.parts.tune import basis_factor

COPPER_OHM_MM2_PER_M = 1 / 58
"""Resistivity of copper at 20 °C, Ω·mm²/m (IEC 60028)."""
FILM_W_PER_M2_K = 10.0
"""Heat given off by a wire's surface in still air, radiation included: common practice, rough."""
COVERED = 2.0
"""Diameter over the insulation per diameter of the conductor: common practice, rough."""
MOST_PERCENT = 10.0
"""Load past which it is told in times."""
ALLOWED_RISE_K = 40.0
"""Rise above the air taken as the limit of a wire: common practice, for warm to the touch."""
THICKEST, THINNEST = -3, 40
"""Sizes of wire: -3 stands for 0000, 40 is as thin as a hair."""


@dataclass(frozen=True)
class Wiring:
    """Ratings a job does not hold, as the user gives them; None where not known.

    Attributes:
        cell_current_a: What one cell may give all the time, A.
        fuse_a: Fuse, A.
        connector_a: The pack's connector, A continuous.
        pack_wire_awg: Size of the leads between pack and controller, 0000 as -3.
        phase_wire_awg: Size of the motor's phase leads.
    """

    cell_current_a: float | None = None
    fuse_a: float | None = None
    connector_a: float | None = None
    pack_wire_awg: int | None = None
    phase_wire_awg: int | None = None


@dataclass(frozen=True)
class Link:
    """One part that current goes through.

    Attributes:
        part: what it is.
        rating: A, in ``basis``.
        demand: what the setup asks at most, A, in ``basis``.
        basis: which amperes, and for how long.
        source: where the rating comes from.
        weakest: whether it has the least to spare of all.
    """

    part: str
    rating: float
    demand: float
    basis: str
    source: str
    weakest: bool = False

    @property
    def load(self) -> float:
        """Demand over rating; above 1 is too much, infinite is for what is rated at nothing."""
        if self.rating > 0:
            return self.demand / self.rating
        return math.inf if self.demand > 0 else 0.0

    @property
    def told(self) -> str:
        """The same in words: ``79 % of its rating``."""
        if math.isinf(self.load):
            return f"its rating is {given(self.rating)} A"
        if self.load > MOST_PERCENT:
            return f"{number(self.load, 2)} times its rating"
        return f"{100 * self.load:z.0f} % of its rating"


def weakest_link(
    rig: Rig, facts: Facts | None = None, wiring: Wiring | None = None
) -> tuple[Link, ...]:
    """Every part with a rating, the one with the least to spare first and marked.

    Args:
        rig: the setup with its parts.
        facts: what it asks, as ``survey`` gives it; computed here if left out.
        wiring: ratings that the job does not hold.
    """
    f = survey([rig])[0] if facts is None else facts
    found = sorted(_links(rig, f, wiring or Wiring()), key=lambda link: -link.load)
    return tuple(replace(link, weakest=k == 0) for k, link in enumerate(found))


def _links(rig: Rig, f: Facts, wiring: Wiring) -> list[Link]:
    pack, controller = rig.pack, rig.controller
    most = min(f.asked_pack_a, f.pack_a) if math.isinf(f.asked_pack_a) else f.asked_pack_a
    basis = rig.tune.current_basis
    air = rig.conditions.air_c
    user = "as entered"
    candidates = (
        (
            f"cells, {pack.parallel} parallel",
            _times(wiring.cell_current_a, pack.parallel),
            f.steady_pack_a,
            "A held at top speed",
            user,
        ),
        (
            "pack and BMS, continuous",
            pack.continuous_current_a,
            f.steady_pack_a,
            "A held at top speed",
            rated("pack", pack, "continuous_current_a"),
        ),
        (
            "pack and BMS, peak",
            pack.peak_current_a,
            most,
            "A at most",
            rated("pack", pack, "peak_current_a"),
        ),
        ("fuse", wiring.fuse_a, most, "A at most", user),
        ("pack connector", wiring.connector_a, most, "A at most", user),
        (
            f"pack leads, AWG {_awg_name(wiring.pack_wire_awg)}",
            _wire(wiring.pack_wire_awg, air),
            f.steady_pack_a,
            "A held at top speed",
            WIRE_SOURCE,
        ),
        (
            "controller, pack side",
            controller.max_pack_current_a,
            most,
            "A at most",
            rated("controller", controller, "max_pack_current_a"),
        ),
        (
            "controller, phase side",
            controller.max_phase_current_a,
            f.asked_phase_a / basis_factor(basis),
            f"A {basis} at most",
            rated("controller", controller, "max_phase_current_a"),
        ),
        (
            f"phase leads, AWG {_awg_name(wiring.phase_wire_awg)}",
            _wire(wiring.phase_wire_awg, air),
            f.phase_a / math.sqrt(2),
            "A rms at most",
            WIRE_SOURCE,
        ),
    )
    return [
        Link(part, rating, demand, unit, source)
        for part, rating, demand, unit, source in candidates
        if rating is not None and not math.isnan(demand)
    ]


WIRE_SOURCE = (
    f"ASTM B258 resistance; estimate of {given(ALLOWED_RISE_K)} K above still air, "
    f"{given(FILM_W_PER_M2_K)} W/(m²·K) (common practice)"
)


def _times(one: float | None, many: int | None) -> float | None:
    return None if one is None or many is None else one * many


def _wire(awg: int | None, air_c: float) -> float | None:
    return None if awg is None else wire_current(awg, ALLOWED_RISE_K, air_c)


def _awg_name(awg: int | None) -> str:
    if awg is None:
        return ""
    return str(awg) if awg > 0 else "0" * (1 - awg)


def wire_size(text: str) -> int:
    """A size of wire as people write it, ``10``, ``0``, ``2/0`` or ``00``, as the number used here.

    Raises:
        ValueError: if it is none.
    """
    written = text.strip()
    if noughts := re.fullmatch(r"(0{1,4})|([1-4])/0", written):
        return 1 - (int(noughts[2]) if noughts[2] else len(noughts[1]))
    if re.fullmatch(r"[1-9][0-9]?", written) and int(written) <= THINNEST:
        return int(written)
    raise ValueError(f"{written!r} is no wire size: from 4/0 (or 0000) to {THINNEST}")


def wire_diameter(awg: int) -> float:
    """Diameter of a solid conductor, mm (ASTM B258).

    Args:
        awg: size; 0 for 1/0, -1 for 2/0, down to -3 for 4/0.

    Raises:
        ValueError: for a size there is not.
    """
    if not THICKEST <= awg <= THINNEST:
        raise ValueError(f"AWG {awg}: must be from {THICKEST} (0000) to {THINNEST}")
    return float(0.127 * 92 ** ((36 - awg) / 39))


def wire_resistance(awg: int, wire_c: float = 20.0) -> float:
    """Resistance of a copper wire of a size, Ω/m, at a temperature in °C."""
    area = math.pi / 4 * wire_diameter(awg) ** 2
    warm = 1 + COPPER_COEFFICIENT_PER_K * (wire_c - 20)
    return COPPER_OHM_MM2_PER_M / area * warm


def wire_current(awg: int, rise_k: float, air_c: float = 20.0) -> float:
    """Estimate of the current, A rms, that warms a wire by so much in still air.

    Heat made, I² R at the wire's temperature, is what its surface gives off, h π D ΔT. One wire
    alone, for long; bundled or boxed in it gets hotter.

    Args:
        awg: size.
        rise_k: rise above the air, K, zero or more.
        air_c: air temperature, °C.
    """
    surface = math.pi * COVERED * wire_diameter(awg) / 1000
    return math.sqrt(FILM_W_PER_M2_K * surface * rise_k / wire_resistance(awg, air_c + rise_k))


def wire_rise(awg: int, current_a: float, air_c: float = 20.0) -> float:
    """Estimate of how much a current, A rms, warms a wire above still air, K.

    The inverse of ``wire_current``; infinite where copper's own rise in resistance runs away.
    """
    made = current_a**2 * wire_resistance(awg, air_c)
    grows = current_a**2 * wire_resistance(awg, 20.0) * COPPER_COEFFICIENT_PER_K
    given_off = FILM_W_PER_M2_K * math.pi * COVERED * wire_diameter(awg) / 1000
    return made / (given_off - grows) if given_off > grows else math.inf
