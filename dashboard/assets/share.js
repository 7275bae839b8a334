/* A link that carries the job, and figures saved as pictures: both made in the browser alone. */
(function () {
  "use strict";
  const MARK = "#job=";
  const MOST_CODE = 60000;
  const MOST_TEXT = 2000000;
  const MOST_DEEP = 20;
  const TITLE_PX = 34;
  const PNG_SCALE = 2;
  const HELD_MS = 1000;
  const FONT = "/assets/fonts/source-sans-3-latin-wght-normal.woff2";
  const none = () => window.dash_clientside.no_update;
  let copied = null;
  let last = {};

  async function through(bytes, stream, most) {
    const reader = new Blob([bytes]).stream().pipeThrough(stream).getReader();
    const parts = [];
    let size = 0;
    for (;;) {
      const { done, value } = await reader.read();
      if (done) break;
      size += value.length;
      if (size > most) {
        await reader.cancel();
        throw new RangeError("too long");
      }
      parts.push(value);
    }
    return new Uint8Array(await new Blob(parts).arrayBuffer());
  }
  async function coded(session) {
    const { tree, slots, hidden } = session;
    const text = new TextEncoder().encode(JSON.stringify({ tree, slots, hidden }));
    const packed = await through(text, new CompressionStream("deflate-raw"), MOST_TEXT);
    let plain = "";
    packed.forEach((byte) => { plain += String.fromCharCode(byte); });
    return btoa(plain).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  }
  function isDeeper(value, levels) {
    return typeof value === "object" && value !== null
      && (levels === 0 || Object.values(value).some((item) => isDeeper(item, levels - 1)));
  }
  async function decoded(link) {
    const at = link.indexOf(MARK);
    if (at < 0) return { wrong: "It has no “#job=” in it: copy the whole link." };
    const code = link.slice(at + MARK.length).trim();
    if (code.length > MOST_CODE) return { wrong: "It is longer than any link made here." };
    try {
      const plain = atob(code.replace(/-/g, "+").replace(/_/g, "/"));
      const bytes = Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
      const text = await through(bytes, new DecompressionStream("deflate-raw"), MOST_TEXT);
      const session = JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(text));
      if (isDeeper(session, MOST_DEEP)) return { wrong: "It holds something else than a job." };
      return { session };
    } catch (error) {
      return { wrong: "A part of it is missing or changed: copy the whole link again." };
    }
  }
  /* The address is cleared, so that a reload keeps what was edited since. */
  async function fromAddress() {
    if (!location.hash.startsWith(MARK)) return null;
    const found = await decoded(location.hash);
    history.replaceState(history.state, "", location.pathname + location.search);
    return found;
  }
  window.addEventListener("hashchange", async () => {
    const data = await fromAddress();
    if (data) window.dash_clientside.set_props("linked", { data });
  });

  function saved(file) {
    return file ? `Saved ${file.filename}` : none();
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    rimforceShare: {
      async copy(clicks, session) {
        if (!clicks) return [none(), none()];
        const code = await coded(session);
        if (code.length > MOST_CODE) {
          return ["", "This job is too long for a link: save it as a job file."];
        }
        const link = location.origin + location.pathname + MARK + code;
        copied = link;
        try {
          await navigator.clipboard.writeText(link);
          return [link, "Link copied. It carries the job itself; no server is told of it."];
        } catch (error) {
          return [link, "Copy it from the field: this browser does not let a page do it."];
        }
      },
      async paste(link) {
        if (window.dash_clientside.callback_context.triggered_id !== "link") {
          return (await fromAddress()) || none();
        }
        if (!link || link === copied) return none();
        return decoded(link);
      },
      /* What is saved of a page: the server has the numbers behind its plots, the rest is here. */
      gather(csv, json) {
        if (!csv && !json) return none();
        const plots = [...document.querySelectorAll(".card .dash-graph[id*='\"figure\"']")];
        const tables = [...document.querySelectorAll("#page-body table")]
          .filter((table) => !table.closest("[id*='\"numbers-body\"']"));
        const as = window.dash_clientside.callback_context.triggered_id;
        const cards = plots.map((plot) => JSON.parse(plot.id).key);
        return { as, cards, tables: tables.map(tableRead), turn: (csv || 0) + (json || 0) };
      },
      saved,
      /* Beside the report's own buttons: of no other file, and until the report would be another. */
      savedReport(file, _answer, session, view) {
        const { tree, slots, hidden } = session;
        const now = JSON.stringify([tree, slots, hidden, view.units, view.extra?.report]);
        if (file !== last.file) last = { file, of: now };
        return file?.filename.startsWith("report.") && last.of === now ? saved(file) : "";
      },
    },
  });

  function cellRead(cell) {
    const input = cell.querySelector("input, select");
    if (!input && cell.dataset.value !== undefined) return Number(cell.dataset.value);
    return (input ? input.value : cell.innerText).replace(/\s+/g, " ").trim();
  }
  function tableRead(table) {
    const rows = [...table.rows].map((row) => [...row.cells].map(cellRead));
    const title = table.caption || table.closest(".card")?.querySelector("h2");
    return { title: title ? title.textContent : "", rows };
  }
  function say(children) {
    window.dash_clientside.set_props("share-said", { children });
  }

  const safe = (text) => text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");
  async function save(plot, title, format) {
    const job = document.getElementById("job-title").textContent;
    const layout = structuredClone(plot.layout);
    const top = (layout.margin.t || 0) + TITLE_PX;
    layout.margin = { ...layout.margin, t: top };
    layout.paper_bgcolor = "#ffffff";
    layout.title = {
      text: `<b>${safe(title)}</b>  ${safe(job)}`, font: { size: 15 }, x: 0.01, xanchor: "left",
      y: 1, yref: "container", yanchor: "top", pad: { t: 10 },
    };
    const filename = `rimforce ${title}`.toLowerCase().replace(/[^a-z0-9]+/g, "-");
    const size = { width: plot.clientWidth, height: plot.clientHeight + TITLE_PX };
    const drawn = await window.Plotly.toImage(
      { data: plot.data, layout, config: {} }, { format: "svg", ...size });
    const svg = lettered(decodeURIComponent(drawn.slice(drawn.indexOf(",") + 1)), await letters());
    const picture = new Blob([svg], { type: "image/svg+xml" });
    carryOff(format === "svg" ? picture : await pixels(picture, size), `${filename}.${format}`);
    say(`Saved ${filename}.${format}`);
  }
  /* A picture is read where this page's type is not: it brings it along. */
  async function letters() {
    const bytes = new Uint8Array(await (await fetch(FONT)).arrayBuffer());
    let plain = "";
    bytes.forEach((byte) => { plain += String.fromCharCode(byte); });
    return btoa(plain);
  }
  function lettered(svg, font) {
    const face = `@font-face{font-family:"Source Sans 3";font-weight:200 900;`
      + `src:url(data:font/woff2;base64,${font}) format("woff2")}`
      + ".textpoint text{paint-order:stroke;stroke:#fff;stroke-width:4px;stroke-linejoin:round}";
    return svg.replace(/<svg[^>]*>/, (head) => `${head}<style>${face}</style>`);
  }
  async function pixels(picture, { width, height }) {
    const image = new Image();
    image.src = URL.createObjectURL(picture);
    await image.decode();
    const canvas = document.createElement("canvas");
    canvas.width = PNG_SCALE * width;
    canvas.height = PNG_SCALE * height;
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    URL.revokeObjectURL(image.src);
    return new Promise((resolve) => { canvas.toBlob(resolve, "image/png"); });
  }
  /* Save a file that was made in this page. */
  function carryOff(file, name) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(file);
    link.download = name;
    link.click();
    setTimeout(URL.revokeObjectURL, HELD_MS, link.href);
  }
  window.rimforceCarryOff = carryOff;
  function listFigures() {
    const place = document.getElementById("share-figures");
    const plots = [...document.querySelectorAll(".card .js-plotly-plot")];
    const rows = plots.filter((plot) => plot.data?.length).map((plot) => {
      const title = plot.closest(".card").querySelector("h2").textContent;
      const row = document.createElement("div");
      const said = document.createElement("span");
      said.textContent = title;
      row.className = "share-figure";
      row.append(said, ...["png", "svg"].map((format) => {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "choice stays";
        button.textContent = format.toUpperCase();
        button.setAttribute("aria-label", `${title} as ${button.textContent}`);
        button.addEventListener("click", () => save(plot, title, format));
        return button;
      }));
      return row;
    });
    place.replaceChildren(...rows);
  }
  document.addEventListener("toggle", (event) => {
    if (event.target.id !== "share" || !event.target.open) return;
    listFigures();
    say("");
  }, true);
})();
