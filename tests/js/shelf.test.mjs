import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import {
  clear,
  dropCopies,
  findCopy,
  findFile,
  keepCopy,
  keepFiles,
  standing,
  sweep,
  want,
} from "../../static/js/run-shelf.js";
import { Caches, Clock, HOUSE, put } from "./fakes.mjs";

const NOW = Date.UTC(2026, 10, 30, 12);
const DAY = 86400000;
const SHEET = "/at/larkfield/mill/run/1/";
const OTHER = "/at/larkfield/bench/run/1/";
const { fetch } = globalThis;

let clock;
let fetched;

function page(headers = {}) {
  return new Response("<h1>1 Ground</h1>", {
    headers: { "Content-Type": "text/html", ...headers },
  });
}

function copiesOf(person) {
  return `deskwright-run-for-${person}`;
}

function filesOf(release) {
  return `deskwright-run-files-${release}`;
}

beforeEach(() => {
  clock = new Clock(NOW);
  fetched = [];
  put("caches", new Caches());
  put("fetch", async (request) => {
    fetched.push(new URL(request.url).pathname);
    return new Response("x", { status: request.url.includes("gone") ? 404 : 200 });
  });
});

afterEach(() => {
  clock.end();
  put("fetch", fetch);
  put("navigator", undefined);
});

test("a copy is a page with what guards it, and nothing of whoever asked", async () => {
  const headers = {
    "Content-Security-Policy": "default-src 'none'",
    "Set-Cookie": "sessionid=x",
    "Deskwright-Person": "7",
  };
  await keepCopy(SHEET, page(headers), "7", "r1");
  const copy = await findCopy(SHEET);
  assert.equal(await copy.text(), "<h1>1 Ground</h1>");
  assert.equal(copy.headers.get("Content-Security-Policy"), "default-src 'none'");
  assert.equal(copy.headers.get("Content-Type"), "text/html");
  assert.equal(copy.headers.get("Kept-Release"), "r1");
  assert.equal(copy.headers.has("Set-Cookie"), false);
  assert.equal(copy.headers.has("Deskwright-Person"), false);
});

test("a copy is shown for seven days", async () => {
  await keepCopy(SHEET, page(), "7", "r1");
  assert.deepEqual(await standing(SHEET, "7"), { until: NOW + 7 * DAY, wanted: true });
  clock.now = NOW + 7 * DAY - 1;
  assert.notEqual(await findCopy(SHEET), null);
  clock.now = NOW + 7 * DAY;
  assert.equal(await findCopy(SHEET), null);
});

test("copies are one person's: the next one's push them out", async () => {
  await keepCopy(SHEET, page(), "7", "r1");
  await keepCopy(OTHER, page(), "8", "r1");
  assert.deepEqual(await caches.paths(), { [copiesOf("8")]: [OTHER] });
  assert.equal(await findCopy(SHEET), null);
});

test("a page for somebody takes away the copies of all others", async () => {
  await keepCopy(SHEET, page(), "7", "r1");
  await clear("7");
  assert.notEqual(await findCopy(SHEET), null);
  await clear("77"); // no name is the beginning of another
  assert.deepEqual(await caches.paths(), {});
});

test("signing out leaves nothing, neither files nor the worker", async () => {
  let gone = 0;
  const worker = {
    unregister: async () => {
      gone += 1;
    },
  };
  put("navigator", { serviceWorker: { getRegistrations: async () => [worker, worker] } });
  await keepCopy(SHEET, page(), "7", "r1");
  await keepFiles("r1", [`${HOUSE}/static/js/run.js`]);
  await (await caches.open("of-somebody-else")).put("/x", page());
  await clear("");
  assert.deepEqual(await caches.paths(), { "of-somebody-else": ["/x"] });
  assert.equal(gone, 2);
});

test("who may not look any more loses the copies of that site", async () => {
  await keepCopy(SHEET, page(), "7", "r1");
  await keepCopy(OTHER, page(), "7", "r1");
  await dropCopies("/at/larkfield/mill/run/");
  assert.deepEqual(await caches.paths(), { [copiesOf("7")]: [OTHER] });
});

test("old copies go, and the files that only they needed", async () => {
  await keepFiles("r1", [`${HOUSE}/static/1.js`]);
  await keepCopy(SHEET, page(), "7", "r1");
  clock.now = NOW + 3 * DAY;
  await keepFiles("r2", [`${HOUSE}/static/2.js`]);
  await keepCopy(OTHER, page(), "7", "r2");
  assert.deepEqual(await caches.paths(), {
    [filesOf("r1")]: ["/static/1.js"],
    [filesOf("r2")]: ["/static/2.js"],
    [copiesOf("7")]: [SHEET, OTHER],
  });
  clock.now = NOW + 8 * DAY;
  await sweep("r3");
  assert.deepEqual(await caches.paths(), {
    [filesOf("r2")]: ["/static/2.js"],
    [copiesOf("7")]: [OTHER],
  });
});

test("files that no copy needs go with the next copy", async () => {
  await keepFiles("r1", [`${HOUSE}/static/1.js`]);
  await keepFiles("r2", [`${HOUSE}/static/2.js`]);
  await keepCopy(SHEET, page(), "7", "r2");
  assert.equal(await caches.has(filesOf("r1")), false);
  assert.equal(await caches.has(filesOf("r2")), true);
});

test("a page, which knows of no release, leaves the files alone", async () => {
  await keepFiles("r1", [`${HOUSE}/static/js/run.js`]);
  await keepCopy(SHEET, page(), "7", "r1");
  clock.now = NOW + 8 * DAY;
  await sweep("");
  assert.deepEqual(await caches.paths(), {
    [filesOf("r1")]: ["/static/js/run.js"],
    [copiesOf("7")]: [],
  });
});

test("a release's files are fetched once, and all of them", async () => {
  const addresses = [`${HOUSE}/static/a.js`, `${HOUSE}/static/b.js`];
  await keepFiles("r1", addresses);
  await keepFiles("r1", addresses);
  assert.deepEqual(fetched, ["/static/a.js", "/static/b.js"]);
  await assert.rejects(keepFiles("r2", [`${HOUSE}/static/gone.js`]));
});

test("a file is taken from one's own release first, then from another", async () => {
  const old = await caches.open(filesOf("r1"));
  const own = await caches.open(filesOf("r2"));
  await old.put("/static/run.js", new Response("old"));
  assert.equal(await (await findFile("r2", "/static/run.js")).text(), "old");
  await own.put("/static/run.js", new Response("own"));
  assert.equal(await (await findFile("r2", "/static/run.js")).text(), "own");
  assert.equal(await findFile("r2", "/static/none.js"), null);
});

test("a copy that is not wanted is taken away and not made again", async () => {
  await keepCopy(SHEET, page(), "7", "r1");
  await want(SHEET, "7", false);
  assert.deepEqual(await standing(SHEET, "7"), { until: 0, wanted: false });
  await keepCopy(SHEET, page(), "7", "r1");
  assert.equal(await findCopy(SHEET), null);
  await want(SHEET, "7", true);
  assert.deepEqual(await standing(SHEET, "7"), { until: 0, wanted: true });
  await keepCopy(SHEET, page(), "7", "r1");
  assert.notEqual(await findCopy(SHEET), null);
});

test("that none is wanted is not forgotten with the old copies", async () => {
  await want(SHEET, "7", false);
  clock.now = NOW + 30 * DAY;
  await sweep("r1");
  assert.deepEqual(await standing(SHEET, "7"), { until: 0, wanted: false });
});

test("one's own copy is nobody else's", async () => {
  await keepCopy(SHEET, page(), "7", "r1");
  assert.deepEqual(await standing(SHEET, "8"), { until: 0, wanted: true });
  assert.deepEqual(await caches.keys(), [copiesOf("7")]); // asking leaves nothing behind
});
