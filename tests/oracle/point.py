"""Largest torque by trying currents: nothing but the inequalities, halving and golden sections.

A point is a dictionary of arrays in SI, one value a point (``FIELDS`` and the rotor speed ``w``).
Absent limits are infinite, absent cut-offs 0.
"""

from typing import NamedTuple

import numpy as np

FIELDS = (
    # motor
    *("p", "lam", "R", "Ld", "Lq", "T0", "c1"),
    # pack and controller
    *("Voc", "Rp", "standby", "m"),
    # limits on |i|, on i_q, on -i_d, on the pack's side; fold-back; see nose below
    *("vector", "torque", "depth", "Ipack", "Pcap", "Vcut", "Vstart", "Vend", "nose"),
    # derating: amperes and factors, one axis more
    *("amps", "factor"),
)
"""``nose`` is 1: a factor on the most that a pack can give, raised only to ask what more buys."""
LONG = np.longdouble
GOLDEN = (np.sqrt(LONG(5)) - 1) / 2
MOST = 1e9
"""The largest current tried, A."""


class Effort(NamedTuple):
    """How finely currents are tried."""

    kind: type
    halvings: int
    grid: int
    """Nodes of the first grid over i_d; later ones have 9."""
    width: float
    """Relative width at which the search over i_d ends."""


SCAN = Effort(np.float64, 32, 33, 1e-6)
ROOT = Effort(np.float64, 54, 49, 1e-13)
FINE = Effort(LONG, 66, 65, 1e-15)


class Points(dict):
    """Fields of many points, every one an array of shape (n, ...), and the effort spent on them."""

    def __init__(self, fields, effort):
        super().__init__(fields)
        self.effort, self.kind = effort, effort.kind

    @classmethod
    def of(cls, fields, w, effort=FINE):
        """Points of fields that are arrays of one length, at rotor speeds of that length."""
        new = {"w": np.asarray(w, dtype=effort.kind)}
        for name in FIELDS:
            x = np.asarray(fields[name], dtype=effort.kind)
            new[name] = np.broadcast_to(x, (len(w), *x.shape[1:]))
        return cls(new, effort)

    def each(self, change):
        """The same points with each field changed by a function."""
        return Points({name: change(x) for name, x in self.items()}, self.effort)

    def having(self, **fields):
        """The same points with some fields replaced."""
        return Points({**self, **fields}, self.effort)


def straight(s, x):
    """The derating at |i|: straight lines between its points, held past the ends."""
    at, factor = s["amps"], s["factor"]
    y = np.broadcast_to(factor[..., 0], x.shape)
    for k in range(at.shape[-1] - 1):
        x0, x1, y0, y1 = at[..., k], at[..., k + 1], factor[..., k], factor[..., k + 1]
        rise = np.where(x1 > x0, x1 - x0, 1)
        y = np.where((x > x0) & (x1 > x0), y0 + (y1 - y0) * (np.minimum(x, x1) - x0) / rise, y)
    return y


def torque(s, i_d, i_q):
    """1.5 p (λ + (Ld − Lq) i_d) i_q, derated over |i|."""
    t = s.kind(1.5) * s["p"] * (s["lam"] + (s["Ld"] - s["Lq"]) * i_d) * i_q
    return t * straight(s, np.sqrt(i_d * i_d + i_q * i_q))


def power(s, i_d, i_q):
    """P(i) at the controller's input."""
    return s["standby"] + s.kind(1.5) * s["R"] * (i_d**2 + i_q**2) + s["w"] * torque(s, i_d, i_q)


def pack_volts(s, drawn):
    """V(P); its lowest, half of V_oc, where the pack cannot give P."""
    return s["Voc"] / 2 + np.sqrt(np.maximum(s["Voc"] ** 2 / 4 - s["Rp"] * drawn, 0))


def phase_volts(s, i_d, i_q):
    """|v| of the steady state."""
    e = s["p"] * s["w"]
    v_d = s["R"] * i_d - e * s["Lq"] * i_q
    v_q = s["R"] * i_q + e * (s["Ld"] * i_d + s["lam"])
    return np.sqrt(v_d * v_d + v_q * v_q)


def volts_allowed(s, drawn):
    """m V(P) / √3."""
    return s["m"] / np.sqrt(s.kind(3)) * pack_volts(s, drawn)


def pack_limit(s):
    """I_pack: the ratings, and never past V_oc / 2 R_pack."""
    with np.errstate(divide="ignore"):
        most = np.where(s["Rp"] > 0, s["nose"] * s["Voc"] / (2 * s["Rp"]), np.inf)
    return np.minimum(s["Ipack"], most)


def folded_limit(s, v):
    """Pack current that the low-voltage fold-back leaves at pack volts ``v``."""
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.minimum((v - s["Vend"]) / (s["Vstart"] - s["Vend"]), 1)
        # Below V_end the line is below 0: not even nothing may be drawn.
        left = np.where(share != 0, pack_limit(s) * share, 0)
    return np.where((s["Vstart"] > 0) & (v < s["Vstart"]), left, np.inf)


def allowed(s, i_d, i_q, *, volts=True):
    """Whether every inequality holds."""
    drawn = power(s, i_d, i_q)
    v = pack_volts(s, drawn)
    good = s["Rp"] * drawn <= s["nose"] * s["Voc"] ** 2 / 4
    good &= (drawn <= pack_limit(s) * v) & (drawn <= folded_limit(s, v) * v)
    good &= (drawn <= s["Pcap"]) & (v >= s["Vcut"]) & (s["Vcut"] < s["Voc"])
    good &= (i_d * i_d + i_q * i_q <= s["vector"] ** 2) & (i_q <= s["torque"])
    good &= (i_d <= 0) & (-i_d <= s["depth"])
    return good & (phase_volts(s, i_d, i_q) <= volts_allowed(s, drawn)) if volts else good


def halve(good, inside, outside, steps):
    """The edge of a set between a place in it and one out of it; on the side in it."""
    for _ in range(steps):
        mid = (inside + outside) / 2
        is_in = good(mid)
        inside, outside = np.where(is_in, mid, inside), np.where(is_in, outside, mid)
    return inside


def largest_i_q(s, i_d, *, volts=True):
    """The largest i_q allowed at each i_d; below 0 where not even i_q = 0 is."""
    zero = np.zeros_like(i_d)
    top = np.minimum(np.sqrt(np.maximum(s["vector"] ** 2 - i_d * i_d, 0)), s["torque"])
    top = np.minimum(top, MOST) + zero
    if s["factor"].shape[-1] > 1:
        edge = halve(lambda q: allowed(s, i_d, q, volts=volts), zero, top, s.effort.halvings)
        edge = np.where(allowed(s, i_d, top, volts=volts), top, edge)
    else:
        edge = _least_upper_root(s, i_d, top, volts)
    return np.where(allowed(s, i_d, zero, volts=volts), edge, -1)


def most_power(s):
    """The pack's limits as one on power: V falls and I rises with P."""
    v, r, most = s["Voc"], s["Rp"], pack_limit(s)
    with np.errstate(invalid="ignore", divide="ignore"):
        rated = np.minimum(s["Ipack"], np.where(r > 0, v / (2 * r), np.inf))
        by_pack = np.where(np.isinf(rated), np.inf, rated * (v - r * rated))
        by_pack = by_pack * np.where(s["Ipack"] > rated, s["nose"], 1)
        out = np.minimum(s["Pcap"], by_pack)
        by_cut = np.where((r > 0) & (s["Vcut"] > v / 2), s["Vcut"] * (v - s["Vcut"]) / r, np.inf)
        fold = most * (v - s["Vend"]) / (s["Vstart"] - s["Vend"] + r * most)
        endless = np.where(v > s["Vend"], np.inf, np.where(v < s["Vend"], -1, 0))
        fold = np.where(np.isinf(most), endless, fold)
        by_fold = np.where(np.isinf(fold), np.inf, fold * (v - r * fold))
        folds = (s["Vstart"] > 0) & ((v - r * most < s["Vstart"]) | (v < s["Vstart"]))
    return np.minimum(np.minimum(out, by_cut), np.where(folds, by_fold, np.inf))


def _least_upper_root(s, i_d, top, volts):
    """The least of the upper roots in i_q; without derating each limit has one of its own."""
    copper = s.kind(1.5) * s["R"]
    turn = s["w"] * s.kind(1.5) * s["p"] * (s["lam"] + (s["Ld"] - s["Lq"]) * i_d)
    left = np.maximum(most_power(s) - s["standby"] - copper * i_d * i_d, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        q = 2 * left / (turn + np.sqrt(turn * turn + 4 * copper * left))
    # No watts left are no torque, at standstill too: that is the limit from above.
    q = np.minimum(top, np.where(left > 0, np.where(np.isfinite(q), q, np.inf), 0))
    if not volts:
        return q
    # s = |v| √3 / m against V(P) where s > V_oc / 2: R P + s² <= V_oc s, convex in i_q there.
    e, scale = s["p"] * s["w"], np.sqrt(s.kind(3)) / s["m"]
    for _ in range(80):
        v_d = s["R"] * i_d - e * s["Lq"] * q
        v_q = s["R"] * q + e * (s["Ld"] * i_d + s["lam"])
        size = np.sqrt(v_d * v_d + v_q * v_q)
        asked = size * scale
        drawn = s["standby"] + copper * (i_d * i_d + q * q) + turn * q
        excess = s["Rp"] * drawn + asked * (asked - s["Voc"])
        slope = scale * (s["R"] * v_q - e * s["Lq"] * v_d) / np.maximum(size, 1e-300)
        slope = s["Rp"] * (2 * copper * q + turn) + (2 * asked - s["Voc"]) * slope
        over = (excess > 0) & (asked > s["Voc"] / 2) & (slope > 0)
        step = np.where(over, excess / np.where(over, slope, 1), 0)
        new = np.maximum(q - step, 0)
        if np.all(q - new <= 4 * np.finfo(s.kind).eps * q):
            break
        q = new
    return new


def golden(rate, a, b, steps):
    """Place of the largest rate between a and b, if it has one peak."""
    g = a.dtype.type(GOLDEN)
    x, y = b - g * (b - a), a + g * (b - a)
    fx, fy = rate(x), rate(y)
    for _ in range(steps):
        left = fx >= fy
        a, b = np.where(left, a, x), np.where(left, y, b)
        new = np.where(left, b - g * (b - a), a + g * (b - a))
        value = rate(new)
        x, y, fx, fy = (
            np.where(left, new, y),
            np.where(left, x, new),
            np.where(left, value, fy),
            np.where(left, fx, value),
        )
    return np.where(fx >= fy, x, y)


def _span(s, volts):
    """The interval of i_d in which i_q = 0 is allowed (a convex set)."""
    steps = s.effort.halvings
    left = -np.minimum(np.minimum(s["depth"], s["vector"]), s.kind(MOST))
    right = np.zeros_like(left)

    def powered(i_d):
        return allowed(s, i_d, right, volts=False)

    left = np.where(powered(left), left, halve(powered, right, left, steps))
    if not volts:
        return left, right

    def room(i_d):
        return volts_allowed(s, power(s, i_d, right)) - phase_volts(s, i_d, right)

    middle = golden(room, left, right, 2 * s.effort.halvings)
    for end in (left, right):
        middle = np.where(room(end) >= room(middle), end, middle)

    def edge(end):
        inside = halve(lambda x: room(x) >= 0, middle, end, steps)
        return np.where(room(end) >= 0, end, inside)

    return edge(left), edge(right)


def _peak(rate, a, b, effort, grid):
    """Best i_d and i_q: a grid over [a, b], then ever finer ones around the best node.

    ``rate`` takes i_d of shape (n, k) and returns what is to be largest, and i_q.
    """
    while True:
        nodes = np.linspace(0, 1, grid).astype(effort.kind)
        x = a[:, None] * (1 - nodes) + b[:, None] * nodes
        value, i_q = rate(x)
        k = np.argmax(value, axis=1)[:, None]
        a = np.take_along_axis(x, np.maximum(k - 1, 0), 1)[:, 0]
        b = np.take_along_axis(x, np.minimum(k + 1, grid - 1), 1)[:, 0]
        if np.all(b - a <= effort.width * np.maximum(-a, 1e-9)):
            return tuple(np.take_along_axis(z, k, 1)[:, 0] for z in (x, i_q))
        grid = 9


def best(s, *, volts=True):
    """The largest torque and its currents (T, i_d, i_q); NaN where nothing is allowed.

    Where torque is level over a stretch of i_d (no resistance under a limit on power, or no
    saliency under a limit on i_q alone) the shortest current is taken.
    """
    out = np.full((3, s["w"].size), np.nan, dtype=s.kind)
    derated = np.any(s["factor"] != 1, axis=1)
    # A derated machine may have several peaks, hence more nodes.
    for rows, grid in ((~derated, s.effort.grid), (derated, 3 * s.effort.grid)):
        if rows.any():
            part = s.each(lambda x, rows=rows: x[rows])
            if grid == s.effort.grid:
                part = part.having(amps=part["amps"][:, :1], factor=part["factor"][:, :1])
            out[:, rows] = _best(part, grid, volts)
    return tuple(out)


def _best(s, grid, volts):
    wide = s.each(lambda x: x[:, None])
    a, b = _span(s, volts)

    def rise(x):
        i_q = largest_i_q(wide, x, volts=volts)
        return np.where(i_q >= 0, torque(wide, x, i_q), -1), i_q

    i_d, i_q = _peak(rise, a, b, s.effort, grid)
    top = torque(s, i_d, i_q)
    by_i_q = (s["Ld"] == s["Lq"]) & np.isfinite(s["torque"])
    level = np.flatnonzero((i_q >= 0) & ((s["R"] == 0) | by_i_q))
    if level.size and s.effort is not SCAN:
        part = wide.each(lambda x: x[level])
        slack = s.kind(1e-13 if s.kind is np.float64 else 1e-16)
        least = (top[level] * (1 - slack))[:, None]

        def short(x):
            y = largest_i_q(part, x, volts=volts)
            good = (y >= 0) & (torque(part, x, y) >= least)
            return np.where(good, -np.hypot(x, y), -np.inf), y

        # The stretch holds the node found; its best place may lie on either side.
        for low, high in ((a[level], i_d[level]), (i_d[level], b[level])):
            d, q = _peak(short, low, high, s.effort, grid)
            good = (q >= 0) & (torque(part, d[:, None], q[:, None]) >= least)[:, 0]
            good &= np.hypot(d, q) < np.hypot(i_d[level], i_q[level])
            i_d[level], i_q[level] = np.where(good, d, i_d[level]), np.where(good, q, i_q[level])
    none = (i_q < 0) | ~allowed(s, 0 * i_d, 0 * i_q, volts=False)
    return tuple(np.where(none, np.nan, z) for z in (torque(s, i_d, i_q), i_d, i_q))


WORDS = (
    "phase current",
    "field weakening current",
    "pack current",
    "power cap",
    "low-voltage cut-off",
    "voltage",
)


def slacks(s, i_d, i_q):
    """Slack of each limit of WORDS over the scale that the rulings give it, shape (6, n)."""
    drawn = power(s, i_d, i_q)
    v = pack_volts(s, drawn)
    phase = np.where(np.isfinite(s["torque"]), s["torque"], s["vector"])
    with np.errstate(invalid="ignore", divide="ignore"):
        by_vector = np.where(np.isfinite(s["vector"]), 1 - np.hypot(i_d, i_q) / s["vector"], np.inf)
        by_torque = np.where(np.isfinite(s["torque"]), 1 - i_q / s["torque"], np.inf)
        most, fold = pack_limit(s), folded_limit(s, v)
        by_cut = np.where(s["Vcut"] > 0, v / s["Vcut"] - 1, np.inf)
        by_fold = np.where(np.isfinite(fold), 1 - drawn / v / fold, np.inf)
        return np.stack(
            (
                np.minimum(by_vector, by_torque),
                (s["depth"] + i_d) / phase,
                np.where(np.isfinite(most), 1 - drawn / v / most, np.inf),
                np.where(np.isfinite(s["Pcap"]), 1 - drawn / s["Pcap"], np.inf),
                np.minimum(by_cut, by_fold),
                1 - phase_volts(s, i_d, i_q) / volts_allowed(s, drawn),
            )
        )


def more_of(s, word, step):
    """The points with a little more of one limit, ``step`` relative."""
    up = 1 + s.kind(step)
    if word == "phase current":
        return s.having(vector=s["vector"] * up, torque=s["torque"] * up)
    if word == "field weakening current":
        phase = np.where(np.isfinite(s["torque"]), s["torque"], s["vector"])
        return s.having(depth=s["depth"] + s.kind(step) * phase)
    if word == "pack current":
        return s.having(Ipack=s["Ipack"] * up, nose=s["nose"] * up)
    if word == "power cap":
        return s.having(Pcap=s["Pcap"] * up)
    if word == "low-voltage cut-off":
        return s.having(Vcut=s["Vcut"] / up, Vstart=s["Vstart"] / up, Vend=s["Vend"] / up)
    return s.having(m=s["m"] * up)


class Held(NamedTuple):
    """What limits each point, arrays (n, 6): beyond doubt, and at most.

    In doubt is a slack about the 1e-6 that counts as met, or a gain too small to tell from none.
    """

    surely: np.ndarray
    perhaps: np.ndarray


def limited(s, t, i_d, i_q, step=1e-5):
    """Which limits are met, and give more torque when there is a little more of them.

    Args:
        s: Points.
        t: Their largest torque before no-load torque, and its currents; NaN where none.
        i_d: Peak A.
        i_q: Peak A.
        step: What is given more, relative.
    """
    with np.errstate(invalid="ignore"):
        slack = np.where(np.isnan(i_d), np.inf, slacks(s, i_d, i_q))
    surely, perhaps = np.zeros((2, t.size, len(WORDS)), dtype=bool)
    for k, word in enumerate(WORDS):
        at = np.flatnonzero(slack[k] <= 2e-6)
        if at.size:
            part = s.each(lambda x, at=at: x[at])
            gain = (best(more_of(part, word, step))[0] - t[at]) / step
            size = np.abs(t[at]) + 1e-300
            surely[at, k] = (gain > 1e-6 * size) & (slack[k, at] <= 0.5e-6)
            perhaps[at, k] = gain > 1e-10 * size
    return Held(surely, perhaps)
