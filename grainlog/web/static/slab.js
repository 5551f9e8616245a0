// The face of a slab: closer and farther by buttons, wheel, pinch and keys; layers on and off; the width anywhere along it.
"use strict";

const CLOSEST = 4; // px per mm
const KEY_STEP = 40; // px

for (const figure of document.querySelectorAll("[data-face]")) startFace(figure);

function startFace(figure) {
  const view = figure.querySelector("[data-view]");
  const svg = view.querySelector("svg");
  const turnedGroup = svg.querySelector("[data-turned]");
  const picture = svg.querySelector("[data-layer=picture]");
  const [left, top, wide, high] = svg.getAttribute("viewBox").split(/\s+/).map(Number);
  let turned = window.matchMedia("(max-width: 46rem)").matches;
  let scale = 0; // px per mm; 0 is the whole slab
  let middle = { x: 0, y: 0 };

  function box() {
    return turned ? { x: top, y: -left - wide, w: high, h: wide } : { x: left, y: top, w: wide, h: high };
  }

  function wholeScale() {
    const size = view.getBoundingClientRect();
    return Math.min(size.width / box().w, size.height / box().h);
  }

  function near() {
    return scale > wholeScale() * 1.01;
  }

  function whole() {
    scale = 0;
    draw();
  }

  function draw() {
    const size = view.getBoundingClientRect();
    const all = box();
    const least = wholeScale();
    scale = Math.min(Math.max(scale, least), Math.max(CLOSEST, least));
    const w = size.width / scale;
    const h = size.height / scale;
    middle.x = hold(middle.x, all.x, all.w, w);
    middle.y = hold(middle.y, all.y, all.h, h);
    svg.setAttribute("viewBox", `${middle.x - w / 2} ${middle.y - h / 2} ${w} ${h}`);
    view.classList.toggle("near", near());
    if (picture && scale * window.devicePixelRatio * wide > 1300 && picture.dataset.large) {
      picture.setAttribute("href", picture.dataset.large);
      delete picture.dataset.large;
    }
  }

  function hold(at, from, length, shown) {
    if (shown >= length) return from + length / 2;
    return Math.min(Math.max(at, from + shown / 2), from + length - shown / 2);
  }

  function zoom(factor, clientX, clientY) {
    const size = view.getBoundingClientRect();
    const px = clientX === undefined ? 0 : clientX - size.left - size.width / 2;
    const py = clientY === undefined ? 0 : clientY - size.top - size.height / 2;
    const before = scale;
    const least = wholeScale();
    scale = Math.min(Math.max(scale * factor, least), Math.max(CLOSEST, least));
    // What lies under the pointer stays under it.
    middle.x += px / before - px / scale;
    middle.y += py / before - py / scale;
    draw();
  }

  function pan(dx, dy) {
    middle.x -= dx / scale;
    middle.y -= dy / scale;
    draw();
  }

  function lay() {
    turnedGroup.setAttribute("transform", turned ? "rotate(-90)" : "");
    view.classList.toggle("upright", turned);
    const all = box();
    view.style.aspectRatio = `${all.w} / ${all.h}`;
    whole();
  }

  // The width anywhere.
  const widths = JSON.parse(figure.querySelector("[data-widths]").textContent);
  const slider = figure.querySelector("input[type=range]");
  const tape = figure.querySelector("[data-tape]");
  const said = figure.querySelector("[data-said]");
  const where = figure.querySelector("[data-where]");

  function measure(index) {
    const [x, low, high, width, at] = widths[index];
    for (const line of tape.querySelectorAll("path")) line.setAttribute("d", `M${x},${low}V${high}`);
    tape.removeAttribute("hidden");
    said.textContent = width;
    where.textContent = `at ${at}`;
    slider.setAttribute("aria-valuetext", `${width} at ${at}`);
    if (Number(slider.value) !== index) slider.value = index;
  }

  function measureAt(clientX, clientY) {
    const point = new DOMPoint(clientX, clientY).matrixTransform(turnedGroup.getScreenCTM().inverse());
    const step = widths.length > 1 ? widths[1][0] - widths[0][0] : 1;
    const index = Math.round((point.x - widths[0][0]) / step);
    if (index >= 0 && index < widths.length) measure(index);
  }

  const fingers = new Map();
  let moved = 0;

  view.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, event);
    moved = 0;
    if (near() || fingers.size > 1) view.setPointerCapture(event.pointerId);
  });
  view.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) {
      if (event.pointerType === "mouse") measureAt(event.clientX, event.clientY);
      return;
    }
    const dx = event.clientX - before.clientX;
    const dy = event.clientY - before.clientY;
    moved += Math.abs(dx) + Math.abs(dy);
    if (fingers.size === 2) {
      const other = [...fingers.entries()].find(([id]) => id !== event.pointerId)[1];
      const was = Math.hypot(before.clientX - other.clientX, before.clientY - other.clientY);
      const is = Math.hypot(event.clientX - other.clientX, event.clientY - other.clientY);
      if (was > 0) zoom(is / was, (event.clientX + other.clientX) / 2, (event.clientY + other.clientY) / 2);
      pan(dx / 2, dy / 2);
    } else if (near()) {
      pan(dx, dy);
    } else {
      measureAt(event.clientX, event.clientY);
    }
    fingers.set(event.pointerId, event);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    view.addEventListener(end, (event) => {
      if (end === "pointerup" && fingers.size === 1 && moved < 8) measureAt(event.clientX, event.clientY);
      fingers.delete(event.pointerId);
    });
  }
  view.addEventListener("wheel", (event) => {
    // Otherwise the wheel would hold the page fast wherever the slab passes under the pointer.
    if (!event.ctrlKey && !view.contains(document.activeElement)) return;
    event.preventDefault();
    zoom(Math.exp(-event.deltaY / 400), event.clientX, event.clientY);
  }, { passive: false });
  view.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (event.key === "+" || event.key === "=") zoom(1.4);
    else if (event.key === "-") zoom(1 / 1.4);
    else if (event.key === "0") whole();
    else if (way && near()) pan(way[0] * KEY_STEP, way[1] * KEY_STEP);
    else return;
    event.preventDefault();
  });

  for (const button of figure.querySelectorAll("[data-zoom]")) {
    button.addEventListener("click", () => {
      const what = button.dataset.zoom;
      if (what === "in") zoom(1.6);
      else if (what === "out") zoom(1 / 1.6);
      else if (what === "whole") whole();
      else {
        turned = !turned;
        lay();
      }
    });
  }
  for (const tick of figure.querySelectorAll("[data-show]")) {
    const layer = svg.querySelector(`[data-layer=${tick.dataset.show}]`);
    const follow = () => layer.toggleAttribute("hidden", !tick.checked);
    tick.addEventListener("change", follow);
    // A browser that comes back to the page keeps its ticks.
    follow();
  }

  view.tabIndex = 0;
  view.setAttribute("role", "group");
  view.setAttribute("aria-label", "The face; plus and minus zoom, zero shows the whole slab, arrows move");
  figure.querySelector(".face-tools").hidden = false;
  if (widths.length) {
    figure.querySelector("[data-plain]").hidden = true;
    figure.querySelector("[data-width]").hidden = false;
    slider.max = widths.length - 1;
    slider.addEventListener("input", () => measure(Number(slider.value)));
    measure(Math.floor(widths.length / 2));
  }
  lay();
  window.addEventListener("resize", draw);
}
