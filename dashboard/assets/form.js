/* The form that is open: read in other units without being made anew, left for another, closed. */
(function () {
  "use strict";
  const none = () => window.dash_clientside.no_update;
  let made = null;
  let units = [];

  /* To six digits, as the server shows them. */
  function shown(value, swap, chosen) {
    const read = value * swap.factor + swap.offset;
    return chosen.includes(swap.chosen) ? Number(read.toPrecision(6)) : value;
  }
  function typed(value, swap, chosen) {
    const back = (value - swap.offset) / swap.factor;
    return chosen.includes(swap.chosen) ? Number(back.toPrecision(9)) : value;
  }
  /* A number that was not typed anew comes from the job, so that no digit is lost on the way. */
  function turned(value, was, swap, chosen) {
    const kept = typeof was === "number" && shown(was, swap, units) === value;
    return shown(kept ? was : typed(value, swap, units), swap, chosen);
  }
  function input(value, swap, chosen) {
    if (value === "" || value === null || value === undefined) return none();
    if (typeof value === "number") return turned(value, swap.value, swap, chosen);
    const parts = String(value).split(",");
    const was = (k) => (Array.isArray(swap.value) ? swap.value[k] : swap.value);
    if (parts.some((part) => part.trim() === "" || Number.isNaN(Number(part)))) return none();
    return parts.map((part, k) => turned(Number(part), was(k), swap, chosen)).join(", ");
  }
  function words(fields, chosen) {
    const swaps = Object.fromEntries(Object.values(fields).map((swap) => [swap.unit, swap]));
    document.querySelectorAll("#part-form [data-unit]").forEach((word) => {
      const swap = swaps[word.dataset.unit];
      if (!swap) return;
      const { value } = word.dataset;
      const name = chosen.includes(swap.chosen) ? swap.name : swap.unit;
      word.firstChild.nodeValue = value === undefined ? name : shown(Number(value), swap, chosen);
    });
  }

  /* Escape closes the innermost: a window or a list of its own accord, else a menu, else the form.
     Asked on the way down, before those have closed. */
  function innermost(target) {
    const windows = [...document.querySelectorAll("[role=dialog]")];
    const list = document.getElementById(target.getAttribute("aria-controls"));
    if ([...windows, list].some((one) => one?.getClientRects().length)) return;
    const menus = [...document.querySelectorAll("details.menu[open]")];
    menus.forEach((menu) => {
      menu.open = false;
      if (menu.contains(target)) menu.querySelector("summary").focus();
    });
    const close = document.getElementById("part-form-close");
    if (!menus.length && close) close.click();
  }
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") innermost(event.target);
  }, true);

  /* A form that is made anew because other fields followed leaves the hand where it was. */
  let held = null;
  const FORM_FIELDS = '#part-form input[id*=\'"type":"field"\']';
  document.addEventListener("focusin", ({ target }) => {
    held = target.matches(FORM_FIELDS) ? JSON.parse(target.id).key : null;
  });
  document.addEventListener("pointerdown", ({ target }) => {
    if (!target.closest("#part-form input")) held = null;
  }, true);
  function takeUp(key) {
    if (!key || document.activeElement !== document.body) return;
    const fields = [...document.querySelectorAll(FORM_FIELDS)];
    fields.find((one) => JSON.parse(one.id).key === key)?.focus();
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    rimforceForm: {
      close(clicks) {
        return clicks ? null : none();
      },
      pick(value, editing) {
        const [part, ...name] = (value || "").split("/");
        const wanted = { part, name: name.join("/") };
        const open = editing && editing.part === part && editing.name === wanted.name;
        return !part || open ? none() : wanted;
      },
      turn(form, view, values, names) {
        if (form && form !== made) {
          const key = held;
          requestAnimationFrame(() => takeUp(key));
        }
        if (form !== made) units = form ? form.units : [];
        made = form;
        if (!form || JSON.stringify(units) === JSON.stringify(view.units)) return names.map(none);
        const turnedAll = names.map(({ key }, k) => {
          const swap = form.fields[key];
          return swap ? input(values[k], swap, view.units) : none();
        });
        units = view.units;
        /* What was just sent is in the page by then. */
        requestAnimationFrame(() => words(form.fields, view.units));
        return turnedAll;
      },
    },
  });
})();
