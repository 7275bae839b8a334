"""Runs of known setups as loggers see them: GPS speed that wanders, spikes, steps, and late starts.

``python -m tests.synthetic.runs > curves/demo/eighth-mile.csv`` writes the demo's log.

The truth is integrated here by small Runge-Kutta steps of the force balance, not by the quadrature
that a fit uses.
"""

import numpy as np

from curves import load_job
from curves.motion.tractive_force import push
from curves.point.limits import sagged_voltage
from curves.setups.stack import stack
from curves.steady.envelope import draw, input_power_at

STEP = 0.02


def truth(rig, seconds, step=STEP, **changes):
    """Time, speed, distance, pack volts and amperes of a run from rest.

    Args:
        rig: The setup.
        seconds: How long.
        step: Of the integration, s.
        changes: Fields of the stack, ``__`` for the dot, to other values.
    """
    stacked = stack([rig]).vary({k.replace("__", "."): [v] for k, v in changes.items()})
    p = push(stacked)

    # Force over speed is tabled finely, so that many small steps cost little.
    table = np.linspace(0.0, 40.0, 4001)
    net, mass = p.net(table[None, :])
    gain = net[0] / np.broadcast_to(mass[0], table.shape)

    def rate(v):
        return np.interp(max(v, 0.0), table, gain)

    time = np.arange(0.0, seconds + step / 2, step)
    speed = np.zeros_like(time)
    for k in range(time.size - 1):
        v = speed[k]
        a = rate(v)
        b = rate(v + step / 2 * a)
        c = rate(v + step / 2 * b)
        d = rate(v + step * c)
        speed[k + 1] = v + step * (a + 2 * b + 2 * c + d) / 6
    distance = np.concatenate(([0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * step)))
    drawn = draw(p.batch, speed[None, :])
    power = input_power_at(p.batch, drawn)
    volts = sagged_voltage(p.batch.drive, power)
    return time, speed, distance, volts[0], (power / volts)[0]


def wander(rng, time, sigma, memory):
    """Noise that remembers itself for ``memory`` seconds."""
    steps = np.diff(time, prepend=time[0])
    fade = np.exp(-steps / memory)
    out = np.empty_like(time)
    state = rng.standard_normal()
    for k in range(time.size):
        state = fade[k] * state + np.sqrt(1 - fade[k] ** 2) * rng.standard_normal()
        out[k] = sigma * state
    return out


def gps(rng, time, speed, *, rate=10.0, before=3.0, sigma=0.08, memory=0.8, white=0.03, spikes=0):
    """Speed as a GPS logger writes it, from some seconds before the start.

    Args:
        rng: Where noise comes from.
        time: s from the start.
        speed: m/s.
        rate: Samples a second.
        before: Seconds at rest before the start.
        sigma: Of the part that wanders, m/s.
        memory: Of that part, s.
        white: Of the other part, m/s.
        spikes: How many samples are far off.

    Returns:
        Time from the start and speed, in steps of 0.01 m/s, never below 0.
    """
    t = np.arange(-before, time[-1], 1 / rate) + rng.uniform(0, 1 / rate)
    t = t[t <= time[-1]]
    clean = np.interp(t, time, speed, left=0.0)
    # At rest a receiver holds its speed near zero.
    moving = np.clip(clean / 1.0, 0.1, 1.0)
    noisy = clean + moving * (wander(rng, t, sigma, memory) + white * rng.standard_normal(t.size))
    for k in rng.integers(t.size // 4, t.size, spikes):
        noisy[k] += rng.choice((-1, 1)) * rng.uniform(1.0, 4.0)
    return t, np.maximum(np.round(noisy, 2), 0.0)


DEMO_SETUP = "16 cells"
DEMO_TRUTH = {"bike__drag_area_m2": 0.64, "bike__rolling_coefficient": 0.013}
"""What the demo's bike really has; its job says 0.72 and 0.010."""


def demo_log(rng):
    """A log of an eighth of a mile by the demo's bike, ridden harder than it brakes, as CSV."""
    time, speed, distance, volts, amperes = truth(load_job().rig(DEMO_SETUP), 34.0, **DEMO_TRUTH)
    line = np.searchsorted(distance, 205.0)
    time, speed, volts, amperes = (x[:line] for x in (time, speed, volts, amperes))
    slowing = np.arange(STEP, speed[-1] / 2.5 + 2.0, STEP)
    slow = np.maximum(speed[-1] - 2.5 * slowing, 0.0)
    time = np.concatenate((time, time[-1] + slowing))
    speed = np.concatenate((speed, slow))
    rest_v = 16 * 4.2
    volts = np.concatenate((volts, np.full(slow.size, rest_v - 0.6)))
    amperes = np.concatenate((amperes, np.zeros(slow.size)))
    t, v = gps(rng, time, speed, before=4.0)
    u = np.interp(t, time, volts, left=rest_v) + 0.05 * rng.standard_normal(t.size)
    i = np.interp(t, time, amperes, left=0.05) + 0.15 * rng.standard_normal(t.size)
    rows = [
        f"{1000 * (a - t[0]):.0f},{b * 3.6:.2f},{c:.2f},{max(d, 0.0):.1f}"
        for a, b, c, d in zip(t, v, u, i, strict=True)
    ]
    about = "# An eighth of a mile by the demo job's bike with 16 cells. Made up by a program.\n"
    return about + "time_ms,speed_kmh,battery_v,battery_a\n" + "\n".join(rows) + "\n"


if __name__ == "__main__":
    print(demo_log(np.random.default_rng(8)), end="")
