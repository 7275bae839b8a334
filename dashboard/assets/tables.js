/* Tables in the browser: results painted, numbers sorted by a heading and saved. */
(function () {
  "use strict";

  /* Results, see widgets/paint.py: text is only ever text. */
  const TAGS = new RegExp("^(a|b|button|div|span|ul|ol|li|p|em|h2|dl|dt|dd|details|summary|input|select|option"
    + "|table|caption|thead|tbody|tr|th|td)$");
  const ATTRIBUTES = new RegExp("^(class|title|role|tabindex|scope|style|type|id|hidden|value|selected|min|max"
    + "|step|data-[a-z]+|aria-[a-z]+)$");
  function built(part) {
    if (typeof part === "string") return document.createTextNode(part);
    if (Array.isArray(part)) {
      const all = document.createDocumentFragment();
      part.forEach((item) => all.append(built(item)));
      return all;
    }
    const element = document.createElement(TAGS.test(part.tag) ? part.tag : "span");
    Object.entries(part.attributes).forEach(([name, value]) => {
      if (ATTRIBUTES.test(name)) element.setAttribute(name, value);
    });
    element.append(built(part.children));
    return element;
  }
  /* Who types in what is painted anew types on. */
  const TYPED_LATELY_MS = 2000;
  function typing(spot) {
    const input = document.activeElement;
    return input && input.dataset.where && spot.contains(input) ? input : null;
  }
  function resume(spot, held) {
    const input = spot.querySelector(`[data-where='${CSS.escape(held.dataset.where)}']`);
    if (!input) return;
    if (Date.now() - held.rimforceTyped < TYPED_LATELY_MS) input.value = held.value;
    input.focus({ preventScroll: true });
  }
  /* What was opened stays so, in its own row and column, wherever these come to stand. */
  const opened = new Set();
  function placeOf(details) {
    const spot = details.closest("[data-paint]"), cell = details.closest("[data-column]") || spot;
    const at = [...cell.querySelectorAll("details")].indexOf(details);
    return `${spot.dataset.paint} ${cell.dataset.column} ${at}`;
  }
  document.addEventListener("toggle", (event) => {
    if (!event.target.matches("[data-paint] details")) return;
    const change = event.target.open ? "add" : "delete";
    opened[change](placeOf(event.target));
  }, true);
  const painting = {};
  let turns = 0;
  let isLive = false;
  function paint(spot) {
    const { text, tree } = painting[spot.dataset.paint] || {};
    const old = spot.rimforcePainted;
    if (text === undefined || (old && old.text === text)) return;
    const held = typing(spot);
    /* A row has cells of its own before those painted. */
    if (old) old.nodes.forEach((node) => node.remove());
    const fresh = built([tree]);
    const nodes = [...fresh.childNodes];
    spot.append(fresh);
    spot.querySelectorAll("details").forEach((details) => {
      details.open = opened.has(placeOf(details));
    });
    spot.rimforcePainted = { text, nodes };
    if (held) resume(spot, held);
  }
  function put(trees) {
    Object.entries(trees || {}).forEach(([name, tree]) => {
      painting[name] = { tree, text: (name === "setups" ? turns : "") + JSON.stringify(tree) };
    });
  }
  function paintAll() {
    document.querySelectorAll("[data-paint]:not(#first-look *)").forEach(paint);
    if (document.querySelector("#react-entry-point .setups td")) {
      document.getElementById("first-look")?.remove();
    }
  }

  /* Tables of numbers: sorted by a heading that is pressed, and saved. A cell that is a number
     carries it beside its text. */
  const readCell = ({ dataset, textContent }) =>
    dataset.value === undefined ? textContent : Number(dataset.value);
  function compared(a, b) {
    if (typeof a === "number" && typeof b === "number") return a - b;
    if (typeof a === "string" && typeof b === "string") return a.localeCompare(b);
    return typeof a === "string" ? 1 : -1;
  }
  function sorted(table) {
    const [column, way] = table.dataset.sort.split(" ").map(Number);
    const body = table.tBodies[0];
    const rows = [...body.rows];
    const read = (row) => readCell(row.cells[column]);
    const wanted = [...rows].sort((a, b) => way * compared(read(a), read(b)));
    if (wanted.some((row, k) => row !== rows[k])) body.append(...wanted);
  }
  function sortBy(button) {
    const table = button.closest("table");
    const heads = [...button.closest("tr").cells];
    const column = heads.indexOf(button.closest("th"));
    const way = table.dataset.sort === `${column} 1` ? -1 : 1;
    table.dataset.sort = `${column} ${way}`;
    heads.forEach((head) => head.removeAttribute("aria-sort"));
    heads[column].setAttribute("aria-sort", way > 0 ? "ascending" : "descending");
    sorted(table);
  }
  /* As in curves/plaintext.py: what a spreadsheet would take for a formula is a text. */
  const SIGNS = "=+\\-@\uff1d\uff0b\uff0d\uff20\ufe66\ufe62\ufe63\ufe6b";
  const NUMBER = "\\s*[+-]?[0-9][0-9.,]*[^-+=@(!|;,\\t]*([;,|\\t]|$)";
  const FORMULA = new RegExp(
    `^(?=[${SIGNS}\\t\\r\\n])|(^|[;,|\\t\\r\\n])(\\s*)(?!${NUMBER})(?=[${SIGNS}])`, "g");
  function cellForFile(text) {
    if (typeof text === "number") return String(text);
    const safe = text.replace(FORMULA, "$&'");
    return /[",\n]/.test(safe) ? `"${safe.replace(/"/g, '""')}"` : safe;
  }
  function saveTable(table) {
    const lines = [...table.rows].map((row) =>
      [...row.cells].map((cell) => cellForFile(readCell(cell))).join(","));
    const name = table.caption ? table.caption.textContent : "numbers";
    window.rimforceCarryOff(new Blob([`${lines.join("\n")}\n`], { type: "text/csv" }),
      `${name.toLowerCase().replace(/[^a-z0-9]+/g, "-").slice(0, 60)}.csv`);
  }

  /* Places come and go with pages and rows; a table stays sorted when its numbers change. */
  new MutationObserver(() => {
    paintAll();
    document.querySelectorAll("table[data-sort]").forEach(sorted);
  }).observe(document, { subtree: true, childList: true, characterData: true });

  document.addEventListener("click", (event) => {
    const heading = event.target.closest("button.sort");
    if (heading) sortBy(heading);
    const save = event.target.closest(".save-table");
    if (save) saveTable(save.parentElement.querySelector("table"));
  });

  /* The first time, as soon as there is where to paint. */
  window.rimforceEarly?.get("_dash-layout").then((reply) => reply.clone().json()).then((layout) => {
    if (isLive) return;
    layout.props.children.filter(({ props }) => props.id?.type === "paint")
      .forEach(({ props }) => put(props.data));
    paintAll();
  }, () => undefined);

  const functions = Object.assign({}, (window.dash_clientside || {}).rimforce, {
    paint(stores) {
      const { triggered } = window.dash_clientside.callback_context;
      if (triggered.some((one) => one.prop_id.includes('"key":"cells"'))) {
        document.documentElement.classList.remove("following");
      }
      /* Inputs may hold what was typed and is no more so: painted whenever they are sent. */
      if (isLive && triggered.some((one) => one.prop_id.includes('"key":"setups"'))) turns += 1;
      isLive = true;
      stores.forEach(put);
      paintAll();
    },
  });
  window.dash_clientside = Object.assign({}, window.dash_clientside, { rimforce: functions });
})();
