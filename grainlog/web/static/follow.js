"use strict";
// Follows what is being measured: the list of all that wait, or the page of one photo.
(() => {
  const list = document.getElementById("waiting"), one = document.getElementById("follow");
  const url = (list || one || { dataset: {} }).dataset.stateUrl;
  if (!url) return;
  let before = "", timer = 0;
  const look = async () => {
    clearTimeout(timer);
    if (!document.hidden) {
      try {
        const answer = await fetch(url, { headers: { Accept: "application/json" }, cache: "no-store" });
        if (answer.ok) show((await answer.json()).photos);
      } catch { /* no connection: asked again */ }
    }
    timer = setTimeout(look, 1500);
  };
  const show = async (photos) => {
    if (one) {
      const now = photos[one.dataset.number];
      if (!now || now[0] !== "waiting") { clearTimeout(timer); location.reload(); return; }
      if (now[1]) document.getElementById("step").textContent = now[1];
      return;
    }
    const now = JSON.stringify(photos);
    if (now === before) return;
    const first = before === "";
    before = now;
    if (first && Object.values(photos).every((photo) => photo[0] !== "waiting") && !Number(list.dataset.open)) return;
    const page = await fetch(location.href, { cache: "no-store" });
    if (!page.ok) return;
    const fresh = new DOMParser().parseFromString(await page.text(), "text/html").getElementById("waiting");
    if (fresh && !list.contains(document.activeElement)) list.replaceChildren(...fresh.childNodes);
  };
  document.addEventListener("photo-arrived", look);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
  look();
})();
