// The wall grows as it is scrolled, and tops are laid on slabs as they come into view. Without this the wall has a
// "More slabs" link and everything else. Who comes back from a slab finds the wall as long as it was, at the same place.
"use strict";
(() => {
  const boards = document.getElementById("boards");
  if (!boards) return;
  const ruler = document.querySelector(".ruler");
  const told = document.querySelector(".told-line [role=status]");

  // The ruler's rows are as high as the slabs' rows, whatever size of letters the visitor has.
  function fitRuler() {
    const first = boards.firstElementChild;
    if (first) ruler.querySelector("pattern").setAttribute("height", first.getBoundingClientRect().height);
  }

  const waiting = new Set();
  let laying = false;
  const inView = new IntersectionObserver((seen) => {
    for (const one of seen) one.isIntersecting ? waiting.add(one.target) : waiting.delete(one.target);
    layNext();
  }, { rootMargin: "300px" });

  function watch(items) {
    for (const item of items) if (item.dataset.number) inView.observe(item);
  }

  async function layNext() {
    if (laying || waiting.size === 0) return;
    laying = true;
    const some = [...waiting].slice(0, 3);
    for (const item of some) { waiting.delete(item); inView.unobserve(item); }
    const asked = new URLSearchParams(location.search);
    for (const item of some) asked.append("slab", item.dataset.number);
    try {
      const fresh = items(await fetched(`/wall/laid?${asked}`));
      const byAddress = new Map(fresh.map((item) => [item.firstElementChild.getAttribute("href"), item]));
      for (const item of some) {
        const other = byAddress.get(item.firstElementChild.getAttribute("href"));
        if (!other) continue;
        const held = item.contains(document.activeElement);
        item.replaceWith(other);
        if (held) other.firstElementChild.focus();
      }
    } catch { /* Stays "not tried yet"; the slab's own link still works. */ }
    laying = false;
    layNext();
  }

  async function fetched(address) {
    const answer = await fetch(address, { headers: { Accept: "text/html" } });
    if (!answer.ok) throw new Error(String(answer.status));
    next = answer.headers.get("X-Wall-Next") ?? (address.includes("/more") ? null : next);
    const said = answer.headers.get("X-Wall-Told");
    if (said) told.textContent = said;
    return answer.text();
  }

  function items(html) {
    const made = document.createElement("template");
    made.innerHTML = html;
    return [...made.content.children];
  }

  const more = document.getElementById("more");
  let next = more ? more.dataset.part : null;
  let fetching = false;
  async function grow(missing = 0) {
    if (fetching || !next) return;
    fetching = true;
    try {
      const fresh = items(await fetched(missing > 0 ? `${next}&count=${missing}` : next));
      boards.append(...fresh);
      watch(fresh);
      if (!next) { ends.disconnect(); more?.parentElement.remove(); }
    } catch { ends.disconnect(); } // The link stays.
    fetching = false;
    if (missing > 0) return;
    if (next && more.getBoundingClientRect().top < innerHeight + 3000) grow(); // Well beyond where the observer looks, so that it sees the link leave and come back.
  }
  const ends = new IntersectionObserver((seen) => { if (seen.some((one) => one.isIntersecting)) grow(); }, { rootMargin: "1500px" });
  if (more) {
    more.addEventListener("click", (event) => { event.preventDefault(); grow(); });
  }

  // Where somebody was, by what was asked of the wall; the tab forgets it when it is closed.
  const KEY = `wall${location.search}`;
  const keep = () => {
    const open = document.activeElement?.closest?.("#boards a")?.getAttribute("href") ?? null;
    try { sessionStorage.setItem(KEY, JSON.stringify({ slabs: boards.children.length, y: scrollY, open })); } catch { /* not kept */ }
  };
  async function comeBack() {
    let was = null;
    try { was = JSON.parse(sessionStorage.getItem(KEY)); } catch { /* never here */ }
    const how = performance.getEntriesByType("navigation")[0]?.type;
    if (was && (how === "back_forward" || how === "reload")) {
      for (let before = -1; next && boards.children.length > before && boards.children.length < was.slabs;) {
        before = boards.children.length;
        await grow(was.slabs - before);
      }
      if (was.open) boards.querySelector(`a[href="${CSS.escape(was.open)}"]`)?.focus({ preventScroll: true });
      scrollTo(0, was.y);
    }
    addEventListener("pagehide", keep);
    document.addEventListener("visibilitychange", keep);
    if (more) ends.observe(more);
    boards.dataset.ready = "yes";
  }
  history.scrollRestoration = "manual";

  const first = [...boards.children];
  fitRuler();
  watch(first);
  addEventListener("resize", fitRuler);
  comeBack();
})();
