/* Plots that follow a hand: what moved is moved in the drawing at once, and drawn by Plotly at rest. */
(function () {
  "use strict";
  const REST_MS = 700;
  const LEAST_SHARE = 0.75;
  const PINS = ["shapes", "annotations"];
  const NEAR = "pointerover";
  const MARKUP = /[&<]/;
  /* Plotly keeps what it unpacked beside what was sent. */
  const sent = (_, value) => (value && value.bdata ? value.bdata : value);
  const same = (a, b) => JSON.stringify(a, sent) === JSON.stringify(b, sent);
  const isDrawn = (...places) => places.every(Number.isFinite);
  const shifted = (x, y) => `translate(${x.toFixed(2)},${y.toFixed(2)})`;

  function numbers(array) {
    if (!array || !array.bdata) return Array.from(array || [], (x) => (x === null ? NaN : x));
    const bytes = Uint8Array.from(atob(array.bdata), (letter) => letter.charCodeAt(0));
    return new Float32Array(bytes.buffer);
  }
  /* A property that is one for all, or one for each. */
  const one = (value, k) => (Array.isArray(value) ? value[k] : value);
  const all = (tree, k) => JSON.stringify(tree, (_, value) => one(value, k));

  /* What a trace draws, each with its place, and with its look as one text. */
  function marks(trace, at) {
    const x = numbers(trace.x).map(at.x), y = numbers(trace.y).map(at.y);
    return Array.from(x, (px, k) => ({ x: px, y: y[k], look: all(trace.marker, k) }))
      .filter((mark) => isDrawn(mark.x, mark.y));
  }
  function texts(trace, at) {
    const x = numbers(trace.x).map(at.x), y = numbers(trace.y).map(at.y);
    return Array.from(x, (px, k) => ({
      x: px, y: y[k], text: trace.text[k], look: all([trace.textposition, trace.textfont], k),
    })).filter((text) => text.text && isDrawn(text.x, text.y));
  }
  function bars(trace, at) {
    const length = numbers(trace.x), base = numbers(trace.base), y = numbers(trace.y);
    return Array.from(length, (long, k) => ({
      left: at.x(base[k]), right: at.x(base[k] + long), look: all(trace.marker, k),
      top: at.y(y[k] - trace.width[k] / 2), bottom: at.y(y[k] + trace.width[k] / 2),
    }));
  }
  function stretches(trace, at) {
    const x = numbers(trace.x).map(at.x), y = numbers(trace.y).map(at.y);
    const found = [];
    let open = false;
    x.forEach((px, k) => {
      const there = isDrawn(px, y[k]);
      if (there && !open) found.push({ d: "", look: "" });
      if (there) found[found.length - 1].d += `${open ? "L" : "M"}${px.toFixed(2)},${y[k].toFixed(2)}`;
      open = there;
    });
    return found;
  }
  const KINDS = {
    lines: {
      items: stretches, nodes: "path.js-line",
      put: (node, { d }) => node.setAttribute("d", d),
    },
    markers: {
      items: marks, nodes: "path.point",
      put: (node, { x, y }) => node.setAttribute("transform", shifted(x, y)),
    },
    text: {
      items: texts, nodes: "g.textpoint",
      put(node, { x, y, text }) {
        const written = node.querySelector("text");
        written.setAttribute("x", x);
        written.setAttribute("y", y);
        if (written.dataset.unformatted === text) return;
        written.textContent = text;
        written.dataset.unformatted = text;
      },
    },
    bar: {
      items: bars, nodes: "g.point",
      put: (node, { left, right, top, bottom }) =>
        node.querySelector("path").setAttribute("d", `M${left},${bottom}V${top}H${right}V${bottom}Z`),
    },
  };

  /* A node for every item: its own, or a copy of one that looks the same; null where none does. */
  function nodesFor(nodes, before, now) {
    if (nodes.length !== before.length) return null;
    const looks = new Map(before.map((item, k) => [item.look, nodes[k]]));
    const found = now.map((item, k) => (
      before[k] && before[k].look === item.look ? nodes[k] : looks.get(item.look)));
    if (found.includes(undefined)) return null;
    return found.map((node, k) => (node === nodes[k] ? node : node.cloneNode(true)));
  }
  /* Whether a trace could be moved in the drawing. */
  function moveTrace(plot, group, before, now) {
    const kind = KINDS[now.type === "bar" ? "bar" : now.mode];
    const layout = plot._fullLayout;
    const yaxis = layout[(now.yaxis || "y").replace("y", "yaxis")];
    const at = { x: (v) => layout.xaxis.c2p(v), y: (v) => yaxis.c2p(v) };
    const nodes = group ? [...group.querySelectorAll(kind.nodes)] : [];
    const items = kind.items(now, at);
    if (kind === KINDS.text && items.some((item) => MARKUP.test(item.text))) return false;
    const made = nodesFor(nodes, kind.items(before, at), items);
    if (!made) return false;
    made.forEach((node, k) => kind.put(node, items[k]));
    if (made.some((node, k) => node !== nodes[k]) || made.length !== nodes.length) {
      const parent = nodes[0].parentNode;
      nodes.forEach((node) => node.remove());
      parent.append(...made);
    }
    return true;
  }
  function groupsOf(plot) {
    const groups = [];
    plot.querySelectorAll(".scatterlayer > .trace, .barlayer > .trace").forEach((group) => {
      groups[group.__data__[0].trace.index] = group;
    });
    return groups;
  }

  /* Plotly draws what was moved, so that hovering and zooming know of it. */
  function settle(plot) {
    if (!plot.isMoved) return;
    plot.isMoved = false;
    clearTimeout(plot.rest);
    window.Plotly.redraw(plot);
  }
  function rest(plot) {
    if (plot.isMoved === undefined) plot.addEventListener(NEAR, () => settle(plot));
    plot.isMoved = true;
    clearTimeout(plot.rest);
    plot.rest = setTimeout(settle, REST_MS, plot);
  }
  /* Plotly writes into a layout what was left to it. */
  const merged = (old, now) => (now && typeof now === "object" && !Array.isArray(now)
    ? { ...old, ...now } : now);

  /* Put what moved into a plot: of its traces what `figures.panels.moving` keeps, and its layout. */
  function move(plot, { traces, layout }) {
    const put = Object.fromEntries(
      Object.entries(layout).map(([key, changes]) => [key, merged(plot.layout[key], changes)]));
    /* A plot as the page brought it fills its card, and has no height of its own. */
    if (!plot.layout.height && put.height === plot._fullLayout.height) delete put.height;
    const framing = Object.keys(put).filter((key) => !same(put[key], plot.layout[key]));
    const isFramed = !framing.length;
    const before = plot.data;
    const changed = traces.map((changes, k) => (
      Object.keys(changes).every((key) => same(changes[key], before[k][key])) ? null : k));
    const places = changed.filter((k) => k !== null);
    if (!places.length && framing.every((key) => PINS.includes(key))) {
      const pins = Object.fromEntries(framing.map((key) => [key, put[key]]));
      if (!isFramed) window.Plotly.relayout(plot, pins);
      return;
    }
    /* The same lines, drawn while they were typed, may stay on an axis that is not much too long. */
    const areLines = places.every((k) => !(before[k].mode === "lines" && traces[k].y.bdata)
      || same(traces[k].y, before[k].y));
    const end = put.xaxis.range[1], drawn = plot.layout.xaxis.range[1];
    if (plot.isMoved && areLines && end < drawn && end > LEAST_SHARE * drawn) return;
    const now = before.map((trace, k) => (changed[k] === null ? trace : { ...trace, ...traces[k] }));
    const groups = groupsOf(plot);
    if (isFramed && places.every((k) => moveTrace(plot, groups[k], before[k], now[k]))) {
      places.forEach((k) => Object.assign(plot.data[k], traces[k]));
      rest(plot);
      return;
    }
    plot.isMoved = false;
    clearTimeout(plot.rest);
    plot.closest(".dash-graph").style.height = `${layout.height}px`;
    window.Plotly.react(plot, now, { ...plot.layout, ...put }, plot._context);
  }

  window.rimforceMove = move;
})();
