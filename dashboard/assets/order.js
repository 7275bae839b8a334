/* Edits one after the other: each is made of the job that the one before has left, so none that
   comes late takes another back. */
(function () {
  "use strict";
  const UPDATE = "_dash-update-component";
  const EDITS = /(^|\.\.)session\.data(@|\.\.|$)/;
  const job = window.rimforceJob;
  const waiting = [];
  let isBusy = false;

  /* At once where no other is under way, so that typing waits for nothing. */
  function inTurn(turn) {
    return new Promise((resolve, reject) => {
      waiting.push({ turn, resolve, reject });
      if (!isBusy) next();
    });
  }
  async function next() {
    const first = waiting.shift();
    isBusy = Boolean(first);
    if (!first) return;
    try {
      first.resolve(await first.turn());
    } catch (error) {
      first.reject(error);
    }
    next();
  }
  /* Another tab may change the job meanwhile: then asked again, of the job as it is now, and what
     is open on the page is drawn anew, for it shows the job before. */
  async function ofTheLatest(ask) {
    for (;;) {
      const base = job.now();
      const reply = await ask(base);
      if (base === job.now()) return reply;
      job.drawAnew();
    }
  }

  /* What the server changes of the job goes into it here; the rest of its answer is Dash's. */
  async function edited(asked, address, options) {
    const changed = asked.changedPropIds || [];
    asked.changedPropIds = window.rimforceTyped.leftOf(asked);
    if (changed.length && !asked.changedPropIds.length) return new Response(null, { status: 204 });
    const known = [...(asked.inputs || []), ...(asked.state || [])]
      .filter((one) => one.id === "session" && one.property === "data");
    const reply = await ofTheLatest((base) => {
      known.forEach((one) => { one.value = base; });
      return fetched(address, { ...options, body: JSON.stringify(asked) });
    });
    if (reply.status !== 200) return reply;
    const told = await reply.json();
    const { session, editing } = told.response || {};
    if (session?.data) {
      job.take(session.data);
      delete told.response.session;
    }
    /* Dash drops a form that a form just made asks for, as going round in a circle. */
    if (editing) {
      delete told.response.editing;
      window.dash_clientside.set_props("editing", editing);
    }
    return new Response(JSON.stringify(told), { status: 200, headers: reply.headers });
  }
  function isEdit(address, options) {
    if (!String(address).includes(UPDATE) || typeof options?.body !== "string") return false;
    const output = /"output":"((?:[^"\\]|\\.)*)"/.exec(options.body);
    return output !== null && EDITS.test(output[1]);
  }
  const fetched = window.fetch;
  window.fetch = (address, options) => {
    if (!isEdit(address, options)) return fetched(address, options);
    return inTurn(() => edited(JSON.parse(options.body), address, options));
  };

  window.rimforceOrder = { inTurn, ofTheLatest, isLast: (turn) => waiting.at(-1)?.turn === turn };
})();
