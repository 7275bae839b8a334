"""The pages of the studies: a number first, and the same numbers as on the first page."""

from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from curves import dump_job, load_job, parse_job
from curves.cli import main
from curves.parts.job import build_job
from curves.setups.stack import stack
from curves.studies.cells import checked_fields, value_problem
from curves.studies.weakening import at_other_charge, top_speeds
from curves.units import KMH, MPH, Units
from dashboard.answers.setups import compare
from dashboard.base.theme import NEUTRAL, faint, mark
from dashboard.figures.spec import unpacked
from dashboard.pages.cells import page as how_many_cells
from dashboard.pages.gearing import page as gearing
from dashboard.pages.search import page as which_setup
from dashboard.pages.search import study as searched
from dashboard.pages.two_inputs import page as any_two
from dashboard.pages.uncertainty import page as how_sure
from dashboard.pages.weakening import page as how_much_weakening
from dashboard.pages.weakening import weakened
from dashboard.pages.weakest_link import page as what_gives
from dashboard.shell.registry import pages
from dashboard.shell.shell import navigation
from dashboard.state.session import Session, View
from dashboard.widgets import choice, options
from dashboard.widgets.inputs import inputs_of
from dashboard.widgets.progress import StoppedError, Task
from tests.unit import one_rig
from tests.unit.component_tree import words

VIEW = View()


@pytest.fixture(scope="module")
def compared():
    """Two setups are enough, and quick."""
    tree = load_job().tree()
    tree["setup"] = [tree["setup"][0], tree["setup"][5]]
    return compare(Session.of(build_job(tree, name="job")))


def text_of(component):
    """The words of some components, spaces that do not break as plain ones."""
    if isinstance(component, list | tuple):
        return " ".join(map(text_of, component))
    if isinstance(component, str | int | float):
        return str(component).replace("\N{NO-BREAK SPACE}", " ")
    return text_of(getattr(component, "children", None) or "")


def worked(page, compared, view=VIEW):
    """Both answers of a page: before its study is worked out, and after."""
    before = text_of(page.PAGE.answer(compared, view))
    page._work(compared, view, Task())
    assert page._done(compared, view)
    return before, text_of(page.PAGE.answer(compared, view))


@pytest.fixture(scope="module")
def first(compared):
    """The setup looked at, as the first page has it."""
    return choice.chosen(compared, VIEW, "any").curve


def test_gearing_confirms_the_first_page(compared, first):
    before, after = worked(gearing, compared)
    assert before.endswith("…")
    assert "the fastest reduction is 0.82" in after
    assert f"now 1 gives {first.top:.1f}" in after
    figure = go.Figure(gearing._draw(compared, VIEW))
    x, y = (unpacked(figure.to_dict()["data"][0][axis]) for axis in "xy")
    assert y[list(x).index(1.0)] == pytest.approx(first.top, rel=1e-6)
    assert [a.text for a in figure.layout.annotations][-2:] == ["now", "fastest"]
    head, rows, _ = gearing._numbers(compared, VIEW)
    assert all(len(row) == len(head) for row in rows)


def test_work_that_is_not_wanted_any_more_ends():
    task = Task()
    task.told(1, 2)
    task.stop()
    with pytest.raises(StoppedError):
        task.told(2, 2)


def test_the_map_confirms_the_first_page(compared, first):
    before, after = worked(any_two, compared)
    assert before.endswith("…")
    assert f"now it is {first.top:.1f}, top speed held by" in after
    reading, asked, found = any_two._found(compared, VIEW)
    assert found.own == (reading.rig.pack.series, reading.rig.tune.pack_current_a)
    assert found.own_results[asked.result] == pytest.approx(first.top, rel=1e-9)
    drawn = any_two._draw(compared, VIEW)
    go.Figure(drawn)
    regions = any_two._regions(found)
    assert np.sum([r.cells for r in regions], axis=0).tolist() == np.ones((25, 16)).tolist()
    patterns = [t["fillpattern"]["shape"] for t in drawn["data"] if "fillpattern" in t]
    assert len(set(patterns)) == len(patterns) == len(regions)
    head, rows, _ = any_two._numbers(compared, VIEW)
    assert all(len(row) == len(head) for row in rows)


def test_colour_on_the_map_is_the_setups_alone(compared):
    any_two._work(compared, VIEW, Task())
    drawn = any_two._draw(compared, VIEW)
    reading = choice.chosen(compared, VIEW, any_two.NAME)
    lines = {t["line"]["color"] for t in drawn["data"] if "color" in t.get("line", {})}
    fills = {t["fillpattern"]["fgcolor"] for t in drawn["data"] if "fillpattern" in t}
    assert lines | fills == {NEUTRAL}
    assert drawn["data"][-1]["marker"]["color"] == mark(reading.slot).colour


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        ({"x": "pack.series", "y": "pack.series"}, "two different inputs"),
        ({"from pack.series": 12.0, "to pack.series": 12.0}, "must rise"),
        ({"to controller.max_modulation": 2.0, "y": "controller.max_modulation"}, "within"),
    ],
)
def test_a_map_that_cannot_be_says_why(compared, kept, said):
    view = View(extra={any_two.NAME: kept})
    assert said in text_of(any_two.answer(compared, view))
    assert any_two._done(compared, view)


def test_every_input_offered_can_be_varied(compared):
    for reading in compared.shown:
        offered = inputs_of(reading.rig)
        checked_fields(stack([reading.rig]), list(offered))
        for one in offered.values():
            assert value_problem(one.name, one.values(*one.usual, 5)) == ""
            assert one.problem(*one.usual) == ""


def test_bands_hold_the_first_pages_numbers(compared, first):
    before, after = worked(how_sure, compared)
    assert before.endswith("…")
    assert "nine times in ten" in after
    assert "is faster, by however little, in 0 % of the samples, slower in 100 %" in after
    assert "the controller’s max modulation (" in after
    found = how_sure.banded(compared, 256)
    low, middle, high = found.top_speed[0] / KMH
    assert low < first.top < high
    assert middle == pytest.approx(first.top, rel=0.02)
    drawn = how_sure._force(compared, VIEW)
    go.Figure(drawn)
    assert [t["fillcolor"] for t in drawn["data"] if "fillcolor" in t] == [
        faint(mark(r.slot).colour, 0.18) for r in reversed(compared.shown)
    ]
    go.Figure(how_sure._where(compared, VIEW))
    for numbers in (how_sure._force_numbers, how_sure._where_numbers):
        head, rows, _ = numbers(compared, VIEW)
        assert rows
        assert all(len(row) == len(head) for row in rows)
    cells = [c.cell(compared.shown[0], None) for c in how_sure.columns(compared, VIEW)]
    assert f"{low:.1f} to {high:.1f}" in text_of(cells[0])


def test_without_tolerances_the_page_says_so():
    some = compare(Session.of(parse_job(one_rig.JOB)))
    how_sure._work(some, VIEW, Task())
    assert "No input has a tolerance" in text_of(how_sure.answer(some, VIEW))


QUICK = View(
    extra={
        "search": {
            "vary": ["pack.series", "tune.power_cap_w"],
            "to pack.series": 14,
            "from pack.series": 12,
            "steps tune.power_cap_w": 3,
            "goals": ["top_speed_kmh"],
            "goal top_speed_kmh": 40.0,
        }
    }
)


@pytest.mark.parametrize("hold", ["strings", "energy"])
def test_a_setup_found_is_added_as_it_was_found(compared, hold):
    view = View(extra={"search": {**QUICK.extra["search"], "hold": hold}})
    assert "Press Search" in text_of(which_setup.answer(compared, view))
    searched.work(compared, view, Task())
    asked = searched.asked_of(compared, view)
    found = searched.found_for(asked)
    assert found.size == 9
    assert f"{found.meets.sum()} of 9 setups meet every goal" in text_of(
        which_setup.answer(compared, view)
    )
    row = searched.in_order(found)[-1]
    session = searched.added(compared.session, asked, found, row)
    new = compare(session).readings[-1]
    assert new.name == "as delivered (2)"
    assert new.rig.pack.series == found.values[row, 0]
    assert new.curve.top == pytest.approx(
        dict(searched.told(found, row))["top_speed_kmh"], rel=1e-7
    )
    assert session.job.setup[0] == compared.session.job.setup[0]
    drawn = go.Figure(which_setup._draw(compared, view))
    assert drawn.data[-1].y[0] == pytest.approx(compared.shown[0].curve.top)
    assert len(unpacked(drawn.to_dict()["data"][2]["x"])) == found.front.sum()
    assert text_of(which_setup._listed(compared, view)).count("Add to the job") == len(
        searched.in_order(found)
    )


def test_a_search_that_was_stopped_keeps_what_it_has(compared):
    view = View(extra={"search": {**QUICK.extra["search"], "seed": 7}})
    task = Task()
    task.stop()
    searched.work(compared, view, task)
    assert searched.found_for(searched.asked_of(compared, view)).stopped
    assert "stopped before its end" in text_of(which_setup.answer(compared, view))
    searched.work(compared, view, Task())
    assert not searched.found_for(searched.asked_of(compared, view)).stopped


def test_controls_are_drawn_anew_only_when_others_are_asked_for(compared):
    now = which_setup._tools(compared, QUICK)
    other = View(extra={"search": {**QUICK.extra["search"], "goal top_speed_kmh": 41.0}})
    assert options.controls_in(now) == options.controls_in(which_setup._tools(compared, other))
    assert options.controls_in(now) != options.controls_in(which_setup._tools(compared, VIEW))
    sent = [group.to_plotly_json() for group in now]
    for group in sent:
        group["props"]["children"] = [x.to_plotly_json() for x in group["props"]["children"]]
    assert options.controls_in(sent) == options.controls_in(now)


def test_the_weakest_link_is_named_with_its_numbers(compared):
    what_gives._work(compared, VIEW, Task())
    said = text_of(what_gives.answer(compared, VIEW))
    # 75 A peak of the tune against 95 A of the controller.
    assert "the controller, phase side, asked 75.0 of 95.0 A, 79 % of its rating" in said
    thin = View(extra={"gives": {"fuse_a": 20.0, "phase_wire_awg": "14", "class": "en-15194"}})
    head, rows, _ = what_gives._numbers(compared, thin)
    assert rows[0][0] == "phase leads, AWG 14 (the weakest)"
    assert [row[0] for row in rows].index("fuse") == 1
    assert all(len(row) == len(head) for row in rows)
    assert "phase leads, AWG 14 and fuse" in text_of(what_gives.answer(compared, thin))
    go.Figure(what_gives._draw(compared, thin))
    risks = text_of(what_gives._risks(compared, thin))
    assert "Faster than its class" in risks
    assert "EN 15194:2017" in risks
    assert "No class of vehicle chosen" in text_of(what_gives._risks(compared, VIEW))


def test_what_settles_too_hot_is_among_the_cautions():
    job = parse_job(dump_job(load_job())).replace("motor.hub.winding_limit_c", 25.0)
    some = compare(Session.of(job))
    before = text_of(what_gives._risks(some, VIEW))
    assert "Winding too hot if it goes on" not in before
    what_gives._work(some, VIEW, Task())
    assert "Winding too hot if it goes on" in text_of(what_gives._risks(some, VIEW))


def test_every_page_is_in_one_group():
    paths = [page.path for page in pages()]
    assert len(set(paths)) == len(paths)
    for path in paths:
        _, first, second = navigation(path)
        assert [link.className for link in first.children].count("page-link here") == 1
        assert [link.href for link in second.children if "here" in link.className] == [path]


def test_cells_confirm_the_first_page(compared, first):
    before, after = worked(how_many_cells, compared)
    assert before.endswith("…")
    assert "with a full pack on the level, more cells stop helping top speed at 13 in" in after
    assert "The goal of 40 km/h on the level takes 11 cells full and " in after
    _, (speeds, full) = how_many_cells._found(compared, VIEW)
    own = list(speeds.series).index(10)
    assert speeds.top_speed[0, 0, own] / KMH == pytest.approx(first.top, rel=1e-9)
    assert full.top_speed[0, 0, own] / KMH == pytest.approx(first.top, rel=1e-9)
    titles = [a["text"] for a in how_many_cells._draw(compared, VIEW)["layout"]["annotations"]]
    for title in ("Top speed", "Speed on 8 %", "0–20 mph", "0–660 ft", "Winding", "Heat in", "now"):
        assert any(title in said for said in titles), title
    assert not any("Price" in said for said in titles)
    head, rows, _ = how_many_cells._numbers(compared, VIEW)
    assert all(len(row) == len(head) for row in rows)


def test_what_counts_as_beating_is_said(compared):
    _, after = worked(how_sure, compared)
    assert "is faster, by however little, in" in after
    card = words(how_sure._odds_card(compared, VIEW))
    assert "Any difference counts" in card
    assert "Row beats column, by any difference: top speed" in card


def test_cells_with_the_energy_held(compared):
    view = View(extra={"cells": {"hold": "energy", "caps": "grown"}})
    _, after = worked(how_many_cells, compared, view)
    assert "energy stays" in after


def test_weakening_confirms_the_first_page(compared, first):
    before, after = worked(how_much_weakening, compared)
    assert before.endswith("…")
    assert "10 cells with" in after
    assert "of weakening come nearest to 13 cells" in after
    assert "A on with a full pack; with a nearly empty one it buys less than 0.1 km/h from" in after
    _, asked, sweep = how_much_weakening._found(compared, VIEW)
    assert asked.worth_kmh == 0.1
    assert sweep.top.speed[0] / KMH == pytest.approx(first.top, rel=1e-9)
    titles = [a["text"] for a in how_much_weakening._draw(compared, VIEW)["layout"]["annotations"]]
    for title in ("Efficiency", "Rim force at 25", "Wh/km", "Winding", "Back-EMF", "fastest"):
        assert any(title in said for said in titles), title
    head, rows, _ = how_much_weakening._numbers(compared, VIEW)
    assert all(len(row) == len(head) for row in rows)
    assert "An ampere buys nearly empty, km/h" in head
    (full, empty) = (float(rows[0][k]) for k, h in enumerate(head) if h.startswith("Top speed"))
    assert (full, empty) == (round(first.top, 1), 29.2)
    drawn = how_much_weakening._draw(compared, VIEW)["data"]
    assert {"full", "nearly empty"} <= {t.get("name") for t in drawn}


def test_what_an_ampere_should_buy_is_the_users_to_set(compared):
    view = View(extra={"weakening": {"worth": 0.3, "cells": 11}})
    _, after = worked(how_much_weakening, compared, view)
    assert "buys less than 0.3 km/h" in after
    assert "match 11 cells" in after


def test_with_a_typical_inductance_no_single_setting_is_given():
    tree = load_job().tree()
    tree["motor"]["hub"]["sources"] = {"inductance_d_uh": "typical: guessed"}
    tree["setup"] = tree["setup"][:1]
    some = compare(Session.of(build_job(tree, name="job")))
    _, after = worked(how_much_weakening, some)
    assert "no single figure is given" in after
    titles = [a["text"] for a in how_much_weakening._draw(some, VIEW)["layout"]["annotations"]]
    assert "fastest" not in titles


def test_numbers_are_told_in_the_readers_units(compared, first):
    view = View(units=Units.of(["mph", "°F"]), extra=QUICK.extra)
    mph = first.top * KMH / MPH
    assert f"now it is {mph:.1f}" in worked(any_two, compared, view)[1]
    assert f"now 1 gives {mph:.1f}" in worked(gearing, compared, view)[1]
    searched.work(compared, view, Task())
    drawn = which_setup._draw(compared, view)
    assert drawn["data"][-1]["y"][0] == pytest.approx(mph)
    assert drawn["layout"]["yaxis"]["title"]["text"] == "top speed, mph"


@pytest.mark.parametrize("kind", ["source", "cannot start", "nothing shown"])
def test_pages_bear_odd_jobs(kind):
    job = parse_job(one_rig.JOB)
    if kind == "source":
        tree = job.tree()
        tree["pack"]["p14"] = {"open_circuit_v": 50.0, "resistance_ohm": 0.1}
        job = build_job(tree, name="job")
    if kind == "cannot start":
        job = job.replace("tune.town.phase_current_a", 0.0)
    session = Session.of(job)
    some = compare(session.toggle(0) if kind == "nothing shown" else session)
    view = View(extra={"search": {"budget": 20}})
    for page in (any_two, gearing, how_many_cells, how_much_weakening, how_sure, what_gives):
        page._work(some, view, Task())
        assert text_of(page.answer(some, view))
        assert page.body(some, view)
        [c.cell(r, None) for r in some.readings for c in page.PAGE.columns(some, view)]
    searched.work(some, view, Task())
    assert text_of(which_setup.answer(some, view))
    assert which_setup.body(some, view)


def test_weakening_that_pays_is_one_click_away(compared):
    how_much_weakening._work(compared, VIEW, Task())
    reading, _, sweep = how_much_weakening._found(compared, VIEW)
    amps = weakened.pays_to(sweep)
    # As the sentence has it: from there on an ampere buys less than what it should.
    assert 0 < amps <= sweep.answers.diminishing[0] < amps + 1
    assert text_of(weakened.offer(reading, sweep, None, VIEW)).endswith(f"{amps} A of weakening")
    added = weakened.weakened(compared.session, reading.slot, amps)
    assert added.job.rigs()[-1].tune.field_weakening_a == amps
    told = f"{amps} A weakening"
    assert added.job.setup[-1].name == f"{reading.name}, {told}"
    assert added.job.setup[-1].tune == f"{compared.job.setup[0].tune}, {told}"
    again = weakened.weakened(added, reading.slot, amps)
    assert again.job.setup[-1].name == f"{reading.name}, {told} (2)"
    assert again.job.setup[-1].tune == f"{compared.job.setup[0].tune}, {told} (2)"
    done = compare(added).readings[-1]
    assert weakened.offer(done, sweep, None, VIEW) == []


@pytest.fixture(scope="module")
def empty_gains():
    """A pack that gains nothing full, and speed when nearly empty, once with a share set."""
    tree = load_job().tree()
    some = {s["name"]: s for s in tree["setup"]}
    tree["setup"] = [some["13 cells"], some["13 cells, weakened"]]
    return compare(Session.of(build_job(tree, name="job")))


def test_weakening_that_pays_nearly_empty_alone_is_told_and_offered(empty_gains):
    _, after = worked(how_much_weakening, empty_gains)
    reading, asked, sweep = how_much_weakening._found(empty_gains, VIEW)
    other = how_much_weakening._other(reading, asked)
    amps = weakened.pays_to(other, sweep)
    assert weakened.pays_to(sweep) == 0 < amps <= other.answers.fastest[0]
    slow, fast = (float(other.top.speed[k]) / KMH for k in (0, -1))
    headline = text_of(how_much_weakening.answer(empty_gains, VIEW)[0])
    assert headline.endswith(
        f"held by power cap, but with a nearly empty one it adds {fast - slow:.1f} km/h up to "
        f"{other.answers.fastest[0]:.1f} A, from {slow:.1f} to {fast:.1f}."
    )
    button = f"Add a setup with {amps} A of weakening: nearly empty from {slow:.1f} to {fast:.1f}"
    assert f"{button} km/h" in after
    assert "raise it in small steps, and watch the temperature. Add a setup" in after
    mph = View(units=Units.of(["mph"]))
    assert text_of(weakened.offer(reading, sweep, other, mph)).endswith(
        f"from {slow * KMH / MPH:.1f} to {fast * KMH / MPH:.1f} mph"
    )
    made = weakened.weakened(empty_gains.session, reading.slot, amps)
    assert made.job.setup[-1].name == f"13 cells, {amps} A weakening"
    assert made.job.setup[-1].tune == f"town, {amps} A weakening"
    done = compare(made).readings[-1]
    assert weakened.offer(done, sweep, other, VIEW) == []


def test_a_gain_nearly_empty_is_told_over_what_is_set(empty_gains):
    part = empty_gains.readings[1]
    view = View(extra={"weakening": {"slot": part.slot}})
    _, after = worked(how_much_weakening, empty_gains, view)
    rig = at_other_charge(part.rig)
    now = top_speeds(rig, [part.rig.tune.field_weakening_a])[0] / KMH
    without = top_speeds(rig, [0.0])[0] / KMH
    assert now > without + 1
    assert f"nearly empty from {now:.1f} to" in after


def test_weakening_past_a_rating_at_either_charge_is_not_offered(empty_gains):
    how_much_weakening._work(empty_gains, VIEW, Task())
    reading, asked, sweep = how_much_weakening._found(empty_gains, VIEW)
    other = how_much_weakening._other(reading, asked)

    def within(of, amps):
        return replace(of, answers=replace(of.answers, within=np.array([amps])))

    for full, empty in ((11.5, 80.0), (80.0, 11.5)):
        assert weakened.pays_to(within(other, empty), within(sweep, full)) == 11
    for full, empty in ((np.nan, 80.0), (80.0, np.nan)):
        some = within(sweep, full), within(other, empty)
        assert weakened.offer(reading, *some, VIEW) == []


def test_a_gearings_line_passes_through_the_best_that_is_told(compared):
    gearing._work(compared, VIEW, Task())
    best = gearing._sweep(gearing.choice.chosen(compared, VIEW, gearing.NAME), VIEW).fastest
    line = gearing._draw(compared, VIEW)["data"][0]
    x, y = np.asarray(unpacked(line["x"])), np.asarray(unpacked(line["y"]))
    at = int(np.argmin(abs(x - best.value)))
    # Plots hold their numbers in single precision.
    assert x[at] == pytest.approx(best.value, rel=1e-6)
    assert y[at] == pytest.approx(best.result / KMH, rel=1e-6)
    assert np.nanmax(y) == y[at]


@pytest.mark.parametrize(
    ("page", "command", "option"),
    [(how_much_weakening, "weakening", "--amps"), (how_many_cells, "packs", "--series")],
)
def test_a_page_and_its_command_write_the_same_numbers(compared, capsys, page, command, option):
    """Seen: a setting of 2.7 A here was 2.66667 A there, a pack of 2.5 kg another."""
    page._work(compared, VIEW, Task())
    head, rows, _ = page._numbers(compared, VIEW)
    asked = ",".join(f"{row[0].value:.9g}" for row in rows)
    name = choice.chosen(compared, VIEW, page.NAME).name
    assert main([command, "--setup", name, option, asked]) == 0
    _, table = capsys.readouterr().out.rsplit("──\n", 1)
    lines = [line.split() for line in table.splitlines()]
    alike = ("Loss", "Efficiency", "Energy per", "Winding,", "Back-EMF", "Pack, kg", "Pack, A")
    places = [k for k, title in enumerate(head) if title.startswith(("Top speed full", *alike))]
    assert len(places) >= 3
    for row in rows:
        [line] = [x for x in lines if x and x[0] == row[0]]
        assert {row[k].replace(",", "").replace("−", "-") for k in places} <= set(line)
