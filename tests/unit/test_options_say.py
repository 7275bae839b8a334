"""Options beside plots: what they do not take stands in an error, and what was before holds."""

import pytest

from curves import load_job
from curves.units import Units
from dashboard.answers.setups import compare
from dashboard.pages.heat import repeated_card, typical_heat
from dashboard.pages.log import callbacks as asking
from dashboard.pages.log import study as logged
from dashboard.pages.range import page as how_far
from dashboard.pages.recheck import page as does_it_agree
from dashboard.pages.recheck import study as rechecked
from dashboard.pages.runs import run_tools
from dashboard.pages.runs.study import Asked
from dashboard.pages.which_pack import pins
from dashboard.shell import intake_form as asked_form
from dashboard.state.session import Session, View
from tests.unit.component_tree import parts


@pytest.fixture(scope="module")
def compared():
    return compare(Session.of(load_job()))


@pytest.mark.parametrize(
    ("speeds", "said"),
    [
        (["20 mph", "many"], "“many” is left out: write 20 mph or 25 km/h, above 0, to 300 km/h"),
        (["0", "-3", "x" * 80], "“0”, “-3” and “" + "x" * 27 + "…” are left out"),
        (["301 km/h", "250 mph"], "“301 km/h” and “250 mph” are left out"),
        (["20 ft"], "“20 ft” is left out"),
        (["30", "25,5 km/h", "20 mph"], ""),
        ([], ""),
    ],
)
def test_a_speed_that_is_none_is_named_and_the_others_hold(speeds, said):
    before = Asked()
    now, wrong = run_tools.read(before, View(), speeds, ["60 ft"], None, (False, False))
    assert wrong["run-speeds"].startswith(said)
    assert bool(wrong["run-speeds"]) == bool(said)
    assert len(now.speeds_kmh) == len(speeds) - wrong["run-speeds"].count("“")
    # All that is kept is asked: nothing is dropped later without a word.
    assert Asked.of(View(extra={"runs": now.kept()})) == now


@pytest.mark.parametrize("typed", ["a mile", "5281 ft", "20 mph", "0 m"])
def test_a_distance_that_is_none_is_named(typed):
    now, wrong = run_tools.read(Asked(), View(), [], ["660 ft", typed], None, (True, False))
    assert now.distances_ft == (660.0,)
    assert wrong["run-distances"] == (
        f"“{typed}” is left out: write 660 ft or 100 m, above 0, to 5,280 ft"
    )


@pytest.mark.parametrize(
    ("typed", "held", "said"),
    [
        ("abc", 800.0, "must be a number; 800 W stays in force"),
        (-5, 800.0, "must be above 0, to 1,000,000; 800 W stays in force"),
        (2e6, None, "must be above 0, to 1,000,000; the lowest ceiling stays in force"),
        ("", 800.0, ""),
        (600, None, ""),
    ],
)
def test_a_power_that_is_none_leaves_the_one_before(typed, held, said):
    before = Asked(watts=held)
    now, wrong = run_tools.read(before, View(), [], [], typed, (False, True))
    assert wrong["run-watts"] == said
    assert now.watts == (held if said else None if typed == "" else typed)


@pytest.mark.parametrize(
    ("kind", "typed", "said"),
    [
        ("speeds", ["20", "fast"], "“fast” is left out: write a speed, from 0 to 249 mph"),
        ("speeds", ["300"], "“300” is left out: write a speed, from 0 to 249 mph"),
        ("slopes", ["5 %", "steep"], "“steep” is left out: write a slope in %, from −40 to 40"),
        ("slopes", ["−41", "41", "nan"], "“−41”, “41” and “nan” are left out"),
        ("slopes", ["−2,5", "0"], ""),
        ("panels", ["power"], ""),
    ],
)
def test_a_pin_that_is_none_is_named_and_the_others_hold(kind, typed, said):
    view, job = View(units=Units.of(["mph"])), load_job()
    wrong = pins.wrong(kind, typed, view.speed)
    assert wrong.startswith(said)
    assert bool(wrong) == bool(said)
    if kind != "panels":
        now = pins.pinned_by(kind, typed, view, job)
        kept = now.pinned_kmh if kind == "speeds" else now.slopes(job)
        assert len(kept) == len(typed) - wrong.count("“")


def test_lists_with_a_pin_that_is_none_are_not_drawn_over_its_error():
    lists = pins.pins(load_job(), View(pinned_kmh=(25.0,))).children
    shown = [list(made.value) for made in lists]
    assert pins.stand_as(lists, shown)
    shown[0].append("fast")
    assert pins.stand_as(lists, shown)
    shown[0].append("30")
    assert not pins.stand_as(lists, shown)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "must be a number; 3.5 s stays in force"),
        ("abc", "must be a number; 3.5 s stays in force"),
        (1e6, "the log ends at "),
        (-1e6, "the log begins at "),
        (4.0, ""),
    ],
)
def test_a_start_that_is_none_leaves_the_one_before(compared, typed, said):
    view = logged.with_asked(View(), token=logged.DEMO, name=logged.DEMO_NAME, sure=True, start=3.5)
    wrong = asking.wrong_start(typed, compared, view)
    assert wrong.startswith(said)
    assert bool(wrong) == bool(said)
    assert not said or wrong.endswith("; 3.5 s stays in force")
    found = logged.with_asked(view, start=None)
    if said:
        assert asking.wrong_start(typed, compared, found).endswith(" s, as found, stays in force")


@pytest.mark.parametrize(
    ("key", "typed", "before", "said"),
    [
        ("top_speed_kmh", -5, 40.0, "must be above 0, to 6,213.71; 24.8548 mph stays in force"),
        ("top_speed_kmh", 0, None, "must be above 0, to 6,213.71; it is left out"),
        ("resting_v", "-", 60.0, "must be a number; 60 V stays in force"),
        ("motor_c", -90, None, "must be from -60 to 500; it is left out"),
        ("motor_c", -5, None, ""),
        ("resting_v", 1e300, 60.0, "must be above 0, to 10,000; 60 V stays in force"),
        ("resting_v", "", 60.0, ""),
    ],
)
def test_a_reading_that_is_none_leaves_the_one_before(key, typed, before, said):
    units = Units.of(["mph"])
    now, wrong = does_it_agree._number(key, typed, before, units)
    assert wrong == said
    assert now == (before if said else None if typed == "" else typed)


def test_every_reading_has_its_ends():
    assert rechecked.ENDS.keys() == rechecked.UNITS.keys()


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        (("a mile", 2, 6), "LENGTH"),
        (("", 2, 6), "LENGTH"),
        (("660 ft", -1, 6), "PAUSE"),
        (("660 ft", 601, 6), "PAUSE"),
        (("660 ft", "", 6), "PAUSE"),
        (("660 ft", 2, 13), "COUNT"),
        (("660 ft", 2, 2.5), "COUNT"),
        (("660 ft", 2, 12), None),
    ],
)
def test_runs_after_runs_say_beside_the_field_what_is_wrong(typed, wrong):
    said = repeated_card.wrong(*typed)
    assert [name for name, text in said.items() if text] == (
        [getattr(repeated_card, wrong)] if wrong else []
    )
    assert (repeated_card._asked(*typed) is None) == bool(wrong)


def test_no_number_is_moved_to_its_bound_without_a_word():
    """A browser's input does that when it is left, unless told not to."""
    view = View()
    units = view.units
    trees = [
        run_tools.build(view),
        repeated_card.card(),
        how_far._tools(view),
        typical_heat._card("hub", units),
        asked_form.form(units),
    ]
    found = [
        x
        for tree in trees
        for x in parts(tree)
        if type(x).__name__ == "NumberInput"
        and not all(getattr(x, end, None) is None for end in ("min", "max"))
    ]
    assert len(found) >= 7
    for one in found:
        assert getattr(one, "clampBehavior", None) == "none", one.id
