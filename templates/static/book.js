// Keeps what is typed when the signal is lost: says so, tries again, and warns before leaving.
(function () {
  "use strict";
  const RETRY_MS = 10000;
  const form = document.getElementById("book-form");
  if (!form) return;
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

// The day's work: the field chosen and the nearest one, the clock of a running job.
(function () {
  "use strict";
  const start = document.getElementById("start");
  const fields = () => [...document.querySelectorAll("input[type=radio][form=start]")];
  function name() {
    const chosen = fields().find((one) => one.checked);
    if (chosen) start.querySelector("button").textContent = start.dataset.start.replace("%s", () => chosen.dataset.name);
  }
  if (start) {
    document.addEventListener("change", (event) => { if (event.target.name === "field") name(); });
    window.addEventListener("pageshow", name);
    name();
  }

  // How far a place lies from a rectangle, in degrees of latitude: good enough to sort by.
  function away(box, { latitude, longitude }) {
    const [west, south, east, north] = box.split(" ").map(Number);
    const across = Math.max(west - longitude, 0, longitude - east) * Math.cos(latitude * Math.PI / 180);
    return Math.hypot(across, Math.max(south - latitude, 0, latitude - north));
  }
  const nearest = document.getElementById("nearest");
  const drawn = [...document.querySelectorAll("li[data-box]")];
  if (nearest && drawn.length && navigator.geolocation) {
    const ask = () => navigator.geolocation.getCurrentPosition(({ coords }) => {
      const sorted = drawn.map((line) => [away(line.dataset.box, coords), line]).sort((a, b) => a[0] - b[0]);
      const others = [...drawn[0].parentNode.children].filter((line) => !line.dataset.box && line.querySelector("[name=field]"));
      const place = document.createComment("");
      fields()[0].closest("li").before(place);
      place.before(...sorted.map(([, line]) => line), ...others);
      place.remove();
      for (const line of drawn) line.querySelector(".nearest").textContent = "";
      const first = sorted[0][1];
      first.querySelector(".nearest").textContent = nearest.dataset.word;
      first.querySelector("input").checked = true;
      name();
    }, () => { nearest.querySelector("[role=status]").textContent = nearest.dataset.unknown; }, { timeout: 10000 });
    nearest.hidden = false;
    nearest.querySelector("button").addEventListener("click", ask);
    // Who allowed it before is not asked again.
    navigator.permissions?.query({ name: "geolocation" }).then((is) => { if (is.state === "granted") ask(); }, () => {});
  }

  const clock = document.querySelector("[data-since]");
  if (clock) window.setInterval(() => {
    const minutes = Math.max(0, Math.floor((Date.now() - Date.parse(clock.dataset.since)) / 60000));
    clock.textContent = `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
  }, 10000);
})();

// The wind: a thumb drags the arrow round the ring and the knob along the slide. What it sets are the
// inputs that stand there without it; untouched, it says nothing.
(function () {
  "use strict";
  const ring = document.getElementById("ring");
  if (!ring) return;
  const make = (parent, kind, said) => {
    const shape = document.createElementNS("http://www.w3.org/2000/svg", kind);
    for (const [key, value] of Object.entries(said)) shape.setAttribute(key, value);
    return parent.appendChild(shape);
  };
  // Where in its drawing a pointer is, whatever the size on the screen.
  const at = (drawing, event) =>
    new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
  function drag(drawing, move) {
    let held = false;
    drawing.addEventListener("pointerdown", (event) => {
      held = true;
      drawing.setPointerCapture(event.pointerId);
      move(at(drawing, event));
      event.preventDefault();
    });
    drawing.addEventListener("pointermove", (event) => { if (held) move(at(drawing, event)); });
    for (const end of ["pointerup", "pointercancel"]) drawing.addEventListener(end, () => { held = false; });
  }

  const points = document.getElementById("points");
  const said = document.getElementById("ring-said");
  const radios = () => [...points.querySelectorAll("input[type=radio]")];
  const names = new Map(radios().filter((one) => one.value !== "calm").map((one) => [Number(one.value) % 360, one.parentNode.textContent.trim()]));
  const between = radios()[0].cloneNode();
  Object.assign(between, { id: "", hidden: true, checked: false });
  points.append(between);
  const compass = ring.querySelector("svg");
  const arrow = make(compass, "g", { class: "wind-arrow" });
  make(arrow, "path", { d: "M126 36V112", class: "wind-shaft" });
  make(arrow, "path", { d: "M114 102 126 128 138 102z" });
  make(arrow, "circle", { cx: 126, cy: 22, r: 22 });
  make(arrow, "path", { d: "M119 14V30M126 14V30M133 14V30", class: "wind-grip" });
  function show() {
    const chosen = [...radios()].find((one) => one.checked);
    const degrees = chosen && chosen.value !== "calm" ? Number(chosen.value) : null;
    arrow.classList.toggle("wind-unset", degrees === null);
    if (degrees !== null) arrow.setAttribute("transform", `rotate(${degrees} 126 126)`);
    said.textContent = !chosen ? ring.dataset.ask : degrees === null ? ring.dataset.calm
      : ring.dataset.word.replace("%p", names.get(Math.round(degrees / 22.5) % 16 * 22.5)).replace("%d", degrees);
  }
  drag(compass, ({ x, y }) => {
    // To 5 degrees: a thumb is no finer.
    const turned = Math.round(Math.atan2(x - 126, 126 - y) * 36 / Math.PI) * 5;
    between.value = String((turned + 359) % 360 + 1);
    between.checked = true;
    show();
  });
  points.addEventListener("change", show);
  ring.hidden = said.hidden = false;
  points.open = false;
  show();

  const slide = document.getElementById("slide");
  const speed = document.querySelector("[name=wind_speed_value]");
  const unit = document.querySelector("[name=wind_speed_unit]");
  const scale = slide.querySelector("svg");
  const most = Number(slide.dataset.most);
  const knob = make(scale, "g", { class: "wind-knob" });
  make(knob, "circle", { cx: 0, cy: 24, r: 22 });
  make(knob, "path", { d: "M-4 16v16M4 16v16", class: "wind-grip" });
  function follow() {
    const typed = Number(speed.value.replace(",", "."));
    const unset = speed.value.trim() === "" || !(typed >= 0);
    knob.classList.toggle("wind-unset", unset);
    knob.setAttribute("transform", `translate(${14 + Math.min(unset ? 0 : typed, most) / most * 302} 0)`);
    slide.hidden = unit.value !== slide.dataset.unit;
  }
  drag(scale, ({ x }) => {
    speed.value = String(Math.round(Math.min(Math.max((x - 14) / 302, 0), 1) * most));
    follow();
  });
  speed.addEventListener("input", follow);
  unit.addEventListener("change", follow);
  follow();

  // Whoever ticks a sign takes back that there is none, and the other way round.
  const signs = [...document.querySelectorAll("[name=signs]")];
  document.addEventListener("change", ({ target }) => {
    if (target.name !== "signs" || !target.checked) return;
    for (const one of signs) if ((one.value === "none") !== (target.value === "none")) one.checked = false;
  });
})();
