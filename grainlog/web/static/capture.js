"use strict";
// Photos go in parts. They stay in this browser's own store until the yard has said that it has them, so a lost
// connection, a locked screen or a closed page costs nothing but time.
(() => {
  const form = document.getElementById("shoot");
  if (!form) return;
  const url = form.dataset.partUrl, PART = Number(form.dataset.part), LARGEST = Number(form.dataset.largest);
  const token = document.querySelector('meta[name="form-token"]').content;
  const box = document.getElementById("sending"), queue = document.getElementById("queue"), paused = document.getElementById("pause");
  const rows = new Map(), memory = new Map();
  let sending = false, pause = 1000, timer = 0;

  document.documentElement.classList.add("scripted");
  for (const way of form.querySelectorAll(".way[hidden]")) way.hidden = false;

  const opened = new Promise((resolve) => {
    try {
      const asked = indexedDB.open("grainlog-photos", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("photos", { keyPath: "key" });
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => resolve(null);
    } catch { resolve(null); }
  });
  // A browser that keeps nothing (a private window) holds the photos in memory.
  const store = async (mode, act, instead) => {
    const db = await opened;
    if (!db) return instead();
    return new Promise((resolve, reject) => {
      const change = db.transaction("photos", mode), asked = act(change.objectStore("photos"));
      change.oncomplete = () => resolve(asked.result);
      change.onabort = change.onerror = () => reject(change.error);
    }).catch(instead);
  };
  const keep = (photo) => store("readwrite", (photos) => photos.put(photo), () => { memory.set(photo.key, photo); });
  const forget = (key) => { memory.delete(key); return store("readwrite", (photos) => photos.delete(key), () => null); };
  const kept = async () => {
    const stored = await store("readonly", (photos) => photos.getAll(), () => []);
    return [...(stored || []), ...memory.values()].sort((a, b) => a.added - b.added);
  };

  const row = (photo) => {
    if (rows.has(photo.key)) return rows.get(photo.key);
    const item = document.createElement("li"), name = document.createElement("span"), bar = document.createElement("progress");
    name.textContent = photo.name;
    bar.max = photo.size;
    bar.value = 0;
    bar.setAttribute("aria-label", `${photo.name}, how much is sent`);
    item.append(name, bar);
    queue.append(item);
    box.hidden = false;
    const made = { item, bar, say: (text) => { item.className = "told-all"; item.textContent = text.includes(photo.name) ? text : `${photo.name}: ${text}`; },
      here: (text) => { made.say(text); setTimeout(() => { item.remove(); box.hidden = !queue.children.length; }, 4000); } };
    rows.set(photo.key, made);
    return made;
  };

  const add = async (files) => {
    const waiting = await kept();
    for (const file of files) {
      if (waiting.some((one) => one.name === file.name && one.size === file.size && one.taken === file.lastModified)) continue;
      const key = Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
      const photo = { key, name: file.name, size: file.size, taken: file.lastModified, added: Date.now(), blob: file };
      if (file.size > LARGEST || file.size === 0) { row(photo).say(file.size ? "too large: save it smaller, or as a JPEG" : "this file is empty"); continue; }
      await keep(photo);
      row(photo);
    }
    run(true);
  };

  class Refused extends Error {}
  const send = async (photo) => {
    const shown = row(photo);
    const headers = { "X-Form-Token": token, Accept: "application/json", "X-Photo-Key": photo.key };
    let at = null;
    for (;;) {
      if (at === null) {
        const asked = await fetch(url, { headers, cache: "no-store" });
        if (!asked.ok) throw new Error();
        at = (await asked.json()).at;
        if (at >= photo.size) at = 0;
      }
      shown.bar.value = at;
      const answer = await fetch(url, {
        method: "POST",
        body: photo.blob.slice(at, at + PART),
        headers: { ...headers, "Content-Type": "application/octet-stream", "X-Photo-Size": photo.size, "X-Photo-At": at,
          "X-Photo-Name": encodeURIComponent(photo.name), "X-Photo-Taken": photo.taken || 0 },
      });
      if (answer.status === 409) { at = (await answer.json()).at; continue; }
      if (answer.status === 403) throw new Refused("This page was open for too long, or the device is shut out: open it again; the photos are kept here.");
      const told = await answer.json();
      if (answer.status >= 500) throw new Error(told.problem);
      if (!answer.ok) { await forget(photo.key); shown.say(told.problem); return; }
      at = told.at;
      shown.bar.value = at;
      if (told.done) { await forget(photo.key); shown[told.twice ? "say" : "here"](told.said); return; }
    }
  };

  const tell = (text) => { paused.hidden = !text; paused.textContent = text || ""; };
  const run = async (now) => {
    if (now) pause = 1000;
    if (sending) return;
    sending = true;
    clearTimeout(timer);
    try {
      for (let photos = await kept(); photos.length; photos = await kept()) {
        let trouble = null;
        box.dataset.left = photos.length;
        for (const photo of photos) {
          try {
            await send(photo);
            pause = 1000;
            document.dispatchEvent(new Event("photo-arrived"));
          } catch (error) {
            // Without a connection the others cannot go either; what went wrong with one photo need not stop them.
            if (error instanceof Refused || error instanceof TypeError) throw error;
            trouble = error;
          }
        }
        if (trouble) throw trouble;
      }
      tell("");
      box.dataset.left = 0;
    } catch (error) {
      if (error instanceof Refused) tell(error.message);
      else {
        tell(`${error.message && !(error instanceof TypeError) ? error.message : "No connection to the yard."} The photos are kept here; trying again in ${Math.round(pause / 1000)} s.`);
        timer = setTimeout(run, pause);
        pause = Math.min(2 * pause, 60000);
      }
    } finally { sending = false; }
  };

  for (const input of form.querySelectorAll('input[type="file"]')) input.addEventListener("change", () => {
    const files = [...input.files];
    add(files).then(() => { input.value = ""; });
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  addEventListener("online", () => run(true));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) run(true); });
  kept().then((photos) => { photos.forEach(row); if (photos.length) run(true); });
})();
