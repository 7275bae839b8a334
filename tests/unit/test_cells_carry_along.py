"""Other cells in a pack: what follows from their number follows, wherever it is changed."""

import numpy as np
import pytest

from curves import JobError, load_job, top_speed
from curves.parts.recount import FOLLOWS, stated
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.studies.cells import with_series
from curves.units import AS_WRITTEN
from dashboard.shell.editing import attempt, edit_part
from dashboard.shell.following import followed
from dashboard.shell.part_form import part_form
from dashboard.state.part_edits import named_by_cells
from dashboard.state.session import Session
from tests.unit.component_tree import words as text_of

JOB = load_job()
PACK_FIELDS = set(type(JOB.pack["cells-13"]).model_fields) - {"source", "sources", "tolerance"}
FOURTEEN = JOB.with_cells("cells-13", 14)


def test_what_follows_from_the_count():
    before, after = JOB.rig("13 cells").pack, FOURTEEN.rig("13 cells").pack
    assert (after.series, after.parallel) == (14, 5)
    # 36.4 V of 13 cells are 2.8 V a cell.
    assert after.bms_cutoff_v == 39.2
    assert after.mass_kg == pytest.approx(before.mass_kg * 14 / 13)
    assert after.peak_current_a == before.peak_current_a
    assert after.full_v() == pytest.approx(before.full_v() * 14 / 13)


def test_the_name_states_the_cells_there_are():
    assert "cells-14" in FOURTEEN.pack
    assert "cells-13" not in FOURTEEN.pack
    assert list(FOURTEEN.pack) == ["cells-10", "cells-14", "cells-16", "cells-20"]


def test_a_shared_tune_is_left_to_the_others():
    assert FOURTEEN.tune["town"] == JOB.tune["town"]
    own = FOURTEEN.rig("13 cells").tune
    assert own.low_voltage_cutoff_v == pytest.approx(30.0 * 14 / 13)
    assert FOURTEEN.rig("16 cells") == JOB.rig("16 cells")
    # Only setups with this pack have the weakened tune: it needs no copy.
    assert list(FOURTEEN.tune) == [*JOB.tune, "town (2)"]
    assert FOURTEEN.setup[5].tune == "weakened"
    assert FOURTEEN.tune["weakened"].low_voltage_cutoff_v == own.low_voltage_cutoff_v


def test_a_tune_without_a_cut_off_needs_no_copy():
    job = JOB.replace("tune.town.low_voltage_cutoff_v", None)
    assert list(job.with_cells("cells-13", 14).tune) == list(JOB.tune)


def test_typed_digit_by_digit_it_is_the_same():
    job = JOB.replace("pack.cells-13.bms_cutoff_v", 39.0)
    there = job.with_cells("cells-13", 1).with_cells("cells-1", 14)
    assert there.rig("13 cells").pack.mass_kg == pytest.approx(5.5 * 14 / 13, rel=1e-14)
    back, first = (x.rig("13 cells").pack for x in (there.with_cells("cells-14", 13), job))
    assert all(getattr(back, key) == getattr(first, key) for key in PACK_FIELDS)


def test_strings_on_request():
    pack = JOB.with_cells("cells-13", 16, parallel=4).rig("13 cells").pack
    assert pack.parallel == 4
    assert pack.mass_kg == pytest.approx(5.5 * 64 / 65)
    assert (pack.peak_current_a, pack.continuous_current_a) == (32.0, 24.0)


@pytest.mark.parametrize("series", [8, 15, 20, 27])
def test_a_job_and_a_study_go_by_one_rule(series):
    """Each number of the setup, by the page's way and by the studies'."""
    job = JOB.replace("pack.cells-13.price", 400.0)
    counts = np.array([float(series)])
    study = with_series(stack([job.rig("13 cells")]), counts).values
    by_hand = stack([job.with_cells("cells-13", series).rig("13 cells")]).values
    for name in (*FOLLOWS, "pack.series", "pack.parallel"):
        # The order of factors differs, and with it the last digit.
        assert by_hand[name][0] == pytest.approx(study[name][0], rel=1e-14), name


def test_what_was_said_of_another_pack_is_an_estimate():
    job = JOB.replace("pack.cells-13.sources", {"mass_kg": "measured: scales"})
    job = job.replace("pack.cells-13.tolerance", {"mass_kg": 0.001})
    pack = job.with_cells("cells-13", 14).rig("13 cells").pack
    assert pack.source_of("mass_kg") == "typical: by the cell, from a pack of other cells"
    assert pack.tolerance["mass_kg"] == 0.05
    # A share of what is invented is no less so; the count is the user's own.
    assert pack.source_of("bms_cutoff_v") == "invented: by the cell, from a pack of other cells"
    assert pack.source_of("series") is None
    assert pack.source_of("wiring_resistance_mohm") == "invented: 65 cells"


@pytest.mark.parametrize(
    ("name", "series", "right"),
    [
        ("cells-13", 14, "cells-14"),
        ("13s5p", 14, "14s5p"),
        ("13S5P spare", 14, "14S5P spare"),
        ("my 13 cells", 20, "my 20 cells"),
        ("13-cell pack", 20, "20-cell pack"),
        ("48 V 15 Ah", 14, "52 V 15 Ah"),
        ("48V 15Ah", 20, "72V 15Ah"),
        ("48 V 15 Ah", 13, "48 V 15 Ah"),
        ("46.8 V", 13, "46.8 V"),
        ("48 V", 30, "108 V"),
        ("downtube 2", 14, "downtube 2"),
        ("p14", 13, "p14"),
        ("13s5p", 1, "1s5p"),
    ],
)
def test_names_that_state_cells_or_volts(name, series, right):
    assert stated(name, "nmc-21700", series, 5) == right


def test_a_name_that_is_taken_is_not_taken_twice():
    job = JOB.with_cells("cells-13", 16)
    assert list(job.pack) == ["cells-10", "cells-16 (2)", "cells-16", "cells-20"]
    assert job.rig("13 cells").pack.parallel == 5


@pytest.mark.parametrize("series", [0, -1, 2.5, 10_001, True, "14", None])
def test_counts_that_are_none_are_refused(series):
    with pytest.raises(JobError, match="series"):
        JOB.with_cells("cells-13", series)


def test_what_is_no_pack_of_cells_is_refused():
    with pytest.raises(JobError, match="no such pack"):
        JOB.with_cells("cells-12", 13)
    stiff = JOB.replace("pack.cells-13", {"open_circuit_v": 48.0, "resistance_ohm": 0.1})
    with pytest.raises(JobError, match="no cells"):
        stiff.with_cells("cells-13", 14)


def test_replace_changes_one_field_and_says_so():
    alone = JOB.replace("pack.cells-13.series", 14).rig("13 cells").pack
    assert alone.bms_cutoff_v == 36.4
    assert "with_cells" in type(JOB).replace.__doc__


def test_it_climbs_as_the_study_says():
    """Seen as 18.69 against 18.24 km/h up 8 %: the mass of seven cells was left out."""
    job = JOB.replace("conditions.grade_percent", 8.0)
    own = top_speed([job.with_cells("cells-13", 20).rig("13 cells")]).speed[0]
    study = with_series(stack([job.rig("13 cells")]), np.array([20.0]))
    assert own == pytest.approx(batch_top_speed(study.batch(), study.names).speed[0], rel=1e-7)


def typed(session, name, key, *values):
    """The session after a value was typed key by key, as the browser sends it."""
    for value in values:
        where = {"type": "field", "part": "pack", "name": name, "key": key}
        session, said = attempt(session, edit_part, where, value, AS_WRITTEN)
        session = Session.parse(session.data())
    return session, said


def test_typed_in_the_form_it_carries_along_too():
    session, said = typed(Session.of(JOB), "cells-13", "series", "1", "14")
    assert said is None
    assert session.job.rig("13 cells").pack.bms_cutoff_v == 39.2
    # An open form goes by the name: it waits until typing is over.
    assert "cells-13" in session.job.pack
    session, _ = typed(Session.of(JOB), "cells-13", "series", "14")
    named, name = named_by_cells(session, "cells-13")
    assert (name, named.job) == ("cells-14", FOURTEEN)


def test_strings_typed_carry_mass_and_ratings_along():
    session, _ = typed(Session.of(JOB), "cells-13", "parallel", "10")
    pack = session.job.rig("13 cells").pack
    assert (pack.mass_kg, pack.peak_current_a, pack.bms_cutoff_v) == (11.0, 80.0, 36.4)


def test_typed_back_key_by_key_the_pack_is_as_it_was():
    session, _ = typed(Session.of(JOB), "cells-13", "series", "1", "14", "1", "13")
    assert session.job.pack["cells-13"] == JOB.pack["cells-13"]


@pytest.mark.parametrize("value", ["", "0", "abc", "2.5"])
def test_no_count_leaves_the_pack_as_it_is(value):
    session, said = typed(Session.of(JOB), "cells-13", "series", value)
    assert said
    assert session.job == JOB


def test_the_form_tells_what_follows_and_is_made_anew_where_it_shows_the_old():
    before = Session.of(JOB)
    session, _ = typed(before, "cells-13", "series", "14")
    said = text_of(part_form(session, "pack", "cells-13"))
    assert "Tune “town (2)” is this pack’s own: its cut-off follows the cells." in said
    assert "Other packs have tune “town” too" in text_of(part_form(before, "pack", "cells-13"))
    pack = JOB.pack["cells-13"]
    fields = [
        ({"part": "pack", "name": "cells-13", "key": key}, getattr(pack, key))
        for key in ("series", "mass_kg", "bms_cutoff_v", "price")
    ]
    made, form = followed(session, fields, [fields[0][0]], AS_WRITTEN)
    assert form == {"part": "pack", "name": "cells-14"}
    assert made.job == FOURTEEN
    # A form that has just opened tells of all its fields: nothing was typed.
    assert followed(session, fields, [where for where, _ in fields], AS_WRITTEN) == (session, None)
