"use strict";
// Four marks on the corners of something of known size, or two marks a known distance apart.
(() => {
  const form = document.getElementById("scale");
  if (!form) return;
  const byId = (id) => document.getElementById(id);
  const width = Number(form.dataset.width), height = Number(form.dataset.height), surface = byId("surface");
  const COLOURS = ["#ffd24d", "#7ff0ff", "#ff9df2", "#8dff8a"];
  let marks = [], chosen = -1, hold = null;
  const kind = () => new FormData(form).get("kind");
  const typed = () => byId("points").value.trim().split(/\s+/).map((pair) => pair.split(",").map(Number)).filter((p) => p.length === 2 && p.every(Number.isFinite));
  const write = () => { byId("points").value = marks.map((p) => `${p[0].toFixed(1)},${p[1].toFixed(1)}`).join(" "); };
  let drawing = null;
  drawing = new window.Drawing(surface, byId("loupe"), form.dataset.pictureUrl, width, height, {
    redraw: () => redraw(),
    press(p) {
      chosen = -1;
      let least = 34 * drawing.scale;
      marks.forEach((m, k) => { const far = Math.hypot(m[0] - p.x, m[1] - p.y); if (far < least) { least = far; chosen = k; } });
      if (chosen < 0) { redraw(); return false; }
      // The finger keeps its distance from the mark, which would else be under it.
      hold = [marks[chosen][0] - p.x, marks[chosen][1] - p.y];
      return true;
    },
    drag(p) { place({ x: p.x + hold[0], y: p.y + hold[1] }); },
    lift() { hold = null; write(); redraw(); },
    cancel() { hold = null; },
    key(event, steps) {
      const name = event.key.toLowerCase();
      if (name === "n" || name === "p") {
        chosen = (chosen + (name === "n" ? 1 : marks.length - 1) + marks.length) % marks.length;
        drawing.follow({ x: marks[chosen][0], y: marks[chosen][1] });
        byId("hint").textContent = `Mark ${chosen + 1} of ${marks.length}; arrow keys move it.`;
        redraw();
        return true;
      }
      if (steps && chosen >= 0) {
        const far = (event.shiftKey ? 25 : 1) * drawing.scale;
        place({ x: marks[chosen][0] + steps[0] * far, y: marks[chosen][1] + steps[1] * far });
        drawing.follow({ x: marks[chosen][0], y: marks[chosen][1] });
        write();
        return true;
      }
      return false;
    },
  });
  const place = (p) => { const q = drawing.inside(p); marks[chosen] = [q.x, q.y]; drawing.cursor = q; redraw(); };
  function redraw() {
    if (!drawing) return;
    drawing.clear();
    const round = [...marks];
    if (marks.length === 4) {
      const middle = [0, 1].map((k) => marks.reduce((sum, p) => sum + p[k], 0) / 4);
      round.sort((a, b) => Math.atan2(a[1] - middle[1], a[0] - middle[0]) - Math.atan2(b[1] - middle[1], b[0] - middle[0]));
    }
    drawing.line(round, { colour: "#fff", width: 2, closed: marks.length === 4 });
    marks.forEach(([x, y], k) => {
      const s = 16 * drawing.scale;
      drawing.line([[x - s, y], [x + s, y]], { colour: COLOURS[k], width: k === chosen ? 4 : 2 });
      drawing.line([[x, y - s], [x, y + s]], { colour: COLOURS[k], width: k === chosen ? 4 : 2 });
    });
  }
  const fresh = (count) => {
    const [x, y, a, b] = [width / 2, height / 2, 0.12 * width, 0.12 * height];
    return count === 4 ? [[x - a, y - b], [x + a, y - b], [x + a, y + b], [x - a, y + b]] : [[x - 2 * a, y], [x + 2 * a, y]];
  };
  const arrange = () => {
    const now = kind(), count = now === "points" ? 2 : 4, found = form.elements.found.checked && (now === "a4" || now === "letter");
    byId("size-label").hidden = now !== "size";
    byId("distance-label").hidden = now !== "points";
    byId("found-label").hidden = now !== "a4" && now !== "letter";
    byId("stage").hidden = byId("hint").hidden = found || now === "cards";
    if (marks.length !== count) { const given = typed(); marks = given.length === count ? given : fresh(count); chosen = -1; }
    byId("hint").textContent = count === 4 ? "Drag each cross onto a corner; zoom in for the last bit." : "Drag the two crosses onto the points you measured between, as far apart as you can.";
    redraw();
  };
  form.addEventListener("change", arrange);
  byId("points").addEventListener("change", () => { const given = typed(); if (given.length === marks.length) { marks = given; redraw(); } });
  form.addEventListener("submit", write);
  surface.dataset.tool = "marks";
  arrange();
  drawing.all();
  surface.dataset.ready = "yes";
})();
