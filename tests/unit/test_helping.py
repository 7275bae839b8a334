"""Where more cells stop helping: only where the line is flat; elsewhere it says where it bends."""

import numpy as np
import pytest

from curves import load_job
from curves.studies.helping import WORTH_KMH, Line, helping, marks, own_counts, own_line
from curves.studies.packs import pack_sweep
from curves.units import KMH
from curves.words.more_cells import verdict
from curves.words.packs import sentence

JOB = load_job()


def line(kmh, bound=0, first=10):
    """Speeds of counts from ``first`` on, the first ``bound`` of them held by voltage."""
    words = [("voltage",) if k < bound else ("pack current",) for k in range(len(kmh))]
    words = [() if np.isnan(v) else w for v, w in zip(kmh, words, strict=True)]
    return Line(first + np.arange(len(kmh), dtype=float), np.array(kmh) * KMH, words)


@pytest.mark.parametrize(
    ("kmh", "bound", "stops", "bends"),
    [
        # Flat after a bend: one place, told once.
        ([20, 23, 26, 26.05, 26.1], 2, 2, None),
        # It bends and goes on.
        ([20, 23, 26, 27, 28], 2, None, 2),
        # It bends, goes on, and then is flat.
        ([20, 23, 26, 27, 27.05], 2, 3, 2),
        # Flat for a while and rising again is not flat.
        ([20, 23, 23.05, 23.1, 25], 2, None, 2),
        # Never bends, never flat.
        ([20, 23, 26, 29], 4, None, None),
        # Flat from the first on.
        ([20, 20.05, 20.05], 0, 0, None),
        # Rising, and no volts hold it.
        ([20, 21, 22], 0, None, None),
        # Falling is no help, whatever holds it.
        ([20, 23, 22, 21], 4, 1, None),
        # A cell that adds just what is worth it helps.
        ([20, 20.1, 20.2], 3, None, None),
        # It starts with 12, and is flat from there.
        ([np.nan, np.nan, 24, 24], 2, 2, None),
        # Too heavy to start beyond 12.
        ([20, 22, 24, np.nan], 2, 2, None),
        # The last count has none behind it that could tell.
        ([20, 23, 26], 2, None, None),
        ([np.nan, np.nan], 0, None, None),
        ([20], 1, None, None),
    ],
)
def test_flat_is_from_where_no_cell_is_worth_it(kmh, bound, stops, bends):
    found = helping(line(kmh, bound))
    assert (found.stops, found.bends) == (stops, bends)


def test_a_bend_says_what_a_cell_adds_before_and_after():
    found = helping(line([20, 23.4, 26, 27, 28], 2))
    assert found.before == pytest.approx(3.4 * KMH)
    assert found.after == pytest.approx(1.0 * KMH)
    assert verdict(line([20, 23.4, 26, 27, 28], 2)) == [
        "from 12 cells on pack current holds top speed, not volts: a cell more adds 1.0 km/h, "
        "before that 3.4",
        "14 cells reach 28.0 km/h",
    ]


def test_counts_between_which_some_are_left_out_count_by_the_cell():
    step = line([20, 26, 26.3, 26.6])
    wide = step._replace(series=np.array([10.0, 14, 18, 22]))
    assert helping(step).stops is None
    assert helping(wide).stops == 1


def test_marks_stand_where_something_happens():
    assert marks(line([20, 23, 26, 27, 27.05], 2)) == [
        (12, "volts let go"),
        (13, "more stop helping"),
    ]
    assert marks(line([20, 20.05, 20.05])) == []


def test_more_cells_do_not_stop_helping_where_the_line_rises():
    """Seen: “stop helping at 13” on a line that rose by more than 1 km/h a cell to its end."""
    rig = JOB.rig("20 cells, cap lifted")
    sweep = pack_sweep(rig, range(10, 31))
    assert np.all(np.diff(sweep.top_speed[0, 0]) > WORTH_KMH * KMH)
    said = sentence(sweep)
    assert "stop helping" not in said
    assert "from 14 cells on pack current holds top speed, not volts" in said


def test_a_cut_off_in_volts_follows_the_cells():
    """Seen: 62.3 V of 20 cells held 15 of them too, and 15 was told as where volts stop helping."""
    job = JOB.replace("tune.uncapped.low_voltage_cutoff_v", 62.3)
    sweep = pack_sweep(job.rig("20 cells, cap lifted"), range(12, 25))
    assert not any("low-voltage cut-off" in words for words in sweep.limited_by[0][0])
    assert sweep.knee.count[0, 0] == 14
    assert "stop helping" not in sentence(sweep)


@pytest.mark.parametrize("series", [1, 2, 3, 7, 13, 40, 300, 400, 10_000])
def test_counts_around_a_packs_own(series):
    counts = own_counts(series)
    assert 1 <= counts[0] < counts[-1] <= 400
    assert counts[0] <= max(series // 2, 4)
    assert np.all(np.diff(counts) > 0)
    assert len(own_line(JOB.with_cells("cells-13", series).rig("13 cells")).series) == len(counts)
