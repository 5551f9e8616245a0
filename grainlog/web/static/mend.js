"use strict";
// Mending a survey: the wood edge dragged or dabbed, checks drawn or taken out; every step can be undone.
(async () => {
  const root = document.getElementById("mend");
  if (!root) return;
  const byId = (id) => document.getElementById(id);
  const token = document.querySelector('meta[name="form-token"]').content;
  const surface = byId("surface"), hint = byId("hint");
  const say = (text) => { hint.textContent = text; };
  const { apart, along, thin } = window.Shape;
  const ask = async (url, data) => {
    const json = { Accept: "application/json", "Content-Type": "application/json", "X-Form-Token": token };
    const answer = await fetch(url, data ? { method: "POST", body: JSON.stringify(data), headers: json } : { headers: json, cache: "no-store" });
    const told = await answer.json();
    if (!answer.ok) throw new Error(told.problem);
    return told;
  };
  const linesOn = (ground) => ask(`${root.dataset.linesUrl}?on=${ground}`);
  let lines;
  // On a tall screen the slab stands on end.
  const above = surface.clientHeight > 1.2 * surface.clientWidth ? "upright" : "above";
  const asked = byId("on").value;
  try { lines = await linesOn(asked === "photo" ? asked : above); } catch (error) { say(error.message); return; }

  const HINTS = {
    move: "Look around: drag to move, two fingers or the wheel to zoom. Then choose what to do.",
    edge: "Drag a round mark to move the wood edge. Press on the edge between two marks for a new one.",
    wood: "Stroke over wood that was left out. The edge is found again.",
    other: "Stroke over what is not wood: bark, ground, a sticker. The edge is found again.",
    check: "Draw along a check that was missed, from tip to tip.",
    remove: "Press on a check that is none.",
  };
  const GAP = 24; // CSS px within which a finger takes hold
  const MOST_CARRIED = 20; // steps that can still be undone on the other picture
  let tool = "move", state, before = null, past = [], future = [], tried = null, asking = 0, chosen = -1, points = null, pulled = null;
  state = {
    ring: lines.ring, handles: lines.handles, dragged: false, dabbed: false, edited: false,
    dabs: lines.dabs, checks: lines.checks, ...lines.unsaved,
  };
  const copy = (value) => JSON.parse(JSON.stringify(value));
  state = copy(state);

  let drawing = null;
  drawing = new window.Drawing(surface, byId("loupe"), root.dataset[`${lines.ground}Url`], lines.width, lines.height, {
    redraw: () => redraw(),
    press: (p) => press(p), drag: (p) => drag(p), lift: (p, moved) => lift(p, moved), cancel: () => cancel(), tap: () => {},
    set: (p) => setAt(p), key: (event, steps) => key(event, steps),
  });

  function redraw() {
    if (!drawing) return;
    drawing.clear();
    const dabbing = state.dabbed && tried;
    drawing.line(state.ring, { colour: "#ffd24d", width: dabbing ? 1.5 : 3, closed: true, dash: dabbing ? "6 6" : "" });
    for (const hole of lines.holes) drawing.line(hole, { colour: "#ffd24d", width: 2, closed: true });
    if (dabbing) drawing.line(tried, { colour: "#7ff0ff", width: 3, closed: true });
    for (const [name, colour] of [["wood_px", "#8dff8a"], ["not_wood_px", "#ff6f61"]])
      for (const stroke of state.dabs[name]) drawing.line(stroke, { colour, width: 6 });
    state.checks.forEach((check, place) => drawing.line(check.path, { colour: check.out ? "#999" : check.by ? "#ffffff" : "#ff9df2", width: place === pulled ? 5 : 3, dash: check.out ? "3 7" : "" }));
    if (points) drawing.line(points, { colour: tool === "check" ? "#fff" : tool === "wood" ? "#8dff8a" : "#ff6f61", width: tool === "check" ? 3 : 6 });
    if (tool === "edge") shown().forEach(([at, place]) => drawing.dot(...state.ring[at], { r: place === chosen ? 9 : 6, fill: place === chosen ? "#1e4d7b" : "#fff" }));
    drawing.mark();
  }

  // Steps and their undoing -----------------------------------------------------------------------------------------
  const begin = () => { before = copy(state); };
  const done = (what) => {
    if (before === null) return;
    past.push(before);
    future = [];
    before = null;
    changed(what);
  };
  const changed = (what) => {
    const edited = state.dragged || state.dabbed || state.edited;
    byId("undo").disabled = !past.length;
    byId("redo").disabled = !future.length;
    byId("save").disabled = !edited;
    if (what) say(what);
    list();
    redraw();
  };
  const step = (from, to, word) => {
    if (!from.length) return;
    to.push(copy(state));
    state = from.pop();
    chosen = -1;
    tried = null;
    if (state.dabbed) attempt();
    changed(word);
  };
  byId("undo").addEventListener("click", () => step(past, future, "Taken back."));
  byId("redo").addEventListener("click", () => step(future, past, "Done again."));

  // The wood edge ---------------------------------------------------------------------------------------------------
  // Marks that would lie on each other are shown when one looks closer.
  const shown = () => {
    const kept = [], least = 18 * drawing.scale;
    state.handles.forEach((at, place) => {
      const [x, y] = state.ring[at];
      if (place === chosen || kept.every(([other]) => apart(state.ring[other], { x, y }) > least)) kept.push([at, place]);
    });
    return kept;
  };
  const near = (p) => {
    let best = -1, least = GAP * drawing.scale;
    shown().forEach(([at, place]) => { const far = apart(state.ring[at], p); if (far < least) { least = far; best = place; } });
    return best;
  };
  const nearEdge = (p) => {
    let best = -1, least = GAP * drawing.scale;
    state.ring.forEach((q, at) => { const far = apart(q, p); if (far < least) { least = far; best = at; } });
    return best;
  };
  let hold = null;
  const take = (place) => { hold = window.Shape.held(state.ring, state.handles, place); chosen = place; };
  const pull = (p) => window.Shape.pull(state.ring, hold, p);
  const straighten = () => {
    if (chosen < 0 || state.handles.length < 4) return;
    begin();
    const h = state.handles;
    window.Shape.straighten(state.ring, h[(chosen - 1 + h.length) % h.length], h[(chosen + 1) % h.length]);
    h.splice(chosen, 1);
    chosen = -1;
    dragged();
    done("The edge is straight there now.");
  };
  const dragged = () => { state.dragged = true; if (state.dabbed) { state.dabbed = false; state.dabs = copy(lines.dabs); tried = null; } };

  // Dabs ------------------------------------------------------------------------------------------------------------
  const attempt = async () => {
    const mine = ++asking;
    say("Finding the edge again ...");
    try {
      const told = await ask(root.dataset.tryUrl, { on: lines.ground, mark: byId("mark").value, dabs: state.dabs });
      if (mine !== asking) return;
      tried = told.outline;
      say("The new edge is drawn in blue, roughly; saving finds it exactly. Dab more, or undo.");
      surface.dataset.tried = String(Number(surface.dataset.tried || 0) + 1);
    } catch (error) {
      if (mine === asking) say(error instanceof TypeError ? "No connection to the yard; dab once more when it is back." : error.message);
    }
    redraw();
  };
  const dab = (stroke) => {
    if (state.dragged) { Object.assign(state, copy({ dragged: false, ring: lines.ring, handles: lines.handles })); }
    state.dabs[tool === "wood" ? "wood_px" : "not_wood_px"].push(stroke);
    state.dabbed = true;
    done();
    attempt();
  };

  // Checks ----------------------------------------------------------------------------------------------------------
  const addCheck = (path) => {
    state.checks.push({ path, by: "person", label: `drawn check, ${path.length} points`, out: false, fresh: true });
    state.edited = true;
    done("Drawn. How wide it is is measured on saving.");
  };
  const toggle = (place) => {
    begin();
    state.checks[place].out = !state.checks[place].out;
    state.edited = true;
    done(state.checks[place].out ? "Taken out." : "Back again.");
  };
  function list() {
    const rows = state.checks.map((check, place) => {
      const row = document.createElement("li"), text = document.createElement(check.out ? "s" : "span"), button = document.createElement("button");
      text.textContent = `${place + 1}: ${check.label}${check.by ? " (by hand)" : ""}`;
      button.type = "button";
      button.textContent = check.out ? "Put back" : "Take out";
      button.setAttribute("aria-label", `${button.textContent} check ${place + 1}`);
      button.addEventListener("click", () => { toggle(place); byId("checks").children[place].querySelector("button").focus(); });
      row.addEventListener("mouseenter", () => { pulled = place; redraw(); });
      row.addEventListener("mouseleave", () => { pulled = null; redraw(); });
      row.append(text, button);
      return row;
    });
    if (!rows.length) { const none = document.createElement("li"); none.textContent = "None."; rows.push(none); }
    byId("checks").replaceChildren(...rows);
  }

  // What a finger does ----------------------------------------------------------------------------------------------
  function press(p) {
    if (tool === "move") return false;
    if (tool === "edge") {
      let place = near(p);
      if (place < 0) {
        const at = nearEdge(p);
        if (at < 0) { chosen = -1; redraw(); return false; }
        begin();
        place = state.handles.findIndex((one) => one > at);
        place = place < 0 ? state.handles.length : place;
        state.handles.splice(place, 0, at);
      } else begin();
      take(place);
      redraw();
      return true;
    }
    if (tool === "remove") {
      let best = -1, least = GAP * drawing.scale;
      state.checks.forEach((check, place) => { const far = along(check.path, p); if (far < least) { least = far; best = place; } });
      if (best < 0) return false;
      toggle(best);
      return true;
    }
    begin();
    points = [[p.x, p.y]];
    redraw();
    return true;
  }
  function drag(p) {
    if (tool === "edge" && hold) { pull(p); redraw(); }
    else if (points) {
      const last = points[points.length - 1];
      if (apart(last, p) > 3 * drawing.scale) { points.push([p.x, p.y]); redraw(); }
    }
  }
  function lift(p, moved) {
    if (tool === "edge" && hold) {
      hold = null;
      if (moved) { dragged(); done("Moved. Drag on, undo, or save."); } else { before = null; redraw(); }
      return;
    }
    if (!points) return;
    const path = thin(points);
    points = null;
    if (tool === "check") {
      if (path.length < 2) { before = null; say("Draw along the check: press at one tip and go to the other."); redraw(); return; }
      addCheck(path);
    } else dab(path);
  }
  function cancel() {
    if (before) state = before;
    before = null;
    hold = null;
    points = null;
    redraw();
  }

  // What a key does -------------------------------------------------------------------------------------------------
  function setAt(p) {
    if (tool === "edge") { const place = near(p); if (place >= 0) { chosen = place; say(`Place ${place + 1} of ${state.handles.length}; arrow keys move it.`); } redraw(); return; }
    if (tool === "remove") { press(p); return; }
    if (tool === "check") {
      if (!points) { begin(); points = []; }
      points.push([p.x, p.y]);
      say(`${points.length} points; D when it is done.`);
    } else if (tool !== "move") { begin(); dab([[p.x, p.y]]); }
    redraw();
  }
  function key(event, steps) {
    const name = event.key.toLowerCase();
    if (name === "u") { step(past, future, "Taken back."); return true; }
    if (name === "r") { step(future, past, "Done again."); return true; }
    if (tool === "check" && name === "d" && points) {
      const path = points;
      points = null;
      if (path.length > 1) addCheck(path); else { before = null; redraw(); }
      return true;
    }
    if (name === "escape") { chosen = -1; cancel(); return true; }
    if (tool !== "edge") return false;
    if (name === "n" || name === "p") {
      const count = state.handles.length;
      chosen = chosen < 0 ? 0 : (chosen + (name === "n" ? 1 : count - 1)) % count;
      const [x, y] = state.ring[state.handles[chosen]];
      drawing.cursor = { x, y };
      drawing.follow();
      say(`Place ${chosen + 1} of ${count}; arrow keys move it.`);
      redraw();
      return true;
    }
    if (chosen >= 0 && steps) {
      begin();
      take(chosen);
      const far = (event.shiftKey ? 10 : 1) * drawing.scale, [x, y] = state.ring[hold.at];
      pull(drawing.inside({ x: x + steps[0] * far, y: y + steps[1] * far }));
      hold = null;
      dragged();
      done("Moved.");
      return true;
    }
    if (chosen >= 0 && (event.key === "Delete" || event.key === "Backspace")) { straighten(); return true; }
    return false;
  }

  const choose = (name) => {
    tool = name;
    chosen = -1;
    points = null;
    before = null;
    surface.dataset.tool = name;
    for (const button of root.querySelectorAll("[data-tool]")) if (button !== surface) button.setAttribute("aria-pressed", String(button.dataset.tool === name));
    let hinted = HINTS[name];
    if (name === "edge" && state.dabbed) hinted = "Dragging drops the dabs: save them first if you want both. " + hinted;
    if ((name === "wood" || name === "other") && (state.dragged || lines.drawn)) hinted = "Dabbing finds the edge anew, without what was dragged. " + hinted;
    say(hinted);
    redraw();
  };
  for (const button of root.querySelectorAll("button[data-tool]")) button.addEventListener("click", () => choose(button.dataset.tool));

  // What is drawn on ----------------------------------------------------------------------------------------------
  // Everything drawn so far, and all that can be undone, goes over to the other picture; so does what one looks at.
  const stand = async (name) => {
    name = name === "photo" ? name : above;
    if (name === lines.ground) return;
    past = past.slice(-MOST_CARRIED);
    future = future.slice(-MOST_CARRIED);
    const from = lines.ground, states = [state, ...past, ...future], paths = window.Shape.pathsOf(states);
    const { x, y, w } = drawing.view, middle = [x + w / 2, y + drawing.view.h / 2];
    const looked = [middle, [middle[0] + w / 4, middle[1]]], before = tried || [[0, 0]];
    say("The other picture is loading.");
    let fresh, told;
    try {
      [fresh, told] = await Promise.all([linesOn(name), ask(root.dataset.acrossUrl, { from, to: name, mark: byId("mark").value, paths: [...paths.values(), looked, before] })]);
    } catch (error) { say(error instanceof TypeError ? "No connection to the yard; try again when it is back." : error.message); return; }
    const by = new Map([...paths.keys()].map((key, k) => [key, told.paths[k]])), [at, side] = told.paths[paths.size];
    lines = fresh;
    [state, past, future] = [window.Shape.moved(state, by), past.map((one) => window.Shape.moved(one, by)), future.map((one) => window.Shape.moved(one, by))];
    if (tried) tried = told.paths[paths.size + 1];
    byId("on").value = lines.ground;
    drawing.show(root.dataset[`${lines.ground}Url`], lines.width, lines.height);
    drawing.look(at[0], at[1], (4 * Math.hypot(side[0] - at[0], side[1] - at[1])) / drawing.size().w);
    for (const button of root.querySelectorAll("[data-ground]")) button.setAttribute("aria-pressed", String((button.dataset.ground === "photo") === (lines.ground === "photo")));
    surface.dataset.ground = lines.ground;
    choose(tool);
  };
  for (const button of root.querySelectorAll("[data-ground]")) button.addEventListener("click", () => stand(button.dataset.ground));

  byId("save-form").addEventListener("submit", () => {
    const round = (path) => path.map((p) => p.map((v) => Math.round(100 * v) / 100));
    const sent = { pull: byId("pull").checked };
    if (state.dragged) Object.assign(sent, { ring: round(state.ring), holes: lines.holes });
    else if (state.dabbed) sent.dabs = { wood_px: state.dabs.wood_px.map(round), not_wood_px: state.dabs.not_wood_px.map(round) };
    if (state.edited) {
      sent.checks = {
        added_px: state.checks.filter((check) => check.by && !check.out).map((check) => round(check.path)),
        removed_px: [...(lines.removed || []), ...state.checks.filter((check) => check.out && !check.by).map((check) => round(check.path))],
      };
    }
    byId("drawn").value = JSON.stringify(sent);
    byId("save").disabled = true;
    past = [];
    say("Saving, and measuring again ...");
  });
  addEventListener("beforeunload", (event) => { if (past.length) event.preventDefault(); });
  byId("on").value = lines.ground;
  drawing.around(state.ring);
  choose("move");
  changed();
  if (state.dabbed) attempt();
  surface.dataset.ground = lines.ground;
  surface.dataset.ready = "yes";
})();
