// Stands between the run sheets of one site and the line: the line first, and the copy where there is none.
// The house puts RELEASE and the shelf before this. Only GETs of run sheets and static files are looked at;
// everything else goes its way untouched.
(function () {
  "use strict";
  const shelf = self.deskwrightShelf;
  const PATIENCE = 3000; // ms for a line that hangs, before what is kept is shown
  const HURRY = 200; // ms, just after the line was found to hang or gone: a page asks for a dozen files
  let lost = 0; // when that was
  const start = new URL(self.registration.scope).pathname;

  // The address of the run sheet that an address belongs to, or "".
  function sheetOf(path) {
    const found = path.startsWith(start) && /^(\d+\/)(whole|[-\w]+\/[^/]+\/)?$/.exec(path.slice(start.length));
    return found ? start + found[1] : "";
  }

  // Some network between may still answer when the house does not.
  const away = (answer) => [502, 503, 504].includes(answer.status);

  // What the house says when one may not look: the copies go. Of a step that is no longer asked, the sheet is asked.
  async function judge(answer, sheet, path) {
    if (answer.type === "opaqueredirect" || answer.status === 401) return shelf.clear("");
    if (![403, 404].includes(answer.status)) return undefined;
    if (path === sheet || path === `${sheet}whole`) return shelf.drop(start);
    return judge(await fetch(`${sheet}whole?counter=`, { redirect: "manual" }), sheet, sheet);
  }

  async function keep(answer, sheet) {
    const person = answer.headers.get("Deskwright-Person");
    const release = answer.headers.get("Deskwright-Release");
    // A page of another release needs other files: the next worker keeps both.
    if (answer.status !== 200 || !person || release !== RELEASE.name) return;
    await shelf.keepFiles(RELEASE.name, RELEASE.files);
    await shelf.keep(sheet, answer, person, release);
  }

  // Answered once it is kept: the page then knows what it may promise.
  async function whole(event, sheet, path) {
    const answer = await fetch(event.request);
    await judge(answer, sheet, path).catch(() => { /* the page is shown anyway */ });
    await keep(answer.clone(), sheet).catch(() => { /* no room: this page goes on as one that is not kept */ });
    return answer;
  }

  // The line's answer; null where what is kept must do.
  async function inTime(asked, kept) {
    const patience = Date.now() - lost < 10 * PATIENCE ? HURRY : PATIENCE;
    const late = new Promise((resolve) => { if (kept) setTimeout(resolve, patience, null); });
    const answer = await Promise.race([asked.catch(() => null), late]);
    if (answer && !away(answer)) lost = 0;
    else lost = Date.now();
    return kept && answer && away(answer) ? null : answer;
  }

  async function page(event, sheet, path) {
    const copy = await shelf.find(sheet);
    const asked = fetch(event.request);
    event.waitUntil(asked.then((answer) => judge(answer, sheet, path)).catch(() => { /* no line */ }));
    return await inTime(asked, copy) || copy || noLine();
  }

  function noLine() {
    const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": RELEASE.policy };
    return new Response(RELEASE.noLine, { status: 503, headers });
  }

  async function file(event, path) {
    const kept = await shelf.findFile(RELEASE.name, path);
    const answer = await inTime(fetch(event.request), kept);
    return (answer && (answer.ok || !kept) ? answer : kept) || Response.error();
  }

  self.addEventListener("install", (event) => {
    event.waitUntil(shelf.keepFiles(RELEASE.name, RELEASE.files).then(() => self.skipWaiting()));
  });
  self.addEventListener("activate", (event) => {
    event.waitUntil(shelf.sweep(RELEASE.name).then(() => self.clients.claim()));
  });
  // A page that came past a worker already at work (reloaded by force; signed out and in again) asks to be taken in.
  self.addEventListener("message", (event) => {
    if (event.data === "take me in") event.waitUntil(self.clients.claim());
  });
  self.addEventListener("fetch", (event) => {
    const { request } = event;
    const { origin, pathname } = new URL(request.url);
    if (request.method !== "GET" || origin !== self.location.origin) return;
    const sheet = sheetOf(pathname);
    if (pathname.startsWith(RELEASE.static)) event.respondWith(file(event, pathname));
    else if (sheet && pathname === `${sheet}whole`) event.respondWith(whole(event, sheet, pathname));
    else if (sheet && request.mode === "navigate") event.respondWith(page(event, sheet, pathname));
  });
}());
