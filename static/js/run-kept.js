// What a device keeps of a run sheet until it is sent: answers, and photos made small enough to wait.
(function () {
  "use strict";
  const LONGEST = 2400; // pixels: a photo is made no larger before it waits here
  const NAME = "deskwright-unsent";

  function database() {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open(NAME, 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("unsent", { keyPath: "token" });
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }

  function inDatabase(mode, work) {
    return database().then((db) => new Promise((resolve, reject) => {
      const dealing = db.transaction("unsent", mode);
      const asked = work(dealing.objectStore("unsent"));
      dealing.oncomplete = () => { db.close(); resolve(asked.result); };
      dealing.onerror = dealing.onabort = () => { db.close(); reject(dealing.error); };
    }));
  }

  // Without a database (some private windows) words are kept as plain text, and photos only while the page is open.
  const plain = {
    read() { try { return JSON.parse(localStorage.getItem(NAME)) || []; } catch { return []; } },
    write(entries) { try { localStorage.setItem(NAME, JSON.stringify(entries)); } catch { /* nothing can be kept */ } },
  };

  async function keep(entry) {
    try {
      await inDatabase("readwrite", (shelf) => shelf.put(entry));
    } catch {
      plain.write([...plain.read().filter((old) => old.token !== entry.token), { ...entry, blobs: [] }]);
    }
  }

  async function drop(entry) {
    plain.write(plain.read().filter((old) => old.token !== entry.token));
    try { await inDatabase("readwrite", (shelf) => shelf.delete(entry.token)); } catch { /* it was never there */ }
  }

  async function kept() {
    let found = plain.read();
    try { found = [...found, ...await inDatabase("readonly", (shelf) => shelf.getAll())]; } catch { /* as above */ }
    const known = new Map(found.map((entry) => [entry.token, entry]));
    return [...known.values()].sort((a, b) => a.at - b.at);
  }

  // How many wait. Where the device cannot say, the promise fails: kept() would name those it knows of.
  async function counted() {
    return plain.read().length + await inDatabase("readonly", (shelf) => shelf.count());
  }

  function newToken() { // randomUUID is missing where the page came over plain HTTP
    return [...crypto.getRandomValues(new Uint8Array(18))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  async function smaller(file) {
    if (!/^image\//.test(file.type) || !window.createImageBitmap) return file;
    try {
      const picture = await createImageBitmap(file);
      const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(picture.width * scale);
      canvas.height = Math.round(picture.height * scale);
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      const made = await new Promise((resolve) => { canvas.toBlob(resolve, "image/jpeg", 0.85); });
      return made && made.size < file.size ? made : file;
    } catch { return file; }
  }

  window.deskwrightKept = { keep, drop, kept, counted, newToken, smaller };
}());
