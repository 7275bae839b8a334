"""Random drives over the whole legal range, friendly or not, as arrays of shape (n,)."""

import numpy as np

from curves.point.limits import SQRT3, Drive


def random_drives(seed, n, *, salient=False, torque_mode=True, derated=False):
    """Drives and rotor speeds; a limit that is drawn as absent is infinite (a cut-off 0).

    Args:
        seed: Of the random numbers.
        n: How many.
        salient: Let Lq exceed Ld in half of them.
        torque_mode: Let a tenth count the phase limit on i_q alone.
        derated: Give each a measured saturation of three points.
    """
    rng = np.random.default_rng(seed)

    def log(low, high):
        return np.exp(rng.uniform(np.log(low), np.log(high), n))

    def some(share, x, other):
        return np.where(rng.random(n) < share, x, other)

    pairs = rng.integers(1, 31, n).astype(float)
    flux = log(3e-4, 0.5)
    v_oc = log(8, 400)
    phase = log(0.5, 1500)
    resistance = some(0.9, some(0.7, log(1e-3, 0.8) * v_oc / SQRT3 / phase, log(1e-4, 2)), 0.0)
    ld = some(0.7, flux / phase * log(0.01, 4), log(1e-7, 1e-2))
    ld = some(0.97, ld, 0.0)
    lq = ld * some(0.5, rng.uniform(1, 4, n), 1.0) if salient else np.copy(ld)
    r_pack = some(0.8, some(0.7, log(1e-3, 1.5) * v_oc / log(2, 300), log(1e-4, 5)), 0.0)
    delta = lq - ld
    with np.errstate(divide="ignore", invalid="ignore"):
        aligned = (np.sqrt(flux**2 + 8 * (delta * phase) ** 2) - flux) / (4 * delta)
    aligned = np.where(delta > 0, aligned, 0.0)
    depth = some(0.3, 0.0, some(0.2, 1e6, some(0.5, phase * rng.random(n), log(0.1, 1e3))))
    rise = 2 * delta * phase / np.sqrt(flux**2 + 8 * (delta * phase) ** 2)
    mtpa = rng.random(n) < 0.5
    depth = depth + np.where(mtpa, aligned, 0.0)
    start = some(0.3, v_oc * rng.uniform(0.6, 1.1, n), 0.0)
    by_torque = (rng.random(n) < 0.1) & torque_mode
    rating = some(0.5, phase * rng.uniform(0.9, 2, n), np.inf)
    kinks = np.sort(rng.uniform(0.1, 1.2, (n, 3)), axis=1) * phase[:, None]
    factors = np.ones((n, 3))
    for k in (1, 2):
        # Factor times current must rise: over a segment the factor falls by a / (2 b - a) at most.
        a, b = kinks[:, k - 1], kinks[:, k]
        factors[:, k] = factors[:, k - 1] * rng.uniform(b / (2 * b - a), 1)
    drive = Drive(
        pole_pairs=pairs,
        flux=flux,
        resistance=resistance,
        ld=ld,
        lq=lq,
        no_load_torque=np.zeros(n),
        no_load_drag=np.zeros(n),
        open_circuit_v=v_oc,
        pack_resistance=r_pack,
        standby_w=some(0.5, log(0.1, 40), 0.0),
        modulation=some(0.3, 1.1027, rng.uniform(0.5, 1.1027, n)),
        vector_a=np.where(by_torque, rating, phase),
        torque_a=np.where(by_torque, phase, np.inf),
        weakening_a=depth,
        mtpa_per_a=np.where(mtpa, rise, 0.0),
        pack_a=some(0.6, log(1, 300), np.inf),
        cap_w=some(0.5, log(30, 2e4), np.inf),
        cutoff_v=some(0.5, v_oc * rng.uniform(0.4, 1.01, n), 0.0),
        foldback_start_v=start,
        foldback_end_v=start * rng.uniform(0.7, 0.98, n),
        derating_a=kinks if derated else np.zeros((n, 1)),
        derating=factors if derated else np.ones((n, 1)),
    )
    ideal = drive.modulation * v_oc / (SQRT3 * pairs * flux)
    speed = some(0.05, 0.0, ideal * some(0.8, rng.uniform(0, 1.3, n), rng.uniform(0, 6, n)))
    return drive, speed


def rows(drive, at):
    """Some of the drives."""
    return Drive(*(x[at] for x in drive))


def describe(drive, speed, k):
    """One drive in words, for a failure's message."""
    return {name: getattr(drive, name)[k].tolist() for name in drive._fields} | {
        "speed": float(speed[k])
    }
