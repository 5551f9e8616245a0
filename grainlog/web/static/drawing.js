"use strict";
// A photo to draw on: zoom with wheel, two fingers, buttons or keys; one finger or the mouse does what the tool says.
// Everything is in pixels of the photo, the middle of the first one at (0, 0).
(() => {
  const NS = "http://www.w3.org/2000/svg";
  const make = (name, attributes = {}, parent = null) => {
    const made = document.createElementNS(NS, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (parent) parent.append(made);
    return made;
  };

  class Drawing {
    // acts: {press(point), drag(point), lift(point, moved), key(event), redraw()}; press answers whether it takes the pointer.
    constructor(surface, loupe, picture, width, height, acts) {
      Object.assign(this, { surface, loupe, width, height, acts, pointers: new Map(), held: false, pinch: null });
      this.svg = make("svg", { preserveAspectRatio: "none", "aria-hidden": "true" }, null);
      surface.replaceChildren(this.svg);
      this.images = [make("image", { x: -0.5, y: -0.5, preserveAspectRatio: "none" }, this.svg)];
      this.lines = make("g", { fill: "none", "stroke-linejoin": "round", "stroke-linecap": "round" }, this.svg);
      this.keyed = false;
      if (loupe) {
        this.glass = make("svg", {}, loupe);
        this.images.push(make("image", { x: -0.5, y: -0.5, preserveAspectRatio: "none" }, this.glass));
        this.glassLines = make("g", { fill: "none" }, this.glass);
        this.cross = make("path", { fill: "none", stroke: "#fff", "stroke-width": 1.5, "vector-effect": "non-scaling-stroke" }, this.glass);
      }
      this.show(picture, width, height);
      this.all();
      new ResizeObserver(() => this.keepShape()).observe(surface);
      for (const [name, act] of [["pointerdown", "down"], ["pointermove", "moved"], ["pointerup", "up"], ["pointercancel", "up"]])
        surface.addEventListener(name, (event) => this[act](event));
      surface.addEventListener("wheel", (event) => { event.preventDefault(); this.zoom(Math.exp(event.deltaY / 400), this.at(event)); }, { passive: false });
      surface.addEventListener("keydown", (event) => this.key(event));
      for (const [id, act] of [["closer", () => this.zoom(0.6)], ["farther", () => this.zoom(1 / 0.6)], ["whole", () => this.all()]])
        document.getElementById(id).addEventListener("click", act);
    }
    // Another picture of another size to draw on.
    show(picture, width, height) {
      Object.assign(this, { width, height, cursor: { x: width / 2, y: height / 2 } });
      for (const image of this.images) for (const [key, value] of Object.entries({ href: picture, width, height })) image.setAttribute(key, value);
    }
    size() { const box = this.surface.getBoundingClientRect(); return { w: Math.max(box.width, 1), h: Math.max(box.height, 1), left: box.left, top: box.top }; }
    get scale() { return this.view.w / this.size().w; } // photo px per CSS px
    all() {
      const { w, h } = this.size(), scale = Math.max(this.width / w, this.height / h);
      this.look((this.width - 1) / 2, (this.height - 1) / 2, scale);
    }
    look(x, y, scale) {
      const { w, h } = this.size(), most = Math.max(this.width / w, this.height / h);
      const by = Math.min(Math.max(scale, 0.08), most);
      const clamp = (middle, side, photo) => (side >= photo ? (photo - 1) / 2 : Math.min(Math.max(middle, side / 2 - 0.5), photo - side / 2 - 0.5));
      const cx = clamp(x, w * by, this.width), cy = clamp(y, h * by, this.height);
      this.view = { x: cx - (w * by) / 2, y: cy - (h * by) / 2, w: w * by, h: h * by };
      this.svg.setAttribute("viewBox", `${this.view.x} ${this.view.y} ${this.view.w} ${this.view.h}`);
      this.acts.redraw?.();
    }
    // The part of the photo around some points, with a margin.
    around(points) {
      const [xs, ys] = [0, 1].map((k) => points.map((p) => p[k])), { w, h } = this.size();
      const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
      this.look((x0 + x1) / 2, (y0 + y1) / 2, 1.15 * Math.max((x1 - x0) / w, (y1 - y0) / h));
    }
    keepShape() { this.look(this.view.x + this.view.w / 2, this.view.y + this.view.h / 2, this.scale); }
    zoom(by, about = null) {
      const v = this.view, at = about || { x: v.x + v.w / 2, y: v.y + v.h / 2 }, scale = this.scale * by;
      const fx = (at.x - v.x) / v.w, fy = (at.y - v.y) / v.h, { w, h } = this.size();
      this.look(at.x + (0.5 - fx) * w * scale, at.y + (0.5 - fy) * h * scale, scale);
    }
    at(event) {
      const { left, top, w, h } = this.size();
      return this.inside({ x: this.view.x + ((event.clientX - left) / w) * this.view.w, y: this.view.y + ((event.clientY - top) / h) * this.view.h });
    }
    inside(p) { return { x: Math.min(Math.max(p.x, 0), this.width - 1), y: Math.min(Math.max(p.y, 0), this.height - 1) }; }
    down(event) {
      if (event.button > 0) return;
      this.surface.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, event);
      this.keyed = false;
      if (this.pointers.size === 1) {
        this.from = event;
        this.cursor = this.at(event);
        this.held = Boolean(this.acts.press?.(this.cursor, event.pointerType));
        if (this.held) this.magnify(this.cursor, event);
      } else if (this.pointers.size === 2) {
        if (this.held) this.acts.cancel?.();
        this.held = false;
        this.hide();
      }
    }
    moved(event) {
      const before = this.pointers.get(event.pointerId);
      if (!before) return;
      this.pointers.set(event.pointerId, event);
      if (this.pointers.size >= 2) {
        const [one, other] = [...this.pointers.values()];
        const middle = { clientX: (one.clientX + other.clientX) / 2, clientY: (one.clientY + other.clientY) / 2 };
        const wide = Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
        if (this.pinch) {
          this.pan(middle.clientX - this.pinch.middle.clientX, middle.clientY - this.pinch.middle.clientY);
          this.zoom(this.pinch.wide / Math.max(wide, 1), this.at(middle));
        }
        this.pinch = { middle, wide };
      } else if (this.held) {
        this.cursor = this.at(event);
        this.acts.drag?.(this.cursor);
        this.magnify(this.cursor, event);
      } else this.pan(event.clientX - before.clientX, event.clientY - before.clientY);
    }
    pan(dx, dy) {
      const s = this.scale;
      this.look(this.view.x + this.view.w / 2 - dx * s, this.view.y + this.view.h / 2 - dy * s, s);
    }
    up(event) {
      if (!this.pointers.delete(event.pointerId)) return;
      this.pinch = null;
      this.hide();
      const moved = this.from ? Math.hypot(event.clientX - this.from.clientX, event.clientY - this.from.clientY) > 6 : false;
      if (this.held) { if (event.type === "pointercancel") this.acts.cancel?.(); else this.acts.lift?.(this.at(event), moved); }
      else if (!moved && this.pointers.size === 0 && event.type === "pointerup") this.acts.tap?.(this.at(event));
      this.held = false;
      // A finger that stays after a pinch pans on from where it is.
      for (const [id, one] of this.pointers) this.pointers.set(id, one);
    }
    // What is under the finger, three times as large, on the other side of the photo.
    magnify(point, event) {
      if (!this.loupe || event.pointerType === "mouse") return;
      const { left, top, w } = this.size();
      this.loupe.hidden = false;
      this.loupe.classList.toggle("right", event.clientX - left < w / 2 && event.clientY - top < 220);
      const side = 152 * this.scale / 3;
      this.glass.setAttribute("viewBox", `${point.x - side / 2} ${point.y - side / 2} ${side} ${side}`);
      this.glassLines.replaceChildren(...[...this.lines.childNodes].filter((one) => one.tagName === "path").map((one) => one.cloneNode(true)));
      this.cross.setAttribute("d", `M${point.x - side / 2} ${point.y}H${point.x + side / 2}M${point.x} ${point.y - side / 2}V${point.y + side / 2}`);
    }
    hide() { if (this.loupe) this.loupe.hidden = true; }
    key(event) {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (this.acts.key?.(event, steps)) { event.preventDefault(); return; }
      if (steps) {
        const far = (event.shiftKey ? 40 : 6) * this.scale;
        this.keyed = true;
        this.cursor = this.inside({ x: this.cursor.x + steps[0] * far, y: this.cursor.y + steps[1] * far });
        this.follow();
      } else if (event.key === "+" || event.key === "=") this.zoom(0.6, this.cursor);
      else if (event.key === "-") this.zoom(1 / 0.6, this.cursor);
      else if (event.key === "Enter" || event.key === " ") { this.keyed = true; this.acts.set?.(this.cursor); }
      else return;
      event.preventDefault();
      this.acts.redraw?.();
    }
    // Keeps the mark of the keyboard in sight.
    follow(point = this.cursor) {
      const v = this.view;
      if (point.x < v.x || point.y < v.y || point.x > v.x + v.w || point.y > v.y + v.h) this.look(point.x, point.y, this.scale);
    }
    clear() { this.lines.replaceChildren(); }
    line(points, { colour, width = 2, closed = false, dash = "", rim = true, opacity = 1 }) {
      if (!points.length) return;
      const d = `M${points.map((p) => `${p[0]} ${p[1]}`).join("L")}${closed ? "Z" : points.length === 1 ? `L${points[0][0]} ${points[0][1]}` : ""}`;
      const common = { d, "vector-effect": "non-scaling-stroke", opacity };
      if (rim) make("path", { ...common, stroke: "#000", "stroke-opacity": 0.6, "stroke-width": width + 2, "stroke-dasharray": dash }, this.lines);
      make("path", { ...common, stroke: colour, "stroke-width": width, "stroke-dasharray": dash }, this.lines);
    }
    dot(x, y, { r = 6, fill = "#fff", stroke = "#000", width = 2 }) {
      make("circle", { cx: x, cy: y, r: r * this.scale, fill, stroke, "stroke-width": width, "vector-effect": "non-scaling-stroke" }, this.lines);
    }
    mark() {
      if (!this.keyed) return;
      const s = 14 * this.scale, { x, y } = this.cursor;
      this.line([[x - s, y], [x + s, y]], { colour: "#fff", width: 2 });
      this.line([[x, y - s], [x, y + s]], { colour: "#fff", width: 2 });
    }
  }
  window.Drawing = Drawing;
})();
