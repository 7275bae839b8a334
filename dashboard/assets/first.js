/* The first minutes: a tour that is shown once, and the meaning of a word. */
(function () {
  "use strict";
  const TOURED = "rimforce/toured";
  const PATIENCE_MS = 3000;
  const LOOK_MS = 120;
  let step = -1;

  function toured() {
    try {
      return localStorage.getItem(TOURED) !== null;
    } catch (error) {
      return true;
    }
  }
  function show(next) {
    const tour = document.getElementById("tour");
    const steps = [...tour.querySelectorAll(".tour-step")];
    document.querySelectorAll(".tour-target").forEach((one) => one.classList.remove("tour-target"));
    step = next;
    const over = step >= steps.length;
    tour.hidden = over;
    if (over) {
      try {
        localStorage.setItem(TOURED, "true");
      } catch (error) {
        /* Then it is shown again next time. */
      }
      return;
    }
    steps.forEach((one, place) => { one.hidden = place !== step; });
    document.getElementById("tour-next").textContent = step === steps.length - 1 ? "Done" : "Next";
    const target = document.querySelector(steps[step].dataset.target);
    if (!target) return;
    target.classList.add("tour-target");
    target.scrollIntoView({ block: "nearest" });
  }
  function explain(key) {
    window.dash_clientside.set_props("terms", { opened: true });
    reach(`term-${key}`, Date.now() + PATIENCE_MS);
  }
  /* The window opens in its own time, and puts the focus on itself first. */
  function reach(name, end, isReached = false) {
    const term = document.getElementById(name);
    const isHeld = Boolean(term) && document.activeElement === term;
    if (Date.now() > end || (isHeld && isReached)) return;
    if (term?.getClientRects().length && !isHeld) {
      term.scrollIntoView({ block: "start" });
      term.focus({ preventScroll: true });
    }
    setTimeout(reach, LOOK_MS, name, end, isHeld);
  }
  function explainTitle(text) {
    /* The longest beginning says the most. */
    const known = [...document.querySelectorAll("[data-titles]")].flatMap((term) =>
      term.dataset.titles.split("|").filter((t) => t && text.startsWith(t)).map((t) => [t, term]));
    const [, term] = known.sort(([a], [b]) => b.length - a.length)[0] || [];
    if (term) explain(term.id.replace(/^term-/, ""));
  }
  document.addEventListener("keydown", (event) => {
    const word = event.target.closest("[data-term][role=button]");
    if (word && (event.key === "Enter" || event.key === " ")) {
      event.preventDefault();
      explain(word.dataset.term);
    }
  });
  document.addEventListener("click", (event) => {
    const word = event.target.closest("[data-term]");
    if (word) {
      explain(word.dataset.term);
      /* In a label it would press the field as well. */
      if (word.matches("[role=button]")) event.preventDefault();
    }
    const title = event.target.closest(".js-plotly-plot .annotation");
    if (title) explainTitle(title.textContent);
    if (event.target.id === "message") {
      window.dash_clientside.set_props("message", { children: "" });
    }
    const press = event.target.closest("[data-press]");
    if (press) document.getElementById(press.dataset.press).click();
    if (event.target.id === "tour-next") show(step + 1);
    if (event.target.id === "tour-skip") show(Infinity);
  });
  document.addEventListener("focusin", (event) => {
    /* The page has one banner already: a window's heading is none. */
    const header = event.target.closest("[role=dialog]")?.querySelector("header");
    if (header) header.setAttribute("role", "presentation");
  });
  /* Who opens somebody's link came for what is in it. */
  if (!toured() && !location.hash) {
    const waiting = new MutationObserver(() => {
      if (!document.querySelector(".tour-step") || !document.querySelector(".card .js-plotly-plot")) return;
      waiting.disconnect();
      show(0);
    });
    waiting.observe(document, { subtree: true, childList: true });
  }
})();
