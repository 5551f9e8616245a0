"use strict";
// The shapes of the mending page: rings and paths of [x, y], in px of what is drawn on. Nothing here touches the page.
window.Shape = (() => {
  const apart = (p, q) => Math.hypot(p[0] - q.x, p[1] - q.y);

  // How far a point is from a path.
  const along = (path, p) => {
    let least = Infinity;
    for (let k = 1; k < path.length; k += 1) {
      const [a, b] = [path[k - 1], path[k]], dx = b[0] - a[0], dy = b[1] - a[1];
      const t = Math.min(Math.max(((p.x - a[0]) * dx + (p.y - a[1]) * dy) / Math.max(dx * dx + dy * dy, 1e-9), 0), 1);
      least = Math.min(least, Math.hypot(p.x - a[0] - t * dx, p.y - a[1] - t * dy));
    }
    return least;
  };
  const thin = (path) => path.filter((p, k) => k === 0 || k === path.length - 1 || Math.hypot(p[0] - path[k - 1][0], p[1] - path[k - 1][1]) > 2);

  // A ring held at one of its handles: how far it goes to the handles on both sides.
  const held = (given, handles, place) => {
    const ring = given.map((p) => [...p]), n = ring.length, at = handles[place];
    const way = (to, by) => {
      const path = [at], length = [0];
      for (let q = at; q !== to || path.length === 1;) {
        const next = (q + by + n) % n;
        length.push(length[length.length - 1] + Math.hypot(ring[next][0] - ring[q][0], ring[next][1] - ring[q][1]));
        path.push(next);
        q = next;
      }
      return { path, length };
    };
    const count = handles.length;
    return { ring, at, low: way(handles[(place - 1 + count) % count], -1), high: way(handles[(place + 1) % count], 1) };
  };
  // Pulled to a point, the edge goes along between the handles on both sides, less the farther it is; so its small shape stays.
  const pull = (target, hold, p) => {
    const { ring, at, low, high } = hold, dx = p.x - ring[at][0], dy = p.y - ring[at][1];
    for (const { path, length } of [low, high]) {
      const whole = Math.max(length[length.length - 1], 1e-9);
      path.forEach((q, k) => { const t = 1 - length[k] / whole, s = t * t * (3 - 2 * t); target[q] = [ring[q][0] + s * dx, ring[q][1] + s * dy]; });
    }
    target[at] = [p.x, p.y];
  };
  // The ring goes straight from one of its points to another.
  const straighten = (ring, from, to) => {
    const n = ring.length, count = (to - from + n) % n, [a, b] = [ring[from], ring[to]];
    for (let k = 1; k < count; k += 1) { const t = k / count; ring[(from + k) % n] = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]; }
  };

  // Every path in some states of the page, each once, and the same states with other paths in their place.
  const pathsOf = (states) => {
    const found = new Map(), note = (path) => { if (path) found.set(JSON.stringify(path), path); };
    for (const state of states) {
      note(state.ring);
      state.checks.forEach((check) => note(check.path));
      Object.values(state.dabs).forEach((strokes) => strokes.forEach(note));
    }
    return found;
  };
  const moved = (state, by) => {
    const to = (path) => by.get(JSON.stringify(path)).map((p) => [...p]);
    const dabs = Object.fromEntries(Object.entries(state.dabs).map(([name, strokes]) => [name, strokes.map(to)]));
    return { ...state, ring: to(state.ring), dabs, checks: state.checks.map((check) => ({ ...check, path: to(check.path) })) };
  };
  return { apart, along, thin, held, pull, straighten, pathsOf, moved };
})();
