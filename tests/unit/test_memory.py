"""Answers kept: the latest ones, made once however many ask."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace

import numpy as np
import pytest

from curves.measured.measured_run import Run
from dashboard.answers.memory import Memory, key_for
from dashboard.state import uploads


def test_what_two_ask_at_once_is_made_once():
    memory, made, begun = Memory(8), [], threading.Event()

    def make(places):
        begun.set()
        time.sleep(0.05)
        made.append(places)
        return ["answer"] * len(places)

    with ThreadPoolExecutor(2) as both:
        first = both.submit(memory.each, ["a", "b"], make)
        assert begun.wait(10)
        second = both.submit(memory.each, ["b", "c"], make)
        assert first.result() == second.result() == ["answer", "answer"]
    assert made == [[0, 1], [1]]


def test_what_could_not_be_made_is_tried_again():
    memory = Memory(8)
    with pytest.raises(ZeroDivisionError):
        memory.each(["a"], lambda _: [1 / 0])
    assert memory.each(["a"], lambda _: [1]) == [1]


def test_what_is_under_way_is_recalled_as_unknown_at_once():
    memory, begun, leave = Memory(8), threading.Event(), threading.Event()

    def make(places):
        begun.set()
        assert leave.wait(10)
        return ["answer"] * len(places)

    with ThreadPoolExecutor(1) as other:
        made = other.submit(memory.each, ["a"], make)
        assert begun.wait(10)
        # A page is drawn meanwhile: it must not wait for the end of a study.
        assert memory.recall(["a"]) is None
        leave.set()
        made.result()
    assert memory.recall(["a"]) == ["answer"]
    assert memory.recall(["a", "b"]) is None


def test_what_was_just_used_outlives_what_was_not():
    memory = Memory(2)
    memory.each(["a", "b"], lambda at: at)
    memory.each(["a"], lambda at: at)
    memory.each(["c"], lambda at: at)
    assert [memory.has(key) for key in "abc"] == [True, False, True]
    assert memory.get("a") is not None
    memory.put("d", 1)
    assert [memory.has(key) for key in "acd"] == [True, False, True]


def test_a_log_just_looked_at_outlives_one_that_was_not(monkeypatch):
    monkeypatch.setattr(uploads, "KEPT_BYTES", 8)
    monkeypatch.setattr(uploads, "_kept", type(uploads._kept)())
    first, other = uploads.keep(b"1234", "a"), uploads.keep(b"5678", "b")
    assert uploads.at_hand(first) == b"1234"
    uploads.keep(b"9012", "c")
    assert uploads.at_hand(first) == b"1234"
    assert uploads.at_hand(other) is None


def test_a_key_leaves_no_value_out():
    time = np.arange(3.0)
    run = Run("a", "b", time, time, time, None, {"conditions.air_c": 1.0}, 0.5, ("note",), 2.0)
    other = {
        "name": "x", "setup": "x", "time": time + 1, "speed": time + 1, "volts": None,
        "amperes": time, "changes": {"conditions.air_c": 2.0}, "start": 1, "notes": (),
        "began": 3.0,
    }  # fmt: skip
    assert other.keys() == {field.name for field in fields(Run)}
    keys = {key_for(replace(run, **{name: value})) for name, value in other.items()}
    assert len(keys | {key_for(run)}) == len(other) + 1
    assert key_for(run) == key_for(replace(run, time=time.copy()))
    assert len({key_for(x) for x in (1, 1.0, True, "1", None, [1], np.ones(1))}) == 7
    with pytest.raises(TypeError, match="function has no key"):
        key_for([lambda: None])
