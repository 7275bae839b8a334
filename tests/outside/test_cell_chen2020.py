"""Cell curves against the published functions, written out here once more.

NMC: C.-H. Chen et al., J. Electrochem. Soc. 167, 080534 (2020); the ends as derived from that
parameter set. LFP: positive electrode of S. Afshar et al., arXiv:1709.03970 (2017), on the same
graphite, with the electrode capacities of E. Prada et al., J. Electrochem. Soc. 160, A616 (2013).
"""

import numpy as np
import pytest

from curves.parts.pack import cell_voltage

SOC = np.linspace(0, 1, 11)


def graphite(x):
    return (
        1.9793 * np.exp(-39.3631 * x)
        + 0.2482
        - 0.0909 * np.tanh(29.8538 * (x - 0.1234))
        - 0.04478 * np.tanh(14.9159 * (x - 0.2769))
        - 0.0205 * np.tanh(30.4444 * (x - 0.6103))
    )


def nmc(y):
    return (
        -0.8090 * y
        + 4.4875
        - 0.0428 * np.tanh(18.5138 * (y - 0.5542))
        - 17.7326 * np.tanh(15.7890 * (y - 0.3117))
        + 17.5842 * np.tanh(15.9308 * (y - 0.3120))
    )


def lfp(y):
    return 3.4077 - 0.020269 * y + 0.5 * np.exp(-150 * y) - 0.9 * np.exp(-30 * (1 - y))


def between(empty, full, soc):
    return empty + (full - empty) * soc


def test_nmc_is_the_published_function():
    soc = np.linspace(0, 1, 1001)
    published = nmc(between(0.853975, 0.263845, soc)) - graphite(between(0.026346, 0.910618, soc))
    assert cell_voltage("nmc-21700", soc) == pytest.approx(published, abs=1e-12)


def test_nmc_table():
    # Derived with the parameter set by the library that carries it, printed to 0.1 mV.
    printed = [2.5000, 3.2959, 3.4852, 3.5814, 3.6670, 3.7509, 3.8406, 3.9479, 4.0421, 4.0967, 4.2]
    assert cell_voltage("nmc-21700", SOC) == pytest.approx(printed, abs=5.1e-5)


@pytest.mark.parametrize(
    ("series", "full"), [(10, 42.0), (13, 54.6), (14, 58.8), (16, 67.2), (20, 84.0), (24, 100.8)]
)
def test_full_packs(series, full):
    # 4.2 V a cell when full: common practice. The curve's ends are rounded to 1e-6.
    assert series * cell_voltage("nmc-21700", 1.0) == pytest.approx(full, rel=1e-6)


def test_lfp_is_the_published_functions():
    soc = np.linspace(0, 1, 1001)
    published = lfp(between(0.703502, 0.003762, soc)) - graphite(between(0.017618, 0.810043, soc))
    assert cell_voltage("lfp-26650", soc) == pytest.approx(published, abs=1e-12)


def test_lfp_ends_follow_from_the_lithium_inventory():
    # Prada's electrodes as the library carries them: thickness · active share · most lithium,
    # filled to 0.81 and 0.0038 when charged. Between the ends the negative electrode gives what
    # the positive takes, and the cell rests at 3.6 V full and 2.0 V empty.
    negative, positive = 34e-6 * 0.58 * 30555, 80e-6 * 0.374 * 22806
    inventory = 0.81 * negative + 0.0038 * positive
    for x, y in ((0.810043, 0.003762), (0.017618, 0.703502)):
        # The ends are rounded to 1e-6.
        assert x * negative + y * positive == pytest.approx(inventory, abs=1e-6)
    assert cell_voltage("lfp-26650", [0, 1]) == pytest.approx([2.0, 3.6], abs=5e-5)


def test_lfp_is_flat_in_the_middle():
    # Common practice: about 3.2 to 3.3 V over most of the charge.
    middle = cell_voltage("lfp-26650", np.linspace(0.25, 0.95, 50))
    assert 3.15 < middle.min() < middle.max() < 3.35
