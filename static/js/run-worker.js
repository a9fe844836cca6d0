// Stands between the run sheets of one site and the line: the line first, and the copy where there
// is none. Only GETs of run sheets and static files are looked at; everything else goes its way
// untouched.
//
// Some browsers take no modules as a worker: the house makes one program of this file and of what
// it imports (sites/web/offline.py), and puts RELEASE before it: the release's name, its files, the
// path of static files, the page for a sheet that is not kept and its policy.
import { sheetOf } from "./run-addresses.js";
import { clear, dropCopies, findCopy, findFile, keepCopy, keepFiles, sweep } from "./run-shelf.js";

const PATIENCE = 3000; // ms for a line that hangs, before what is kept is shown
const HURRY = 200; // ms, just after the line was found to hang or gone: a page asks for many files
const AWAY = [502, 503, 504]; // some network between may still answer when the house does not
const START = new URL(self.registration.scope).pathname;
let lost = 0; // when the line was found to hang or gone

function nothing() {
  // what was tried could not be done, and nothing depends on it
}

// What the house says when one may not look: the copies go. Of a step that is no longer asked, the
// sheet is asked.
async function judge(answer, sheet, path) {
  if (answer.type === "opaqueredirect" || answer.status === 401) return clear("");
  if (![403, 404].includes(answer.status)) return undefined;
  if (path === sheet || path === `${sheet}whole`) return dropCopies(START);
  const whole = await fetch(`${sheet}whole?counter=`, { redirect: "manual" });
  return judge(whole, sheet, sheet);
}

async function keep(answer, sheet) {
  const person = answer.headers.get("Deskwright-Person");
  const release = answer.headers.get("Deskwright-Release");
  // A page of another release needs other files: the next worker keeps both.
  if (answer.status !== 200 || !person || release !== RELEASE.name) return;
  await keepFiles(RELEASE.name, RELEASE.files);
  await keepCopy(sheet, answer, person, release);
}

// Answered once it is kept: the page then knows what it may promise. Where there is no room for it
// the page goes on as one that is not kept.
async function whole(event, sheet, path) {
  const answer = await fetch(event.request);
  await judge(answer, sheet, path).catch(nothing);
  await keep(answer.clone(), sheet).catch(nothing);
  return answer;
}

// The line's answer; null where what is kept must do.
async function inTime(asked, kept) {
  const wasLostLately = Date.now() - lost < 10 * PATIENCE;
  const late = new Promise((resolve) => {
    if (kept) setTimeout(resolve, wasLostLately ? HURRY : PATIENCE, null);
  });
  const answer = await Promise.race([asked.catch(() => null), late]);
  const isAway = !answer || AWAY.includes(answer.status);
  lost = isAway ? Date.now() : 0;
  return kept && isAway ? null : answer;
}

async function page(event, sheet, path) {
  const copy = await findCopy(sheet);
  const asked = fetch(event.request);
  event.waitUntil(asked.then((answer) => judge(answer, sheet, path)).catch(nothing));
  return (await inTime(asked, copy)) || copy || noLine();
}

function noLine() {
  const headers = {
    "Content-Type": "text/html; charset=utf-8",
    "Content-Security-Policy": RELEASE.policy,
  };
  return new Response(RELEASE.noLine, { status: 503, headers });
}

async function file(event, path) {
  const kept = await findFile(RELEASE.name, path);
  const answer = await inTime(fetch(event.request), kept);
  if (answer && (answer.ok || !kept)) return answer;
  return kept || Response.error();
}

async function install() {
  await keepFiles(RELEASE.name, RELEASE.files);
  await self.skipWaiting();
}

async function activate() {
  await sweep(RELEASE.name);
  await self.clients.claim();
}

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
// A page that came past a worker already at work (reloaded by force; signed out and in again) asks
// to be taken in.
self.addEventListener("message", (event) => {
  if (event.data === "take me in") event.waitUntil(self.clients.claim());
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  const sheet = sheetOf(START, pathname);
  if (pathname.startsWith(RELEASE.static)) event.respondWith(file(event, pathname));
  else if (sheet && pathname === `${sheet}whole`) event.respondWith(whole(event, sheet, pathname));
  else if (sheet && request.mode === "navigate") event.respondWith(page(event, sheet, pathname));
});
