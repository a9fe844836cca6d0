// The shelf: copies of run sheets that open without a line, each for one person and for some days, and the files
// they need. The worker puts them there; every page of the house takes away what is somebody else's.
(function () {
  "use strict";
  // From the last look at the office to the days after the one on site; longer, and a lost telephone or an
  // overtaken plan weighs more than a sheet that opens.
  const DAYS = 7;
  const COPIES = "deskwright-run-for-"; // and whose
  const FILES = "deskwright-run-files-"; // and of which release
  // A copy is a page like any other: what guards a page guards it.
  const GUARDS = ["Content-Type", "Content-Security-Policy", "Referrer-Policy", "X-Content-Type-Options",
    "X-Frame-Options", "Cross-Origin-Opener-Policy"];

  async function named(start) {
    return (await caches.keys()).filter((name) => name.startsWith(start));
  }

  function until(copy) {
    return Number(copy.headers.get("Kept-At")) + DAYS * 86400000;
  }

  const unwanted = (copy) => copy.headers.has("Kept-Not"); // only a sign that no copy is wanted here

  // Every copy there is, as [its shelf, its address, the copy].
  async function all() {
    const found = [];
    for (const name of await named(COPIES)) {
      const shelf = await caches.open(name);
      for (const address of await shelf.keys()) found.push([shelf, address, await shelf.match(address)]);
    }
    return found.filter(([, , copy]) => copy);
  }

  // The copy of a run sheet that may still be shown.
  async function find(sheet) {
    for (const name of await named(COPIES)) {
      const copy = await (await caches.open(name)).match(sheet);
      if (copy && !unwanted(copy) && Date.now() < until(copy)) return copy;
    }
    return null;
  }

  async function keep(sheet, answer, person, release) {
    await clear(person);
    const shelf = await caches.open(COPIES + person);
    const old = await shelf.match(sheet);
    if (old && unwanted(old)) return;
    const headers = new Headers({ "Kept-At": String(Date.now()), "Kept-Release": release });
    GUARDS.filter((name) => answer.headers.has(name)).forEach((name) => headers.set(name, answer.headers.get(name)));
    await shelf.put(sheet, new Response(await answer.blob(), { headers }));
    await sweep(release);
  }

  // Takes everything away whose address begins so: a site where one may no longer look.
  async function drop(start) {
    for (const [shelf, address] of await all()) {
      if (new URL(address.url).pathname.startsWith(start)) await shelf.delete(address);
    }
  }

  // Leaves copies to one person alone; to nobody: nothing of run sheets stays on the device.
  async function clear(person) {
    const strange = (await named(COPIES)).filter((name) => name !== COPIES + person);
    if (!person) strange.push(...await named(FILES));
    await Promise.all(strange.map((name) => caches.delete(name)));
    if (person || !self.navigator.serviceWorker) return;
    const workers = await navigator.serviceWorker.getRegistrations();
    await Promise.all(workers.map((worker) => worker.unregister()));
  }

  // Takes away copies that are too old, and the files that no copy needs any more but those of this release.
  async function sweep(release) {
    const used = new Set([FILES + release]);
    for (const [shelf, address, copy] of await all()) {
      if (unwanted(copy)) continue;
      if (Date.now() < until(copy)) used.add(FILES + copy.headers.get("Kept-Release"));
      else await shelf.delete(address);
    }
    if (!release) return;
    await Promise.all((await named(FILES)).filter((name) => !used.has(name)).map((name) => caches.delete(name)));
  }

  // All files of a release, or the promise fails: a copy without them would be no page.
  async function keepFiles(release, addresses) {
    const shelf = await caches.open(FILES + release);
    if ((await shelf.keys()).length >= addresses.length) return;
    await shelf.addAll(addresses.map((address) => new Request(address, { cache: "no-cache" })));
  }

  async function findFile(release, address) {
    for (const name of [FILES + release, ...await named(FILES)]) {
      const file = await (await caches.open(name)).match(address, { ignoreVary: true });
      if (file) return file;
    }
    return null;
  }

  // How one's own copy of a sheet stands on this device.
  async function standing(sheet, person) {
    if (!await caches.has(COPIES + person)) return { until: 0, wanted: true };
    const copy = await (await caches.open(COPIES + person)).match(sheet);
    if (!copy) return { until: 0, wanted: true };
    return unwanted(copy) ? { until: 0, wanted: false } : { until: until(copy), wanted: true };
  }

  async function want(sheet, person, wanted) {
    const shelf = await caches.open(COPIES + person);
    if (wanted) await shelf.delete(sheet);
    else await shelf.put(sheet, new Response("", { headers: { "Kept-Not": "yes" } }));
  }

  self.deskwrightShelf = { find, keep, drop, clear, sweep, keepFiles, findFile, standing, want };

  // On a page: signing out empties the shelf, and so does a page for somebody else. A page that does not know for
  // whom it is (the house is broken) changes nothing. Over plain HTTP there is no shelf at all.
  if (!self.document || !self.caches) return;
  const quietly = (work) => work.catch(() => { /* a private window: nothing was ever kept */ });
  document.addEventListener("submit", (event) => {
    if (event.target.matches("form[action$='/logout/']")) quietly(clear(""));
  });
  const person = document.body.dataset.person;
  if (person !== undefined) quietly(clear(person).then(() => sweep("")));
}());
