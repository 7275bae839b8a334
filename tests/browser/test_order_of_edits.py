"""Edits in any order, by cell, form, button, undo and another tab, whenever the answers come.

The page's own scripts run in a browser, against a server that answers when it is told to; beside
them a plain model does one edit after the other.
"""

import copy
import json

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, rule, run_state_machine_as_test

from tests.browser.conftest import PATIENCE_MS, until
from tests.unit.test_plaintext import ASSETS

ADDRESS = "http://127.0.0.1:9/"
SCRIPTS = ("client", "order", "typed")
START = {"cells": {"a": 13, "b": 16}, "name": {"a": "thirteen", "b": "sixteen"}}
FIELDS = st.sampled_from(["cells a", "cells b"])
NAMES = st.sampled_from(["name a", "name b"])
COUNTS = st.sampled_from(["10", "13", "16", "10000", "bad"])

HARNESS = """
const pending = [], stores = {}, answers = {}, told = [];
const view = { units: [], width: 1200, extra: {}, pinned_kmh: [] };
let clock = 0, settling = [];
/* Every change is a step of its own. */
Date.now = () => (clock += 10000);
window.fetch = (address, options) => new Promise((resolve) => {
  pending.push({ address: String(address), options, resolve });
});
const NONE = { none: true };
const calling = { triggered: [], triggered_id: "" };
window.dash_clientside = {
  no_update: NONE,
  callback_context: calling,
  set_props(id, props) {
    if (id === "session") put(props.data);
    if (id === "message") told.push(props.children);
  },
};
const put = (data) => { stores.session = data; settling.push("session.data"); };
const tick = () => new Promise((resolve) => setTimeout(() => setTimeout(resolve)));
const settle = () => settling.splice(0).forEach((prop_id) => {
  calling.triggered = [{ prop_id }];
  window.dash_clientside.rimforce.settle(stores.session, view, null);
});
const changed = (session, field, value) => {
  const next = structuredClone(session), [kind, of] = field.split(" ");
  delete next.whole;
  next.tree[kind][of] = kind === "cells" ? Number(value) : value;
  return JSON.stringify(next.tree) === JSON.stringify(session.tree) ? null : next;
};
const steps = {
  start(tree) {
    const served = { tree, slots: [0, 1], hidden: [], text: "" };
    stores.session = served;
    window.dash_clientside.rimforce.boot(served, served, view, []);
  },
  typed({ place, field, value }) {
    const input = document.querySelector(`[data-field="${place} ${field}"]`);
    input.value = value;
    input.dispatchEvent(new Event("input", { bubbles: true }));
  },
  /* Dash asks too for what is typed in a form, sooner or later. */
  followed({ field, value }) {
    const input = document.querySelector(`[data-field="form ${field}"]`), id = JSON.parse(input.id);
    const wired = [[{ id, property: "value", value: Number(value) }]];
    steps.dash("session.data@part", wired, [`${input.id}.value`]);
  },
  pressed({ field, value }) {
    const wired = [{ id: "acted", property: "data", value: { field, value } }];
    steps.dash("..session.data@act...editing.data..", wired, ["acted.data"]);
  },
  async dash(output, inputs, changedPropIds) {
    const state = [{ id: "session", property: "data", value: stores.session }];
    const body = JSON.stringify({ output, inputs, changedPropIds, state });
    const reply = await window.fetch("/_dash-update-component", { method: "POST", body });
    if (reply.status !== 200) return;
    const { response } = await reply.json();
    if (response.session) put(response.session.data);
  },
  async travelled(way) {
    calling.triggered_id = way;
    const data = await window.dash_clientside.rimforce.travel();
    if (data !== NONE) put(data);
  },
  looked() {
    settling.push("view.data");
    settle();
  },
  settled: settle,
  answered(k) {
    const { address, options, resolve } = pending.splice(k % pending.length, 1)[0];
    const body = JSON.parse(options.body), isTyped = address === "typed";
    const session = isTyped ? body.session : body.state[0].value;
    const input = isTyped ? null : body.inputs.flat()[0];
    const { field, value } = isTyped ? { field: body.where.key, value: body.value }
      : input.id === "acted" ? input.value : { field: input.id.key, value: input.value };
    const isWrong = value === "bad";
    const next = isWrong ? null : changed(session, field, value);
    const reply = isTyped ? { session: next, error: isWrong ? "must be a number" : null }
      : { multi: true, response: next ? { session: { data: next } } : {} };
    const nothing = !isTyped && !next;
    resolve(nothing ? new Response(null, { status: 204 }) : new Response(JSON.stringify(reply)));
  },
  /* Another tab wrote before it heard of this one's last change, or after. */
  elsewhere({ field, value, crossed }) {
    const key = Object.keys(localStorage).find((name) => name.startsWith("rimforce/job-"));
    const newValue = JSON.stringify(changed(window.rimforceJob.now(), field, value));
    const oldValue = crossed ? "older" : localStorage.getItem(key);
    if (!crossed) localStorage.setItem(key, newValue);
    window.dispatchEvent(new StorageEvent("storage", { key, oldValue, newValue }));
  },
};
const state = () => ({
  now: window.rimforceJob.now().tree,
  pending: pending.length,
  told: told.length,
  shown: stores.session.tree,
  stored: Object.entries(localStorage).filter(([name]) => name.startsWith("rimforce/job-"))
    .map(([, text]) => JSON.parse(text).tree),
});
"""


def written(**where):
    """Where an input stands, as the page writes it."""
    return json.dumps(where, separators=(",", ":"))


INPUTS = "".join(
    f"<input type=number data-where='{written(key=f, slot=0, type='row')}' data-field='cell {f}'>"
    f"<div class=mantine-NumberInput-root><input type=text data-field='form {f}'"
    f" id='{written(key=f, name='x', part='pack', type='field')}'></div>"
    for f in ("cells a", "cells b")
)


class Model:
    """One edit after the other, as they were made: what each leaves, and what undo goes back to."""

    def __init__(self):
        self.now, self.past, self.future = copy.deepcopy(START), [], []
        self.waiting, self.again = [], False

    def ask(self, place, field, value):
        """An edit that takes the server's answer."""
        edit = (place, field, value)
        # What waits with nothing behind it is typed on.
        if place != "button" and len(self.waiting) > 1 and self.waiting[-1][:2] == edit[:2]:
            self.waiting[-1] = edit
        else:
            self.waiting.append(edit)

    def travel(self, way):
        self.waiting.append((way,))
        self.go_on()

    def answered(self):
        """The first that waits is answered, and what needs no answer follows."""
        if self.again:
            # It was asked of a job that another tab has changed since, and is asked anew.
            self.again = False
            return
        _, field, value = self.waiting.pop(0)
        self.change(field, value)
        self.go_on()

    def go_on(self):
        while self.waiting and len(self.waiting[0]) == 1:
            (way,) = self.waiting.pop(0)
            there, back = (self.past, self.future) if way == "undo" else (self.future, self.past)
            if there:
                back.append(self.now)
                self.now = there.pop()

    def change(self, field, value):
        after = self.with_(field, value)
        if after != self.now:
            self.past.append(self.now)
            self.future = []
            self.now = after

    def elsewhere(self, field, value):
        """Another tab's change, which this one hears of before its own next."""
        self.change(field, value)
        self.again = bool(self.waiting)

    def with_(self, field, value):
        if value == "bad":
            return self.now
        after, (kind, of) = copy.deepcopy(self.now), field.split()
        after[kind][of] = int(value) if kind == "cells" else value
        return after


class Edits(RuleBasedStateMachine):
    """The page's scripts and the model, side by side."""

    page = None

    def __init__(self):
        super().__init__()
        self.model, self.crossings = Model(), 0
        self.page.evaluate("localStorage.clear()")
        self.page.goto(ADDRESS)
        self.do("start", START)

    def do(self, name, *arguments):
        call = "async ([name, one]) => { steps[name](one); await tick(); return state(); }"
        self.seen = self.page.evaluate(call, [name, *arguments] if arguments else [name, None])
        assert self.seen["pending"] <= 1
        return self.seen

    def text(self, place, field):
        """What stands in an input."""
        return self.page.locator(f"[data-field='{place} {field}']").input_value()

    def check(self):
        assert self.seen["now"] == self.model.now
        # What two tabs change at once is told of, and undone like any other.
        assert self.seen["told"] == self.crossings
        assert self.seen["stored"] in ([], [self.model.now])

    @rule(place=st.sampled_from(["cell", "form"]), field=FIELDS, value=COUNTS)
    def type_on(self, place, field, value):
        before = self.text(place, field)
        text = "" if place == "cell" and value == "bad" else value
        if text and text != before:
            self.model.ask(place, field, value)
            self.do("typed", {"place": place, "field": field, "value": text})
        self.check()

    @rule(field=NAMES, value=st.sampled_from(["one", "other"]))
    def rename(self, field, value):
        self.model.ask("button", field, value)
        self.do("pressed", {"field": field, "value": value})
        self.check()

    @rule(way=st.sampled_from(["undo", "redo"]))
    def travel(self, way):
        self.model.travel(way)
        self.do("travelled", way)
        self.check()

    @rule(which=st.integers(0, 3))
    def answer(self, which):
        if self.seen["pending"]:
            self.model.answered()
            self.do("answered", which)
        self.check()

    @rule(field=FIELDS | NAMES, value=st.sampled_from(["10", "20"]), crossed=st.booleans())
    def another_tab_changes_it(self, field, value, crossed):
        theirs = self.model.with_(field, value)
        if self.seen["stored"] and theirs != self.model.now:
            if crossed:
                self.model.past.append(theirs)
                self.crossings += 1
            else:
                self.model.elsewhere(field, value)
            self.do("elsewhere", {"field": field, "value": value, "crossed": crossed})
        self.check()

    @rule()
    def page_follows(self):
        self.do("settled")
        self.check()

    @rule()
    def view_changes(self):
        self.do("looked")
        self.check()

    def teardown(self):
        while self.seen["pending"]:
            self.model.answered()
            self.do("answered", 0)
        self.check()
        shown = "JSON.stringify(stores.session.tree) === JSON.stringify(rimforceJob.now().tree)"
        until(self.page, shown)
        # Back to the beginning, whatever was done.
        for _ in range(len(self.model.past)):
            self.do("travelled", "undo")
        assert self.seen["now"] == (self.model.past or [self.model.now])[0]


@pytest.fixture
def tab(browser):
    context = browser.new_context()
    context.set_default_timeout(PATIENCE_MS)
    scripts = "".join(
        f"<script>{file.read_text(encoding='utf-8')}</script>"
        for name in SCRIPTS
        if (file := ASSETS / f"{name}.js").exists()
    )
    html = f"<body>{INPUTS}<script>{HARNESS}</script>{scripts}</body>"
    context.route(f"{ADDRESS}*", lambda route: route.fulfill(body=html, content_type="text/html"))
    page = context.new_page()
    page.goto(ADDRESS)
    yield page
    context.close()


def test_edits_leave_what_one_after_the_other_leaves(tab):
    Edits.page = tab
    run_state_machine_as_test(
        Edits,
        settings=settings(
            max_examples=60,
            stateful_step_count=20,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


@pytest.mark.parametrize("late", ["typed", "of Dash", "none"])
def test_what_was_undone_does_not_come_back_with_another_edit(tab, late):
    """Cells typed, undone, and another setup renamed: the answer to the first comes when it may."""

    def do(name, *arguments):
        call = "async ([name, one]) => { steps[name](one); await tick(); return state(); }"
        return tab.evaluate(call, [name, *arguments] if arguments else [name, None])

    def answered(count):
        for _ in range(count):
            if do("settled")["pending"]:
                do("answered", 0)

    do("start", START)
    do("typed", {"place": "form", "field": "cells a", "value": "10000"})
    answered(late != "typed")
    do("followed", {"field": "cells a", "value": "10000"})
    answered(9 * (late == "none"))
    until(tab, "(settle(), JSON.stringify(state()).includes('10000')) || state().pending > 0")
    do("travelled", "undo")
    answered(9 * (late != "none"))
    do("pressed", {"field": "name b", "value": "one"})
    answered(9)
    until(tab, "(settle(), JSON.stringify(state().shown) === JSON.stringify(state().now))")
    seen = do("settled")
    assert seen["now"] == {"cells": START["cells"], "name": {**START["name"], "b": "one"}}
    assert seen["shown"] == seen["now"]
