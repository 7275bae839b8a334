"""Inputs that somebody made to break the pages: files, links, and callbacks with damaged values.

Each is made from a number, so that a failure can be asked for again.
"""

from __future__ import annotations

import base64
import copy
import json
import random
import re
import time
import tomllib
from typing import Any, NamedTuple

from curves import load_job
from curves.measured.logs import demo_bench_text, demo_log
from curves.parts.job import demo_job_text
from dashboard.app import create_app
from dashboard.shell.intake_form import form
from dashboard.shell.part_form import part_form
from dashboard.shell.registry import pages
from dashboard.shell.shell import shell
from dashboard.state.session import Session, View
from tests.asking import OWN, outputs_of
from tests.oracle.random_jobs import job as random_job

SPOILT = re.compile(r"\b(nan|NaN|None(?! of)|inf|Infinity|Traceback)\b")
"""What no number and no word of an answer may be."""
QUOTES = re.compile(r"That (file|link|log) was not opened")
"""A refusal gives back what was written."""
INFINITE = float("inf")
STRANGE: tuple[Any, ...] = (
    None, True, False, 0, -1, 1.5, 10**40, -(10**40), 10**400, 1e308, -1e308, 5e-324, 1e-9, 1e9,
    INFINITE, -INFINITE, float("nan"), "", "x", "0", "-1", "1e999", "1e9", "12,5", "9" * 400,
    "57-507", "peak", "a" * 3000, "\u202e", "\x1b[31m", "\x00", "\ud800", "</script><b>", "=1+1",
    "../../etc/passwd", [], {}, [[]], [{}], {"": None}, [None], [1e308], [10**40], ["x"] * 30,
    [[1, 2], [3]], {"slot": 10**40}, {"key": []}, {"type": "field"},
)  # fmt: skip


class Case(NamedTuple):
    """A request, and what it was made of."""

    path: str
    body: bytes
    told: str


def strange(rng: random.Random) -> Any:
    """Anything but what is expected."""
    kind = rng.random()
    if kind < 0.6:
        return copy.deepcopy(rng.choice(STRANGE))
    if kind < 0.75:
        return 10 ** rng.uniform(-12, 12) * rng.choice((1, 1, -1))
    if kind < 0.85:
        return {rng.choice(("slot", "tree", "x", "kmh", "rows")): strange(rng) for _ in range(2)}
    return [strange(rng) for _ in range(rng.randint(0, 4))]


def spoil(rng: random.Random, value: Any, times: int) -> Any:
    """A value with some places in it replaced, renamed, doubled or lost."""
    held = {"": copy.deepcopy(value)}
    for _ in range(times):
        node: Any = held
        while True:
            keys: list[Any] = list(node) if isinstance(node, dict) else list(range(len(node)))
            if not keys:
                break
            key = rng.choice(keys)
            inner = node[key]
            if isinstance(inner, dict | list) and inner and rng.random() < 0.85:
                node = inner
                continue
            change = rng.random()
            if isinstance(node, list) and change < 0.15:
                node.append(copy.deepcopy(inner))
            elif change < 0.25 and node is not held:
                del node[key]
            elif isinstance(node, dict) and change < 0.3 and node is not held:
                name = str(strange(rng))[:20]
                node["x" if SPOILT.search(name) else name] = node.pop(key)
            elif isinstance(inner, int | float) and abs(inner) < 1e100 and change < 0.5:
                node[key] = inner * rng.choice((-1, 0, 1e-6, 0.1, 10, 1e3, 1e6))
            else:
                node[key] = strange(rng)
            break
    return held[""]


def stretch(rng: random.Random, tree: Any) -> Any:
    """A job whose numbers are far from those of any bike, and mostly still allowed."""
    tree = copy.deepcopy(tree)
    places = [
        (table, key)
        for kind in ("motor", "controller", "pack", "tune", "bike")
        for table in tree.get(kind, {}).values()
        for key, value in table.items()
        if type(value) in (int, float)
    ]
    places += [(setup, key) for setup in tree["setup"] for key in ("winding_c", "state_of_charge")]
    conditions = tree.setdefault("conditions", {})
    places += [(conditions, key) for key in ("grade_percent", "headwind_kmh", "altitude_m")]
    for table, key in rng.sample(places, rng.randint(1, 4)):
        now = table.get(key, 1.0)
        if type(now) is int:
            table[key] = max(1, int(now * rng.choice((0, 0.1, 3, 20, 300))))
        else:
            scaled = now * 10 ** rng.uniform(-6, 6)
            table[key] = rng.choice((scaled, now * rng.uniform(0.2, 5), 0.0, 1e-9, 1e9, -now))
    return tree


def spoil_text(rng: random.Random, text: str) -> str:
    """A text with some stretches of it replaced, doubled or lost."""
    for _ in range(rng.randint(1, 4)):
        start = rng.randint(0, len(text))
        end = min(len(text), start + rng.randint(0, 40))
        put = rng.choice(("", text[start:end] * 3, str(strange(rng)), "=", "[", '"', "\n"))
        text = text[:start] + put + text[end:]
    return text


EXTRA = {
    "cells": {"slot": 2, "hold": "energy", "caps": "lifted"},
    "weakening": {"slot": 1, "worth": 0.5, "cells": 16},
    "gearing": {"slot": 1},
    "search": {"slot": 1, "steps tune.pack_current_a": 5, "goals": ["top_speed_kmh"]},
    "two": {"slot": 0, "x": "tune.pack_current_a", "from tune.pack_current_a": 10},
    "runs": {"speeds": [30.0], "distances": [100.0], "roll_out": True, "watts": 500.0},
    "range": {"kmh": 25.0, "full": 1.0, "empty": 0.1, "rows": [[20, 0, 5], [15, 8, 0.7]]},
    "sure": {"slot": 1, "bounds": 3},
    "gives": {"slot": 1, "awg": "14", "metres": 2},
    "bench": {"tree": {"ohms": [{"ohm": 0.1}], "kv": [{"rpm": 300, "volt": 30}]}},
    "road": {"tree": {"coast_down": [{"direction": "out", "from_kmh": 30, "seconds": 9}]}},
    "log": {"token": "demo", "name": "eighth-mile.csv", "run": 1, "sure": True, "move": ["rolling"],
            "columns": {"time": "t:s"}, "start": 2.0, "channel": "speed"},
    "recheck": {"typed": {"top_speed_kmh": 40.0, "resting_v": 50.0}},
    "report": {"title": "A bike", "to_set": [0, 1], "packs": [1], "weakening": [0],
               "endurance": True, "date": "2026-11-01", "notes": "n", "workshop": "w"},
    "panels": {"panels": ["limits", "pack-current"], "slot": 1},
    "heat": {"slot": 1},
}  # fmt: skip


class Pages:
    """The callbacks of the server, each with the values that an honest page would send it."""

    def __init__(self) -> None:
        self.session = Session.of(load_job())
        self.view = {**View().data(), "extra": EXTRA, "units": ["mph", "°F", "lb"]}
        self.app = create_app()
        self.client = self.app.server.test_client()
        known = json.loads(self.client.get("/_dash-dependencies", headers=OWN).text)
        self.wired = [one for one in known if not one["clientside_function"]]
        self.props: dict[str, dict[str, Any]] = {}
        trees = [shell(self.session, View(), page) for page in pages()]
        trees += [form(View().units)]
        trees += [
            part_form(self.session, part, name, units=View().units)
            for part, name in (
                ("pack", "cells-13"),
                ("tune", "town"),
                ("setup", "0"),
                ("goals", ""),
            )
        ]
        self._gather(json.loads(json.dumps(trees, default=lambda x: x.to_plotly_json())))
        pack = self.session.job.tree()["pack"]["cells-13"]
        over = {"at": "", "table": pack, "value": 13, "source": "invented"}
        self.kept = {**self.session.data(), "whole": True, "step": True, "over": over}
        self.props["session"]["data"] = self.kept
        self.props["view"]["data"] = self.view
        job, coded = demo_job_text(), base64.b64encode(demo_job_text().encode()).decode()
        bench = base64.b64encode(demo_bench_text().encode()).decode()
        log = base64.b64encode(b"".join(demo_log().readlines()[:400])).decode()
        self.texts = {"open": job, "bench-open": demo_bench_text()}
        for name, code in (("open", coded), ("bench-open", bench), ("log-open", log)):
            self.props.setdefault(name, {})
            self.props[name] |= {"contents": f"data:;base64,{code}", "filename": "a.toml"}
        self.props["acted"]["data"] = {"slot": 1, "do": "duplicate", "turn": 3}
        self.props["editing"]["data"] = {"part": "pack", "name": "cells-13"}
        self.props["linked"] = {"data": {"session": self.session.data()}}
        self.props["share-page"] = {
            "data": {"as": "share-page-csv", "cards": ["panels"], "tables": []}
        }
        self.props["url"]["pathname"] = "/cells"
        self.tree = tomllib.loads(job)

    def _gather(self, part: Any) -> None:
        if isinstance(part, list):
            for one in part:
                self._gather(one)
        elif isinstance(part, dict):
            props = part.get("props")
            if isinstance(props, dict) and "id" in props:
                self.props.setdefault(_name(props["id"]), {}).update(props)
            for one in part.values():
                self._gather(one)

    def filled(self, wire: dict[str, Any]) -> Any:
        """An input of a callback with an honest value."""
        name, prop = wire["id"], wire["property"]
        if not name.startswith("{"):
            return {"id": name, "property": prop, "value": self._value(name, prop)}
        pattern = json.loads(name)
        wild = [key for key, x in pattern.items() if isinstance(x, list)]
        fixed = {key: x for key, x in pattern.items() if not isinstance(x, list)}
        found = [
            {"id": json.loads(known), "property": prop, "value": self._value(known, prop)}
            for known in self.props
            if known.startswith("{") and _fits(json.loads(known), fixed, pattern)
        ]
        if any(pattern[key] == ["ALL"] for key in wild):
            return found[:12]
        return found[0] if found else {"id": fixed, "property": prop, "value": None}

    def _value(self, name: str, prop: str) -> Any:
        known = self.props.get(name, {})
        if prop == "n_clicks":
            return 1
        return name and json.loads(name) if prop == "id" and name[:1] == "{" else known.get(prop)

    def callback(self, rng: random.Random) -> Case:
        """A callback one or two of whose values are damaged."""
        wired = rng.choice(self.wired)
        inputs = [self.filled(wire) for wire in wired["inputs"]]
        state = [self.filled(wire) for wire in wired["state"]]
        changed = rng.choice(inputs)
        if isinstance(changed, list):
            changed = rng.choice(changed) if changed else None
        wires = [w for one in (*inputs, *state) for w in (one if isinstance(one, list) else [one])]
        told = []
        kept = [w for w in wires if w["id"] in ("session", "view")]
        chosen = rng.sample(wires, min(len(wires), rng.choice((1, 1, 2))))
        if kept and rng.random() < 0.7:
            chosen = [rng.choice(kept)]
        for wire in chosen:
            hold = json.dumps(wire["id"])
            value = copy.deepcopy(wire["value"])
            if hold in ('"session"', '"view"') and rng.random() < 0.9:
                wire["value"] = spoil(rng, value, rng.randint(1, 3))
            elif isinstance(value, dict | list) and value and rng.random() < 0.6:
                wire["value"] = spoil(rng, value, 1)
            elif wire["property"] == "contents" and isinstance(value, str) and rng.random() < 0.9:
                wire["value"] = self._file(rng, value)
            else:
                wire["value"] = strange(rng)
            told.append(f"{hold}.{wire['property']} = {json.dumps(wire['value'])[:300]}")
        body = {
            "output": wired["output"],
            "outputs": outputs_of(wired["output"]),
            "inputs": inputs,
            "state": state,
            "changedPropIds": [] if changed is None else [_prop_id(changed)],
        }
        return Case("/_dash-update-component", _sent(body), f"{wired['output'][:60]} {told}")

    def _file(self, rng: random.Random, contents: str) -> str:
        data = base64.b64decode(contents.partition(",")[2]).decode("utf-8", "replace")
        text = spoil_text(rng, data).encode("utf-8", "replace")
        return f"data:;base64,{base64.b64encode(text).decode()}"

    def opened(self, rng: random.Random) -> Case:
        """A file or a link: broken, or of legal numbers that no bike has."""
        if legal := rng.random() < 0.6:
            tree = stretch(rng, rng.choice((self.tree, random_job(rng, rng.choice((1, 2, 3))))))
        else:
            tree = spoil(rng, self.tree, rng.randint(1, 3))
        if rng.random() < 0.5:
            text = (
                json.dumps(tree)
                if legal or rng.random() < 0.6
                else spoil_text(rng, demo_job_text())
            )
            code = base64.b64encode(text.encode("utf-8", "replace")).decode()
            return self.asked("open.contents", {"open.contents": f"data:;base64,{code}"})
        sent = spoil(rng, {**self.session.data(), "tree": tree}, 0 if legal else rng.randint(0, 2))
        return self.asked("linked.data", {"linked.data": {"session": sent}})

    def looks(self, rng: random.Random, session: Any) -> list[Case]:
        """Pages asked with a job that was opened: a page, its answer, and one of its callbacks."""
        path = rng.choice(pages()).path
        given = {"session.data": session, "url.pathname": path, "page.data": "", "settled.data": 1}
        cases = [self.asked("url.pathname", given)]
        cases.append(self.asked("page.data", {**given, "page.data": path}, "page-answer"))
        follows = [w for w in self.wired if self._follows(w)]
        wired = rng.choice(follows)
        return [*cases, self.asked("settled.data", given, wired["output"])]

    @staticmethod
    def _follows(wired: dict[str, Any]) -> bool:
        names = [i["id"] for i in wired["inputs"]]
        return "settled" in names and "working" not in wired["output"]

    def asked(self, changed: str, given: dict[str, Any], output: str = "") -> Case:
        """An honest request but for some values, by id and property."""
        wired = next(
            w
            for w in self.wired
            if output in w["output"]
            and changed in [f"{i['id']}.{i['property']}" for i in w["inputs"]]
        )

        def made(wire: dict[str, Any]) -> Any:
            filled = self.filled(wire)
            if isinstance(filled, dict) and isinstance(filled["id"], str):
                key = f"{filled['id']}.{filled['property']}"
                return {**filled, "value": given.get(key, filled["value"])}
            return filled

        body = {
            "output": wired["output"],
            "outputs": outputs_of(wired["output"]),
            "inputs": [made(w) for w in wired["inputs"]],
            "state": [made(w) for w in wired["state"]],
            "changedPropIds": [changed],
        }
        return Case("/_dash-update-component", _sent(body), f"{changed} {str(given)[:300]}")

    def typed(self, rng: random.Random) -> Case:
        """What is typed, damaged."""
        where = rng.choice(
            (
                {"type": "row", "slot": 1, "field": rng.choice(("name", "winding_c", "pack"))},
                {"type": "field", "part": "pack", "name": "cells-13", "key": "series"},
                {"type": "field", "part": "goals", "name": "", "key": "hill/speed_kmh"},
                {"type": "field", "part": "motor", "name": "hub", "key": "kv_rpm_per_v"},
            )
        )
        body = {
            "where": where,
            "value": "14",
            "next": "15",
            "session": self.kept,
            "view": self.view,
            "last": rng.choice((None, 60.0)),
        }
        for _ in range(rng.choice((1, 2))):
            key = rng.choice(list(body))
            body[key] = spoil(rng, body[key], 1) if rng.random() < 0.8 else strange(rng)
        return Case("/typed", _sent(body), f"typed {str(body)[:200]}")


class Said(NamedTuple):
    """What came of a request: what is wrong with it, empty for nothing, and its answer."""

    wrong: str
    answer: Any
    seconds: float


def ask(asked: Pages, case: Case) -> Said:
    """Send a request, and see whether the answer is one."""
    began = time.thread_time()
    said = asked.client.post(case.path, data=case.body, headers=OWN)
    took = time.thread_time() - began
    text = said.get_data(as_text=True)
    if said.status_code not in (200, 204, 400, 404):
        return Said(f"status {said.status_code}: {text[-1500:]}", None, took)
    if said.status_code != 200:
        return Said("Traceback" if "Traceback" in text else "", None, took)
    strict: list[str] = []
    answer = json.loads(text, parse_constant=strict.append)
    spoilt = [x for x in texts(answer) if SPOILT.search(x) and not QUOTES.match(x)]
    wrong = f"spoilt: {spoilt[:3]}" if spoilt else f"not JSON: {strict}" if strict else ""
    return Said(wrong, answer, took)


def texts(value: Any) -> list[str]:
    """Every text that people read in an answer."""
    if isinstance(value, str):
        return [value] if len(value) < 20_000 else [value[:20_000]]
    if isinstance(value, dict):
        return [x for key, one in value.items() if key not in UNREAD for x in texts(one)]
    return [x for one in value for x in texts(one)] if isinstance(value, list) else []


UNREAD = ("session", "view", "id", "bdata", "filename")
"""Parts of an answer that only give back what was sent."""


def _sent(body: Any) -> bytes:
    return json.dumps(body).encode()


def _name(made: Any) -> str:
    return (
        made if isinstance(made, str) else json.dumps(made, sort_keys=True, separators=(",", ":"))
    )


def _prop_id(wire: dict[str, Any]) -> str:
    return f"{_name(wire['id'])}.{wire['property']}"


def _fits(made: dict[str, Any], fixed: dict[str, Any], pattern: dict[str, Any]) -> bool:
    return made.keys() == pattern.keys() and all(made[key] == x for key, x in fixed.items())
