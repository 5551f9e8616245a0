// The walk with the moisture meter. What is entered stays on this device until the yard has confirmed it. The address never
// changes on the way, so that a phone without a network that let go of the page can still bring it back from its cache.
"use strict";

const walk = document.querySelector("[data-walk]");
if (walk) startWalk();

function startWalk() {
  const way = JSON.parse(walk.querySelector("[data-way]").textContent);
  const form = walk.querySelector("[data-form]");
  const moisture = form.elements.moisture;
  const problem = walk.querySelector("[data-problem]");
  const KEPT = "grainlog readings";
  const SHOWN = 12;
  let at = way.findIndex((stop) => stop.tag === form.elements.slab.value);
  let pause = 1000;
  let timer = 0;
  let sending = false;

  // Entries: {id, fields, tag, said, state: "waiting" | "kept" | "refused", back: taken back?, backState, why}.
  function entries() {
    try {
      return JSON.parse(localStorage.getItem(KEPT)) || [];
    } catch {
      return [];
    }
  }

  function store(list) {
    // What is settled is only shown; what waits is never forgotten.
    const settled = list.filter((one) => one.state === "kept" && one.backState !== "waiting");
    const old = new Set(settled.slice(0, Math.max(0, settled.length - SHOWN)).map((one) => one.id));
    localStorage.setItem(KEPT, JSON.stringify(list.filter((one) => !old.has(one.id))));
  }

  function change(id, values) {
    store(entries().map((one) => (one.id === id ? { ...one, ...values } : one)));
    show();
  }

  function freshId() {
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // Where one is on the way, and what is typed and not kept yet, go with the page when the phone lets go of it.
  function remember() {
    const typed = Object.fromEntries(new FormData(form));
    delete typed.form_token;
    if (typed.day === form.elements.day.defaultValue) delete typed.day;
    history.replaceState({ walk: typed }, "");
  }

  // A page that stayed open over night means today, unless another day was typed.
  function turnDay() {
    const field = form.elements.day, now = new Date();
    const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
    if (today <= field.defaultValue) return;
    const meant = field.value === field.defaultValue;
    field.max = today;
    field.defaultValue = today;
    if (meant) field.value = today;
  }

  function recall() {
    const typed = history.state?.walk;
    const place = typed ? way.findIndex((stop) => stop.tag === typed.slab) : -1;
    if (place < 0) return;
    go(place);
    // The id too: what was kept in the last moment is not kept twice.
    if (entries().some((one) => one.id === typed.id)) return;
    for (const [name, value] of Object.entries(typed)) if (form.elements[name]) form.elements[name].value = value;
  }

  function go(place) {
    if (place < 0 || place >= way.length) return;
    at = place;
    const stop = way[at];
    form.elements.slab.value = stop.tag;
    form.elements.id.value = freshId();
    for (const [name, text] of Object.entries({ tag: stop.tag, what: stop.what, last: stop.last, place: stop.place, at: at + 1 })) {
      walk.querySelector(`[data-${name}]`).textContent = text;
    }
    for (const name of ["moisture", "weight", "place", "note"]) form.elements[name].value = "";
    hideProblem();
    remember();
    window.scrollTo(0, 0);
  }

  function hideProblem() {
    problem.hidden = true;
  }

  function complain(text) {
    problem.textContent = text;
    problem.hidden = false;
  }

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    hideProblem();
    const fields = Object.fromEntries(new FormData(form));
    delete fields.form_token;
    if (!fields.moisture.trim() && !fields.weight.trim()) {
      complain("Nothing was read; type a moisture or a weight, or skip the slab.");
      moisture.focus();
      return;
    }
    const said = [fields.moisture.trim() && `${fields.moisture.trim().replace(/%$/, "")} %`, fields.weight.trim()].filter(Boolean).join(", ");
    try {
      store([...entries(), { id: fields.id, fields, tag: fields.slab, said, state: "waiting" }]);
    } catch {
      complain("This browser keeps nothing (private window, or full); write the reading down, or allow it to keep data for this page.");
      return;
    }
    way[at].last = `just now ${said}`;
    if (at + 1 < way.length) {
      go(at + 1);
    } else {
      go(at);
      complain("That was the last slab on the way.");
    }
    show();
    send();
  });

  // One after the other, in their order; an answer that never came is asked for again with the same id.
  async function send() {
    clearTimeout(timer);
    if (sending) return;
    sending = true;
    try {
      for (let next = waiting(); next; next = waiting()) {
        const taking = next.backState === "waiting";
        const fields = taking ? { id: next.id } : next.fields;
        const answer = await fetch(taking ? walk.dataset.undo : walk.dataset.keep, {
          method: "POST",
          headers: { Accept: "application/json", "X-Form-Token": document.querySelector("meta[name=form-token]").content },
          body: new URLSearchParams(fields),
          redirect: "error",
          signal: AbortSignal.timeout(15000),
        });
        const told = await answer.json().catch(() => ({}));
        if (answer.ok) {
          change(next.id, taking ? { backState: "done", state: "kept" } : { state: "kept" });
        } else if (answer.status === 400 || answer.status === 404) {
          change(next.id, taking ? { backState: "refused", why: told.problem } : { state: "refused", why: told.problem || "The yard did not take it." });
        } else if (answer.status === 403) {
          throw new Error("This page was open for too long, or this device is shut out. Load the page again; nothing is lost.");
        } else {
          throw new Error(told.problem || "The yard did not answer as it should.");
        }
        pause = 1000;
      }
      walk.querySelector("[data-waiting]").dataset.why = "";
    } catch (error) {
      walk.querySelector("[data-waiting]").dataset.why = error instanceof TypeError || error.name === "TimeoutError" ? "No connection" : error.message;
      timer = setTimeout(send, pause);
      pause = Math.min(pause * 2, 60000);
    } finally {
      sending = false;
      show();
    }
  }

  function waiting() {
    return entries().find((one) => one.state === "waiting" || one.backState === "waiting");
  }

  function show() {
    const list = entries();
    const open = list.filter((one) => one.state === "waiting" || one.backState === "waiting").length;
    const line = walk.querySelector("[data-waiting]");
    const why = line.dataset.why ? `${line.dataset.why}. ` : "";
    line.textContent = open ? `${why}${open === 1 ? "1 entry waits" : `${open} entries wait`} on this device for the yard.` : "Everything is in the yard.";
    walk.querySelector("[data-sent]").hidden = list.length === 0;
    const rows = walk.querySelector("[data-list]");
    rows.replaceChildren(...list.slice(-SHOWN).reverse().map(row));
    const plain = document.querySelector("[data-undo-plain]");
    if (plain) plain.hidden = true;
  }

  function row(one) {
    const item = document.createElement("li");
    const text = document.createElement("span");
    const states = { waiting: "waits", kept: "in the yard", refused: one.why };
    let state = states[one.state];
    if (one.backState === "waiting") state = "is being taken back";
    if (one.backState === "done") state = "taken back";
    if (one.backState === "refused") state = one.why;
    text.textContent = `slab ${one.tag}: ${one.said}, ${state}`;
    if (one.state === "refused") text.className = "refused";
    item.append(text);
    if (one.state === "refused") {
      item.append(button("Correct it", `Correct the reading of slab ${one.tag}`, () => correct(one)));
      item.append(button("Drop it", `Drop the refused reading of slab ${one.tag}`, () => {
        store(entries().filter((other) => other.id !== one.id));
        show();
      }));
    } else if (!one.backState) {
      item.append(button("Take back", `Take back the reading of slab ${one.tag}`, () => {
        change(one.id, { backState: "waiting" });
        send();
      }));
    }
    return item;
  }

  function button(text, name, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.setAttribute("aria-label", name);
    made.addEventListener("click", act);
    return made;
  }

  function correct(one) {
    store(entries().filter((other) => other.id !== one.id));
    const place = way.findIndex((stop) => stop.tag === one.tag);
    if (place >= 0) go(place);
    for (const [name, value] of Object.entries(one.fields)) {
      if (form.elements[name] && name !== "id" && name !== "slab") form.elements[name].value = value;
    }
    show();
    moisture.focus();
  }

  const keys = walk.querySelector("[data-keys]");
  keys.hidden = false;
  keys.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]");
    if (!key) return;
    const value = moisture.value;
    if (key.dataset.key === "back") moisture.value = value.slice(0, -1);
    else if (key.dataset.key !== "." || !value.includes(".")) moisture.value = (value + key.dataset.key).slice(0, 8);
    remember();
  });
  form.addEventListener("input", remember);
  for (const [name, step] of [["skip", 1], ["before", -1]]) {
    const link = walk.querySelector(`[data-${name}]`);
    if (link) {
      link.addEventListener("click", (event) => {
        if (at + step < 0 || at + step >= way.length) return;
        event.preventDefault();
        go(at + step);
      });
    }
  }
  walk.querySelector("[data-go]").addEventListener("submit", (event) => {
    const wanted = event.target.elements.slab.value.trim().replace(/^#/, "").toUpperCase();
    const place = way.findIndex((stop) => stop.tag === wanted);
    event.preventDefault();
    if (place >= 0) {
      event.target.reset();
      go(place);
    } else {
      complain(`There is no slab ${wanted} on the way; look at the tag again.`);
    }
  });
  window.addEventListener("online", () => {
    pause = 1000;
    send();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) return;
    turnDay();
    send();
  });
  form.elements.id.value = freshId();
  turnDay();
  recall();
  show();
  send();
}
