// The shelf of run sheets that open without a line, each for one person and for some days, and the
// files they need. The worker puts them there; every page of the house takes away what is somebody
// else's.

// From the last look at the office to the days after the one on site; longer, and a lost telephone
// or an overtaken plan weighs more than a sheet that opens.
const DAYS = 7;
const DAY = 86400000; // ms
const COPIES = "deskwright-run-for-"; // and whose
const FILES = "deskwright-run-files-"; // and of which release

// A copy is a page like any other: what guards a page guards it.
const GUARDS = [
  "Content-Type",
  "Content-Security-Policy",
  "Referrer-Policy",
  "X-Content-Type-Options",
  "X-Frame-Options",
  "Cross-Origin-Opener-Policy",
];

async function shelvesNamed(start) {
  const names = await caches.keys();
  return names.filter((name) => name.startsWith(start));
}

function takeShelves(names) {
  return Promise.all(names.map((name) => caches.delete(name)));
}

function endOf(copy) {
  return Number(copy.headers.get("Kept-At")) + DAYS * DAY;
}

// Only a sign that no copy is wanted here.
function isUnwanted(copy) {
  return copy.headers.has("Kept-Not");
}

// Every copy there is, with its shelf and its address.
async function allCopies() {
  const found = [];
  for (const name of await shelvesNamed(COPIES)) {
    const shelf = await caches.open(name);
    for (const address of await shelf.keys()) {
      const copy = await shelf.match(address);
      if (copy) found.push({ shelf, address, copy });
    }
  }
  return found;
}

// The copy of a run sheet that may still be shown.
export async function findCopy(sheet) {
  for (const name of await shelvesNamed(COPIES)) {
    const shelf = await caches.open(name);
    const copy = await shelf.match(sheet);
    if (copy && !isUnwanted(copy) && Date.now() < endOf(copy)) return copy;
  }
  return null;
}

export async function keepCopy(sheet, answer, person, release) {
  await clear(person);
  const shelf = await caches.open(COPIES + person);
  const old = await shelf.match(sheet);
  if (old && isUnwanted(old)) return;
  const headers = new Headers({ "Kept-At": String(Date.now()), "Kept-Release": release });
  for (const name of GUARDS) {
    if (answer.headers.has(name)) headers.set(name, answer.headers.get(name));
  }
  await shelf.put(sheet, new Response(await answer.blob(), { headers }));
  await sweep(release);
}

// Takes every copy away whose address begins so: a site where one may no longer look.
export async function dropCopies(start) {
  for (const { shelf, address } of await allCopies()) {
    if (new URL(address.url).pathname.startsWith(start)) await shelf.delete(address);
  }
}

// Leaves copies to one person alone; to nobody: nothing of run sheets stays on the device.
export async function clear(person) {
  const shelves = await shelvesNamed(COPIES);
  await takeShelves(shelves.filter((name) => name !== COPIES + person));
  if (person) return;
  await takeShelves(await shelvesNamed(FILES));
  if (!globalThis.navigator?.serviceWorker) return;
  const workers = await navigator.serviceWorker.getRegistrations();
  await Promise.all(workers.map((worker) => worker.unregister()));
}

// Takes away copies that are too old, and the files that no copy needs any more but those of this
// release; a page, which knows of no release, leaves the files alone.
export async function sweep(release) {
  const used = new Set([FILES + release]);
  for (const { shelf, address, copy } of await allCopies()) {
    if (isUnwanted(copy)) continue;
    if (Date.now() < endOf(copy)) used.add(FILES + copy.headers.get("Kept-Release"));
    else await shelf.delete(address);
  }
  if (!release) return;
  const shelves = await shelvesNamed(FILES);
  await takeShelves(shelves.filter((name) => !used.has(name)));
}

// All files of a release, or the promise fails: a copy without them would be no page.
export async function keepFiles(release, addresses) {
  const shelf = await caches.open(FILES + release);
  const kept = await shelf.keys();
  if (kept.length >= addresses.length) return;
  await shelf.addAll(addresses.map((address) => new Request(address, { cache: "no-cache" })));
}

export async function findFile(release, address) {
  for (const name of [FILES + release, ...(await shelvesNamed(FILES))]) {
    const shelf = await caches.open(name);
    const file = await shelf.match(address, { ignoreVary: true });
    if (file) return file;
  }
  return null;
}

// How one's own copy of a sheet stands on this device.
export async function standing(sheet, person) {
  if (!(await caches.has(COPIES + person))) return { until: 0, wanted: true };
  const shelf = await caches.open(COPIES + person);
  const copy = await shelf.match(sheet);
  if (!copy) return { until: 0, wanted: true };
  if (isUnwanted(copy)) return { until: 0, wanted: false };
  return { until: endOf(copy), wanted: true };
}

export async function want(sheet, person, isWanted) {
  const shelf = await caches.open(COPIES + person);
  if (isWanted) await shelf.delete(sheet);
  else await shelf.put(sheet, new Response("", { headers: { "Kept-Not": "yes" } }));
}
