"""The search: the front against brute force, the same on every kind of worker, stop and seed."""

import json
from itertools import product

import numpy as np
import pytest
from distributed import LocalCluster
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from curves import JobError, load_job
from curves.cli import main
from curves.steady.balance import top_speed
from curves.studies import search as study
from curves.studies.front import Goal, front_of, parse_goal
from curves.studies.search import Span, search
from curves.studies.workers import cluster, local
from curves.units import KMH

JOB = load_job()
RIG = JOB.rig("as delivered")
SPANS = (
    Span("tune.pack_current_a", tuple(np.arange(14.0, 38.0, 4.0))),
    Span("tune.power_cap_w", (800.0, 1200.0, 1600.0)),
    Span("bike.drag_area_m2", (0.6, 0.72)),
)
GOALS = (Goal("top_speed_kmh", 36.0, at_least=True), Goal("loss_at_top_w", 110.0, at_least=False))
TRADES = ("top_speed_kmh", "peak_pack_a")


def brute_front(costs):
    """Every row against every other."""
    beaten = [
        any(np.all(other <= row) and np.any(other < row) for other in costs) or np.isnan(row).any()
        for row in costs
    ]
    return ~np.array(beaten, dtype=bool)


@given(
    hnp.arrays(
        np.float64,
        hnp.array_shapes(min_dims=2, max_dims=2, max_side=12),
        elements=st.one_of(st.integers(0, 4).map(float), st.just(np.nan)),
    )
)
def test_front_against_every_pair(costs):
    whole = costs[~np.isnan(costs).any(axis=1)]
    expected = np.zeros(len(costs), dtype=bool)
    expected[~np.isnan(costs).any(axis=1)] = brute_front(whole)
    assert front_of(costs).tolist() == expected.tolist()


@pytest.fixture(scope="module")
def whole():
    return search([RIG], SPANS, GOALS, TRADES, workers=1)


def test_whole_space_against_jobs_edited_by_hand(whole):
    """Brute force: each combination as a job of its own, solved alone."""
    assert whole.complete
    assert whole.size == len(whole.outcome) == 36
    by_hand = []
    for amps, watts, area in product(*(span.values for span in SPANS)):
        job = JOB.replace("tune.town.pack_current_a", float(amps))
        job = job.replace("tune.town.power_cap_w", watts).replace("bike.cargo.drag_area_m2", area)
        by_hand.append(top_speed([job.rig("as delivered")]).speed[0] / KMH)
    speed = whole.outcome[:, whole.results.index("top_speed_kmh")]
    assert whole.values.tolist() == [list(x) for x in product(*(span.values for span in SPANS))]
    assert speed == pytest.approx(by_hand, rel=1e-12)
    loss = whole.outcome[:, whole.results.index("loss_at_top_w")]
    amps = whole.outcome[:, whole.results.index("peak_pack_a")]
    meets = (speed >= 36) & (loss <= 110)
    assert whole.meets.tolist() == meets.tolist()
    assert 0 < meets.sum() < meets.size
    costs = np.stack((-speed, amps), axis=1)
    expected = np.zeros(meets.size, dtype=bool)
    expected[meets] = brute_front(costs[meets])
    assert whole.front.tolist() == expected.tolist()


def test_several_setups_to_start_from():
    rigs = [RIG, JOB.rig("20 cells")]
    found = search(rigs, SPANS[:1], (), TRADES, workers=1)
    assert found.size == 12
    assert found.base.tolist() == [0] * 6 + [1] * 6
    alone = search([rigs[1]], SPANS[:1], (), TRADES, workers=1)
    assert found.outcome[6:] == pytest.approx(alone.outcome, rel=1e-12)


WIDE = (
    Span("tune.pack_current_a", tuple(np.linspace(14, 40, 14))),
    Span("tune.power_cap_w", tuple(np.linspace(600, 2000, 15))),
    Span("pack.series", tuple(range(8, 20))),
)


def in_pieces(monkeypatch, **options):
    monkeypatch.setattr(study, "PIECE", 32)
    return search([RIG], WIDE, GOALS, TRADES, budget=200, **options)


def test_same_seed_same_search_whoever_does_it(monkeypatch):
    here = in_pieces(monkeypatch, workers=1)
    again = in_pieces(monkeypatch, workers=1)
    others = in_pieces(monkeypatch, workers=2)
    elsewhere = in_pieces(monkeypatch, workers=1, seed=1)
    assert len(here.outcome) == 200
    assert len(np.unique(here.values, axis=0)) == 200
    assert not here.complete
    for other in (again, others):
        assert np.array_equal(here.values, other.values)
        assert np.array_equal(here.outcome, other.outcome, equal_nan=True)
    assert not np.array_equal(here.values, elsewhere.values)


def test_dask_finds_the_same(monkeypatch, capsys):
    here = in_pieces(monkeypatch, workers=1)
    with (
        LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            host="127.0.0.1",
            dashboard_address=None,
            silence_logs=50,
        ) as some,
        cluster(some.scheduler_address) as executor,
    ):
        there = in_pieces(monkeypatch, executor=executor)
        command = ["search", "--json", "--vary", "pack.series=10:14:1", "--goal", "pack_kg<=7"]
        told = []
        for more in ([], ["--scheduler", some.scheduler_address]):
            assert main([*command, *more]) == 0
            told.append(capsys.readouterr().out)
    assert told[0] == told[1]
    assert len(json.loads(told[0])["rows"]) == 4
    assert np.array_equal(here.values, there.values)
    assert np.array_equal(here.outcome, there.outcome, equal_nan=True)
    assert np.array_equal(here.front, there.front)


def test_closing_in_finds_a_front_as_good_as_the_whole_space():
    exact = search([RIG], WIDE, GOALS, TRADES, workers=1)
    assert exact.complete
    some = search([RIG], WIDE, GOALS, TRADES, budget=900, workers=1)
    columns = [exact.results.index(name) for name in TRADES]
    best = exact.outcome[exact.front][:, columns]
    found = some.outcome[some.front][:, columns]
    # For each point of the true front one as fast to 1 % for at most 1 % more current.
    close = [
        np.any((found[:, 0] >= 0.99 * speed) & (found[:, 1] <= 1.01 * amps)) for speed, amps in best
    ]
    assert np.mean(close) > 0.9


def test_progress_rises_and_a_stop_keeps_what_is_there(monkeypatch):
    told = []
    found = in_pieces(
        monkeypatch,
        workers=1,
        progress=lambda done, most: told.append((done, most)),
        stop=lambda: len(told) >= 2,
    )
    assert told == [(32, 200), (64, 200)]
    assert found.stopped
    assert len(found.outcome) == 64
    assert found.values.shape == (64, 3)


def test_a_stop_before_anything_is_done_on_other_processes(monkeypatch):
    monkeypatch.setattr(study, "PIECE", 8)
    with local(2) as pool:
        found = search([RIG], WIDE, GOALS, TRADES, budget=200, executor=pool, stop=lambda: True)
    assert found.stopped
    assert len(found.outcome) < 80


def test_nothing_meets_the_goals():
    impossible = (Goal("top_speed_kmh", 300.0, at_least=True),)
    found = search([RIG], SPANS[:1], impossible, TRADES, workers=1)
    assert not found.meets.any()
    assert not found.front.any()
    fastest = np.argmax(found.outcome[:, 0])
    assert found.missing.argmin() == fastest


@pytest.mark.parametrize(
    ("text", "goal"),
    [
        ("top_speed_kmh>=45", Goal("top_speed_kmh", 45.0, at_least=True)),
        (" time_to_30mph_s <= 5.5 ", Goal("time_to_30mph_s", 5.5, at_least=False)),
    ],
)
def test_goals_as_people_write_them(text, goal):
    assert parse_goal(text) == goal
    assert parse_goal(str(goal)) == goal


@pytest.mark.parametrize(
    "text", ["", "top_speed_kmh", "top_speed_kmh>=x", "top_speed_kmh>=nan", "speed>=3"]
)
def test_what_is_no_goal_is_refused(text):
    with pytest.raises(JobError):
        parse_goal(text)


@pytest.mark.parametrize(
    ("spans", "said"),
    [
        ((Span("pack.series", (10.5,)),), "whole"),
        ((Span("pack.series", (0.0, 1.0)),), "at least 1"),
        ((Span("pack.series", ()),), "rising"),
        ((Span("tune.power_cap_w", (-1.0, 1.0)),), "at least 0"),
        ((Span("controller.max_modulation", (0.9, 1.3)),), "at most 1.1027"),
        ((Span("tune.basis", (1.0, 1.4)),), "by itself"),
        ((Span("tune.power_cap", (1.0,)),), "power_cap_w"),
    ],
)
def test_values_that_are_not_allowed_are_refused(spans, said):
    with pytest.raises(JobError, match=said):
        search([RIG], spans)


def test_command(capsys):
    status = main(
        [
            "search",
            "--json",
            "--vary",
            "pack.series=10:14:1",
            "--goal",
            "top_speed_kmh>=40",
            "--trade",
            "top_speed_kmh",
            "--trade",
            "full_charge_v",
        ]
    )
    found = json.loads(capsys.readouterr().out)
    assert status == 0
    assert found["format"] == "rimforce-search-1"
    assert found["complete"]
    assert [row["inputs"]["pack.series"] for row in found["rows"]] == [13, 12, 11, 14]
    assert [row["on_front"] for row in found["rows"]] == [True, True, True, False]


def test_command_without_ranges_says_what_to_give(capsys):
    assert main(["search"]) == 2
    assert "pack.series=10:20:1" in capsys.readouterr().err


def test_commands_packs_and_weakening(capsys):
    assert main(["packs", "--json", "--series", "12:14", "--setup", "as delivered"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["format"] == "rimforce-packs-1"
    assert [row["series"] for row in found["rows"]] == [12, 13, 14]
    assert found["stops_helping_at_series"] == 13
    assert main(["packs", "--json", "--series", "14:16"]) == 0
    assert json.loads(capsys.readouterr().out)["stops_helping_at_series"] is None
    assert main(["weakening", "--json", "--amps", "0:40:20"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["format"] == "rimforce-weakening-1"
    assert [row["amps"] for row in found["rows"]] == [0, 20, 40]
    assert found["fastest_a"] == pytest.approx(29.3927, abs=1e-4)
    assert main(["weakening"]) == 0
    assert "29.4 A" in capsys.readouterr().out
    assert main(["packs"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "With a full pack on the level, more cells stop helping top speed at 13" in said
    assert "The goal of 40 km/h on the level takes 11 cells full." in said
