"""Answers kept: the latest ones, made once however many ask."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from dashboard.memory import Memory


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
