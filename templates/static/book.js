// Keeps what is typed when the signal is lost: says so, tries again, and warns before leaving.
(function () {
  "use strict";
  const RETRY_MS = 10000;
  const form = document.getElementById("book-form");
  const saved = () => document.getElementById("saved");
  let unsaved = false;
  let retry = 0;

  function tryAgain() {
    window.clearTimeout(retry);
    if (unsaved) window.htmx.trigger(form, "change");
  }

  // The words stand in the page, in the language of who reads it.
  function tell(words) {
    saved().textContent = words;
    delete saved().dataset.saved;
  }

  function lost() {
    tell(form.dataset.lost);
    window.clearTimeout(retry);
    retry = window.setTimeout(tryAgain, RETRY_MS);
  }

  // What was taken over and is now written by hand is this person's word, the same or another.
  function confirm(input) {
    const takenOver = form.elements[`carried-${input.name.replace(/_(value|unit|reason)$/, "")}`];
    if (takenOver) takenOver.checked = true;
  }

  // An answer may draw whole sections anew, from what was saved when it was asked for. What was typed
  // into them since stands in no request yet: it is put back, and the next save carries it.
  const unsent = new Map();
  const isBox = (input) => input.type === "checkbox" || input.type === "radio";
  function remember(event) {
    const input = event.target;
    if (input.name) unsent.set(isBox(input) ? `${input.name}=${input.value}` : input.name, input);
  }
  form.addEventListener("input", remember);
  form.addEventListener("change", remember);
  form.addEventListener("htmx:beforeRequest", () => unsent.clear());
  document.body.addEventListener("htmx:oobAfterSwap", () => {
    for (const [key, was] of unsent) {
      const now = was.isConnected ? was : [...form.elements].find((input) =>
        input.name === was.name && (!isBox(was) || input.value === was.value));
      if (!now) continue;
      if (isBox(was)) now.checked = was.checked;
      else now.value = was.value;
      unsent.set(key, now);
      // Its box "still true" stands beside it and may be drawn anew alone.
      confirm(now);
    }
  });

  // A button pressed while the page is saving waits for the answer: both would carry one revision,
  // and the second would be refused as if somebody else had written.
  let saving = 0;
  let waiting = null;
  let leaving = false;
  form.addEventListener("htmx:beforeRequest", (event) => {
    // The button carries all that is typed; a save sent beside it would make it look stale.
    if (leaving) event.preventDefault();
    else saving += 1;
  });
  form.addEventListener("htmx:afterRequest", () => {
    saving = Math.max(0, saving - 1);
    // After the answer is swapped in: it brings the revision that the button has to carry.
    window.setTimeout(() => {
      if (!saving && waiting) {
        const button = waiting;
        waiting = null;
        form.requestSubmit(button.isConnected ? button : undefined);
      }
    }, 50);
  });
  form.addEventListener("input", () => { unsaved = true; });
  form.addEventListener("submit", (event) => {
    if (saving) {
      event.preventDefault();
      waiting = event.submitter;
    } else {
      leaving = true;
      unsaved = false;
    }
  });
  // Back from the next page by the browser's own button: the page may save again.
  window.addEventListener("pageshow", () => { leaving = false; });
  document.body.addEventListener("htmx:sendError", lost);
  document.body.addEventListener("htmx:timeout", lost);
  document.body.addEventListener("htmx:responseError", (event) => {
    const { status, responseText } = event.detail.xhr;
    const said = event.detail.xhr.getResponseHeader("Content-Type") || "";
    // Our own 503 says in plain text what is wrong; that of a server in between is a page.
    if (status === 503 && said.startsWith("text/plain")) {
      tell(`${responseText} ${form.dataset.triedAgain}`);
    } else tell(status === 403 ? form.dataset.loggedOut : form.dataset.noAnswer);
    window.clearTimeout(retry);
    retry = window.setTimeout(tryAgain, RETRY_MS);
  });
  document.body.addEventListener("htmx:afterSwap", () => {
    unsaved = saved().dataset.saved !== "all";
  });
  // What was unfolded in the check stays so when it is drawn anew.
  let unfolded = [];
  document.body.addEventListener("htmx:beforeSwap", () => {
    unfolded = [...document.querySelectorAll("#check details[open][id]")].map((one) => one.id);
  });
  document.body.addEventListener("htmx:afterSwap", () => {
    for (const id of unfolded) document.getElementById(id)?.setAttribute("open", "");
  });
  // What is typed is also kept in this browser, for the person logged in, until it is saved: a phone
  // that drops the page while there is no signal loses nothing.
  const kept = document.getElementById("kept");
  const place = `typed:${kept.dataset.who}:${window.location.pathname}`;
  const own = (field) => field.name && field.type !== "hidden" && !field.name.startsWith("carried-");
  const value = (field) =>
    field.type === "checkbox" || field.type === "radio" ? String(field.checked) : field.value;
  const label = (field) =>
    field.name + (field.type === "checkbox" || field.type === "radio" ? `=${field.value}` : "");
  const revision = () => Number(document.getElementById("id_revision").value);
  const store = (deed) => { try { return deed(window.localStorage); } catch { return null; } };
  const forget = () => store((box) => box.removeItem(place));
  let typed = {};
  function keep(sent) {
    if (!Object.keys(typed).length) return;
    store((box) => box.setItem(place, JSON.stringify({ revision: revision(), sent, typed })));
  }
  form.addEventListener("input", (event) => {
    if (!own(event.target)) return;
    typed[label(event.target)] = value(event.target);
    keep(false);
    confirm(event.target);
  });
  form.addEventListener("submit", (event) => { if (!event.defaultPrevented) keep(true); });
  document.body.addEventListener("htmx:afterSwap", () => {
    if (unsaved) return;
    typed = {};
    if (kept.hidden) forget();
  });
  const before = store((box) => JSON.parse(box.getItem(place)));
  if (before && !(before.sent && revision() > before.revision)) {
    const fields = [...form.elements].filter(
      (field) => own(field) && label(field) in before.typed && before.typed[label(field)] !== value(field),
    );
    const shown = fields.filter((f) => f.type !== "checkbox" && f.type !== "radio");
    if (fields.length) {
      kept.querySelector("span").textContent = shown.map((f) => before.typed[label(f)]).join(" · ");
      kept.hidden = false;
    } else forget();
    kept.addEventListener("click", (event) => {
      const deed = event.target.dataset.kept;
      if (!deed) return;
      kept.hidden = true;
      if (deed === "drop") { forget(); return; }
      for (const field of fields) {
        if (field.type === "checkbox" || field.type === "radio") {
          field.checked = before.typed[label(field)] === "true";
        } else field.value = before.typed[label(field)];
      }
      fields[0].dispatchEvent(new Event("input", { bubbles: true }));
    });
  } else if (before) forget();
  window.addEventListener("online", tryAgain);
  window.addEventListener("beforeunload", (event) => { if (unsaved) event.preventDefault(); });
})();
