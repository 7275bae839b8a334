/* What is typed moves the first page's plots at once; the page follows when typing rests. */
(function () {
  "use strict";
  const TYPED = /"type":"(field|row)"/;
  const ASK_AGAIN_MS = 50;
  const PASS_MS = 50;
  const TEXT = ".mantine-NumberInput-root, .mantine-TextInput-root";
  const NAMING_MS = 700;
  const none = () => window.dash_clientside.no_update;
  const PANELS = '{"key":"panels","type":"figure"}';
  const job = window.rimforceJob;
  const order = window.rimforceOrder;
  const standing = new WeakMap();
  const written = new WeakMap();
  const naming = new WeakMap();
  const wrong = new Map();
  let asking = 0;
  let visit = 0;
  let newest = null;
  let passed = null;
  let shown = null;
  let passing = 0;
  let isBehind = false;
  let due = 0;
  let answered = 0;
  function panels() {
    const plot = document.getElementById(PANELS)?.querySelector(".js-plotly-plot");
    return plot?.layout ? plot : null;
  }
  function notice(input, value = input.value) {
    const id = input.dataset.where || input.id;
    if (!TYPED.test(id) || standing.get(input) === value) return;
    const where = JSON.parse(id);
    const next = Number((2 * value - parseFloat(standing.get(input))).toPrecision(9));
    standing.set(input, value);
    /* Another tab's change took it from the page; a person who typed on has not. */
    const isTheirs = input.value === value || input.value === written.get(input);
    if (!input.isConnected || !isTheirs) job.drawAnew();
    clearTimeout(passing);
    const wish = { where, value, next };
    /* What waits for its turn with nothing behind it goes with what is typed now. */
    if (newest?.id === id && order.isLast(newest.turn)) newest.wish = wish;
    else ask({ id, wish, visit });
  }
  async function ask(asked) {
    asking += 1;
    asked.turn = async () => {
      const reply = await order.ofTheLatest((session) => answerTo(session, asked.wish));
      if (reply) take(asked, reply);
    };
    newest = asked;
    try {
      await order.inTurn(asked.turn);
    } catch (error) {
      /* The page says so; the field keeps what was typed. */
    }
    asking -= 1;
    if (asking) return;
    if (isBehind) passing = setTimeout(pass, PASS_MS);
    if (passed) follow(passed);
  }
  function formFields() {
    return [...document.querySelectorAll('#part-form input[id*=\'"type":"field"\']')];
  }
  async function answerTo(session, wish) {
    const last = panels()?.layout.meta.last ?? null;
    const stands = formFields().map((input) => [JSON.parse(input.id), input.value]);
    const body = JSON.stringify({ session, view: job.view(), last, stands, ...wish });
    const headers = { "Content-Type": "application/json" };
    const reply = await window.fetch("typed", { method: "POST", headers, body });
    return reply.ok ? reply.json() : null;
  }
  function isAt(here, where) {
    return Object.keys(where).every((key) => here[key] === where[key]);
  }
  function told(id, where, error) {
    if ((wrong.get(id) ?? null) !== error) tell(id, where, error);
    wrong.set(id, error);
  }
  /* What is wrong with a value, beside its input. */
  function tell(id, where, error) {
    const input = document.querySelector(`[data-where='${CSS.escape(id)}']`);
    if (!input) {
      window.dash_clientside.set_props(where, { error });
      return;
    }
    const said = input.parentElement;
    said.querySelector(".wrong")?.remove();
    input.removeAttribute("aria-invalid");
    if (!error) return;
    input.setAttribute("aria-invalid", "true");
    const note = document.createElement("span");
    note.className = "wrong";
    note.setAttribute("role", "alert");
    note.textContent = error;
    said.append(note);
  }
  function take({ id, wish, visit: during }, { session, error, also = [], stays, ...moved }) {
    /* An older answer on its way to the plots would take it away again. */
    const isLast = answered === due;
    shown = moved.layout && follow(moved) && stays && isLast ? session : null;
    told(id, wish.where, error);
    for (const [where, its] of also) {
      const other = formFields().find((one) => isAt(JSON.parse(one.id), where));
      if (other) told(other.id, where, its);
    }
    if (session && job.accept(session, id, during)) isBehind = true;
  }
  function pass() {
    if (!asking && isBehind) job.show();
  }
  function follow(moved) {
    passed = null;
    const plot = panels();
    const isAlike = plot?.layout.meta.made === moved.layout.meta.made;
    if (isAlike) window.rimforceMove(plot, moved);
    if (!plot && document.getElementById(PANELS)) setTimeout(follow, ASK_AGAIN_MS, moved);
    return isAlike;
  }

  /* Arrow keys and steppers change a value without an input event. */
  const within = (event) => event.target?.closest(TEXT)?.querySelector("input");
  /* A number is followed as it is typed, a choice when it is made, a name when typing rests. */
  const painted = (event) => event.target.closest?.("[data-where]");
  document.addEventListener("input", (event) => {
    written.set(event.target, event.target.value);
    const input = painted(event);
    if (!input) return;
    input.rimforceTyped = Date.now();
    clearTimeout(naming.get(input));
    const [rest, value] = input.type === "text" ? [NAMING_MS] : [0, input.value];
    naming.set(input, setTimeout(notice, rest, input, value));
  });
  document.addEventListener("change", (event) => {
    const input = painted(event);
    if (input) notice(input);
  });
  for (const kind of ["input", "keydown", "pointerdown", "pointerup"]) {
    document.addEventListener(kind, (event) => {
      const input = within(event);
      if (input) setTimeout(notice, 0, input, kind === "input" ? input.value : undefined);
    });
  }
  /* A field for numbers drops letters one by one: 1e300 would stand as 1300. It is refused instead,
     from its first letter to the next choice, deletion or field, and said. */
  const NUMBER = ".mantine-NumberInput-root";
  const NO_NUMBER = /[^\d.\s+-]/;
  const REFUSED = "Digits, a sign and a point only: 1e3 is written 1000, half is 0.5.";
  let refusing = null;
  function say(root, text) {
    root.querySelector(".wrong")?.remove();
    if (!text) return;
    const note = document.createElement("span");
    note.className = "wrong";
    note.setAttribute("role", "alert");
    note.textContent = text;
    root.append(note);
  }
  document.addEventListener("beforeinput", (event) => {
    const input = event.target, root = input.closest?.(NUMBER);
    if (!root) return;
    const isTyped = event.inputType.startsWith("insert");
    const goesOn = refusing === input && input.selectionStart === input.selectionEnd;
    if (isTyped && (NO_NUMBER.test(event.data ?? "") || goesOn)) {
      event.preventDefault();
      refusing = input;
      say(root, REFUSED);
      return;
    }
    refusing = null;
    say(root, "");
  }, true);
  document.addEventListener("focusout", () => {
    refusing = null;
  });
  document.addEventListener("focusin", (event) => {
    visit += 1;
    const input = painted(event) || within(event);
    if (input) standing.set(input, input.value);
  });

  /* The page is told of the job as it is. */
  function forget() {
    isBehind = false;
    clearTimeout(passing);
  }
  /* What Dash would ask for, without what is asked for here, and without a form that was made or
     turned to other units, of which several fields come at once: that changes nothing. */
  function leftOf({ changedPropIds = [] }) {
    const isField = (name) => name.startsWith("{") && name.includes('"type":"field"');
    const isMade = changedPropIds.filter(isField).length > 1;
    return changedPropIds.filter((name) => {
      const id = name.slice(0, name.lastIndexOf("."));
      /* A name follows what was typed, as long as nothing else was done since. */
      if (!isField(name) || id === job.typedLast()) return true;
      return !isMade && !within({ target: document.getElementById(id) });
    });
  }

  window.rimforceTyped = { forget, leftOf };
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    rimforceTyped: {
      moved(moved) {
        if (!moved) return;
        if (asking) passed = moved;
        else follow(moved);
      },
      answered(turn) {
        answered = turn;
      },
      /* What was typed is in the plots already. */
      due(session) {
        const isShown = shown && job.same(job.plain(session), shown);
        shown = null;
        return isShown ? none() : (due += 1);
      },
    },
  });
})();
