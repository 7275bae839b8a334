/* What happens in the browser alone: memory, undo, theme, units, the width of the plots. */
(function () {
  "use strict";
  const PREFIX = "rimforce/";
  const MOST_STEPS = 100;
  const REST_MS = 180;
  const SLACK_PX = 60;
  const none = () => window.dash_clientside.no_update;
  const past = [];
  const future = [];
  let current = null;
  let stored = null;
  let stepped = "";
  let steppedIn = 0;
  let isCrossed = false;
  let key = null;
  let looked = "";
  let turns = 0;
  let resting = 0;
  let rested = () => undefined;

  function load(key) {
    try {
      return JSON.parse(localStorage.getItem(PREFIX + key));
    } catch (error) {
      return null;
    }
  }
  function isTable(value) {
    return typeof value === "object" && value !== null && !Array.isArray(value);
  }
  /* Memory may be damaged: what is not of its kind is as if it were not there. */
  function keptView() {
    const kept = load("view");
    const kinds = {
      units: Array.isArray,
      pinned_kmh: Array.isArray,
      grades: (value) => value === null || Array.isArray(value),
      width: Number.isFinite,
      extra: (value) => isTable(value) && Object.values(value).every(isTable),
    };
    if (!isTable(kept)) return {};
    return Object.fromEntries(Object.entries(kept).filter(([name, value]) => kinds[name]?.(value)));
  }
  function parsed(text) {
    try {
      return JSON.parse(text);
    } catch (error) {
      return null;
    }
  }
  function keptJob() {
    const kept = load(key);
    return isTable(kept) && isTable(kept.tree) ? kept : null;
  }
  function store(key, value) {
    try {
      localStorage.setItem(PREFIX + key, JSON.stringify(value));
    } catch (error) {
      /* A full or forbidden memory loses nothing that is on the page. */
    }
  }
  /* Until the page has followed a change, what it says is of before. */
  function markFollowing() {
    document.documentElement.classList.add("following");
  }
  /* A changed job becomes the one that is edited on. What one field is typed through is one step,
     from the hand's coming to its leaving, however long the page took to answer. */
  function accept(session, field = "", visit = 0) {
    const now = plain(session);
    if (same(now, current)) return false;
    const isTypedOn = field && field === stepped && visit === steppedIn && past.length;
    if (!isTypedOn && !session.joins) remember(current);
    if (!session.joins) future.length = 0;
    stepped = field;
    steppedIn = visit;
    adopt(now);
    return true;
  }
  function remember(session) {
    past.push(session);
    if (past.length > MOST_STEPS) past.shift();
  }
  function adopt(now) {
    current = now;
    stored = JSON.stringify(now);
    store(key, now);
  }
  /* The page follows what the job has become, drawn whole where not by typing. */
  function show(isWhole) {
    window.rimforceTyped.forget();
    const whole = isWhole || isCrossed ? { whole: true } : {};
    isCrossed = false;
    window.dash_clientside.set_props("session", { data: { ...current, ...whole } });
  }
  function take(session) {
    if (accept(session)) show(session.whole);
  }
  function drawAnew() {
    isCrossed = true;
  }
  function fingerprint(served) {
    const text = JSON.stringify(served.tree);
    let hash = 5381;
    for (let k = 0; k < text.length; k += 1) hash = ((hash * 33) ^ text.charCodeAt(k)) >>> 0;
    return "job-" + hash.toString(36) + "-" + text.length;
  }
  function plain(session) {
    const { whole, step, joins, ...rest } = session;
    return rest;
  }
  function look(session, view) {
    return JSON.stringify([session, view]);
  }
  function same(a, b) {
    return JSON.stringify(a) === JSON.stringify(b);
  }
  function width() {
    const plot = document.querySelector(".card .dash-graph");
    const inner = plot ? plot.clientWidth : window.innerWidth - 90;
    return Math.max(280, Math.floor(inner / 40) * 40);
  }

  let waiting = 0;
  const watcher = new ResizeObserver(() => {
    clearTimeout(waiting);
    waiting = setTimeout(remeasure, 120);
  });
  function watch() {
    watcher.disconnect();
    document.querySelectorAll(".card .dash-graph").forEach((plot) => watcher.observe(plot));
  }
  function remeasure() {
    const view = keptView();
    if (view.width && key && Math.abs(view.width - width()) > SLACK_PX) {
      window.dash_clientside.set_props("view", { data: { ...view, width: width() } });
    }
  }

  window.rimforceJob = {
    now: () => current, view: () => load("view"), plain, same, accept, take, show, drawAnew,
    typedLast: () => stepped,
  };
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    rimforce: {
      boot(served, session, view, switches) {
        key = fingerprint(served);
        const kept = keptJob();
        const seen = { ...view, ...keptView(), width: view.width };
        if (Math.abs(width() - seen.width) > SLACK_PX) seen.width = width();
        looked = look(session, view);
        current = kept || plain(served);
        stored = kept && localStorage.getItem(PREFIX + key);
        store("view", seen);
        const changed = kept && !same(kept, plain(served));
        return [
          changed ? { ...kept, whole: true } : none(),
          same(seen, view) ? none() : seen,
          switches.map((one) => (same(seen.units, view.units) ? none()
            : seen.units.includes(one.name) ? one.name : one.usual)),
          /* The first page's few controls follow by themselves. */
          location.pathname === "/" || same(seen.extra, view.extra) ? none() : true,
        ];
      },
      travel() {
        const back = window.dash_clientside.callback_context.triggered_id === "undo";
        const [from, to] = back ? [past, future] : [future, past];
        return window.rimforceOrder.inTurn(() => {
          if (!from.length) return none();
          to.push(current);
          stepped = "";
          adopt(from.pop());
          show(true);
          return none();
        });
      },
      reset(clicks, served) {
        if (!clicks) return none();
        return window.rimforceOrder.inTurn(() => {
          take({ ...plain(served), whole: true });
          return none();
        });
      },
      unit(chosen, switches, view) {
        const units = switches.map((one) => one.name).filter((name) => chosen.includes(name)).sort();
        if (same(units, view.units)) return none();
        return { ...view, units };
      },
      pinned(values, names, view) {
        const moved = view.pinned_kmh.map((kmh, k) => {
          const asked = names[k] ? Number(values[k]) * names[k].kmh : kmh;
          /* What is shown is rounded: a speed that was not moved stays what it is. */
          return Math.abs(asked - kmh) > 0.1 ? asked : kmh;
        });
        return same(moved, view.pinned_kmh) ? none() : { ...view, pinned_kmh: moved };
      },
      settle(session, view, editing) {
        store("view", view);
        const { triggered } = window.dash_clientside.callback_context;
        const isEdited = triggered.some((one) => one.prop_id.startsWith("session."));
        /* The form open shows what was undone, too. */
        if (session.whole && editing && isEdited) {
          window.dash_clientside.set_props("editing", { data: { ...editing } });
        }
        const now = look(session, view);
        if (now === looked) return none();
        looked = now;
        markFollowing();
        rested(none());
        clearTimeout(resting);
        /* A pinned speed is dragged in many steps; what changes the job has rested already. */
        const wait = isEdited ? 0 : REST_MS;
        return new Promise((resolve) => {
          rested = resolve;
          resting = setTimeout(() => resolve((turns += 1)), wait);
        });
      },
      watch() {
        setTimeout(watch, 300);
      },
      theme(clicks) {
        if (!clicks) return;
        const root = document.documentElement;
        const dark = root.getAttribute("data-mantine-color-scheme") === "dark";
        const next = dark ? "light" : "dark";
        root.setAttribute("data-mantine-color-scheme", next);
        try {
          localStorage.setItem("mantine-color-scheme-value", next);
        } catch (error) {
          /* Then it is asked again next time. */
        }
      },
    },
  });

  /* A server that stops: what was done is kept in this browser, and shown again once it is back. */
  const GONE = "rimforce has stopped on this machine. Start it again: this page comes back by "
    + "itself, and what you changed is kept in this browser.";
  const CROSSED = "Another tab changed this job at the same moment. What was changed here stands; "
    + "Undo shows the other tab’s.";
  const ASK_MS = 1000;
  const fetched = window.fetch.bind(window);
  let gone = false;
  function comeBack() {
    fetched("_dash-dependencies").then(() => window.location.reload(),
      () => setTimeout(comeBack, ASK_MS));
  }
  /* What every page asks for first was asked for before its scripts were read. */
  function early(address) {
    const name = String(address).split("/").pop();
    const answer = window.rimforceEarly?.get(name);
    window.rimforceEarly?.delete(name);
    return answer;
  }
  window.fetch = (...asked) => (early(asked[0]) || fetched(...asked)).catch((error) => {
    if (!gone && error.name !== "AbortError") {
      gone = true;
      window.dash_clientside.set_props("message", { children: GONE });
      setTimeout(comeBack, ASK_MS);
    }
    throw error;
  });

  /* Another tab changed the same job: this one follows, and can undo it. Where the other had not
     heard of this one's change, that change is the later one and stands. */
  window.addEventListener("storage", (event) => {
    if (!key || event.key !== PREFIX + key || !event.newValue) return;
    const theirs = parsed(event.newValue);
    if (!isTable(theirs) || !isTable(theirs.tree)) return;
    const isNext = event.oldValue === stored;
    if (isNext) stored = event.newValue;
    if (same(theirs, current)) return;
    if (isNext) {
      remember(current);
      future.length = 0;
      stepped = "";
      current = theirs;
      show(true);
    } else {
      remember(theirs);
      window.dash_clientside.set_props("message", { children: CROSSED });
    }
  });

  /* On a phone the pages are folded away; a group that is pressed shows its pages. */
  function foldPages(pressed) {
    const nav = document.getElementById("pages");
    const [opener, groups] = nav.children;
    if (groups.contains(pressed)) return;
    const open = opener.contains(pressed) && !nav.classList.contains("open");
    nav.classList.toggle("open", open);
    opener.setAttribute("aria-expanded", open);
  }
  document.addEventListener("click", (event) => {
    if (event.target.closest(".page-link:not(.here)")) markFollowing();
    foldPages(event.target);
    const button = event.target.closest("[data-act]");
    if (button) {
      const [slot, what] = button.dataset.act.split(" ");
      const data = { slot: Number(slot), do: what, turn: (turns += 1) };
      window.dash_clientside.set_props("acted", { data });
    }
    /* A file is saved by a click that no one made. */
    if (!event.isTrusted) return;
    document.querySelectorAll("details.menu[open]").forEach((menu) => {
      const chosen = event.target.closest(".choice:not(.stays)");
      if (!menu.contains(event.target) || (chosen && menu.contains(chosen))) menu.open = false;
    });
  });
  document.addEventListener("keydown", (event) => {
    const typing = /^(INPUT|TEXTAREA|SELECT)$/.test(event.target.tagName);
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !typing) {
      const button = document.getElementById(event.shiftKey ? "redo" : "undo");
      if (button) button.click();
      event.preventDefault();
    }
  });
})();
