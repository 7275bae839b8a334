"""The page for whoever sets the controller never prints a setting that a caution forbids."""

import pytest

from curves import load_job
from curves.cautions import fit
from curves.report.page import report
from curves.report.wish import Wish
from tests.unit.reading_html import Tables

JOB = load_job()
NAME = "20 cells"


def sheet(job, name=NAME):
    """New settings of a setup by their names, and its cut-offs on the first ride."""
    page = report(job, Wish(to_set=(name,), endurance=False))
    tables = Tables(page).tables
    rows = {row[0]: row[3] for row in tables[f"Settings of {name}"]}
    _, ride = tables["What to expect on the first ride"]
    return rows, ride[-1], page


def test_a_cut_off_of_fewer_cells_is_not_handed_on():
    """Seen: 39.2 V of 14 cells told for 20, 1.96 V a cell."""
    job = JOB.replace("pack.cells-20.bms_cutoff_v", 39.2)
    job = job.replace("tune.town.low_voltage_cutoff_v", 39.2)
    rows, ride, page = sheet(job)
    # 2.5 V a cell are empty by the cells' own curve, to a tenth upwards.
    assert rows["Cut-off of the controller"] == "50.1 V (its cells are empty there)"
    assert rows["Cut-off of the pack (its BMS)"] == "50.1 V (its cells are empty there)"
    assert ride == "50.1; 50.1"
    assert "cut-off to 39.2" not in page


def test_the_reason_itself_names_no_cut_off_that_ruins_cells():
    job = JOB.replace("pack.cells-20.bms_cutoff_v", 39.2)
    said = next(r.text for r in fit(job.rig(NAME)).reasons if r.key == "cutoff-order")
    assert "Set the tune's cut-off to 50.1 V or a little more" in said


@pytest.mark.parametrize(
    ("path", "value", "setting", "said"),
    [
        ("tune.town.phase_current_a", 120.0, "Phase current",
         "95 A peak (67.2 rms) (the controller’s rating)"),
        ("tune.town.pack_current_a", 60.0, "Pack current", "30 A (the pack’s peak current)"),
        ("controller.sine.max_pack_current_a", 12.0, "Pack current",
         "12 A (the controller’s rating)"),
        ("pack.cells-20.continuous_current_a", 10.0, "Pack current",
         "10 A (the pack’s continuous current: top speed takes more)"),
        ("tune.town.low_voltage_cutoff_v", 90.0, "Cut-off of the controller",
         "56 V (the BMS opens there)"),
        ("pack.cells-20.bms_cutoff_v", 90.0, "Cut-off of the controller",
         "do not set: the BMS cuts off a full pack of 84 V"),
        ("motor.hub.max_rpm", 300.0, "Speed cap", "36.0 km/h (the motor is allowed no more)"),
        ("motor.hub.inductance_q_uh", 310.0, "Field weakening", "off"),
        ("controller.sine", {"foldback_start_v": 50.0, "foldback_end_v": 45.0},
         "Current folded back before it", "do not set: the cut-off at 56 V comes first"),
    ],
)  # fmt: skip
def test_what_is_right_stands_in_place_of_what_is_forbidden(path, value, setting, said):
    rows, _, _ = sheet(JOB.replace(path, value))
    assert rows[setting] == said


def test_a_job_that_is_right_is_handed_on_as_it_is():
    job = JOB.replace("tune.town.low_voltage_cutoff_v", 58.0)
    rows, ride, page = sheet(job)
    assert rows["Cut-off of the controller"] == "58 V"
    assert rows["Pack current"] == "26 A"
    assert ride == "58; 56"
    assert "not the job's" not in page
