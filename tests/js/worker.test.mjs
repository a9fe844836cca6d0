// The worker itself, with a line that can be cut.
import assert from "node:assert/strict";
import { afterEach, before, beforeEach, test } from "node:test";
import { sheetOf } from "../../static/js/run-addresses.js";
import { Caches, HOUSE, put, settled } from "./fakes.mjs";

const START = "/at/larkfield/mill/run/";
const SHEET = `${START}1/`;
const STEP = `${SHEET}check/scope-agreed/`;
const KEPT = { "Deskwright-Person": "7", "Deskwright-Release": "r1" };
const COPIES = "deskwright-run-for-7";
const RELEASE = {
  name: "r1",
  files: [`${HOUSE}/static/js/run.js`],
  static: "/static/",
  policy: "default-src 'none'",
  noLine: "<h1>No line</h1>",
};

const setTimeoutOfNode = globalThis.setTimeout;
const handlers = {};
let line; // what the house, or something between, answers to a path
let patience; // ms that were granted to the line

async function fetchByLine(asked) {
  const { pathname } = new URL(typeof asked === "string" ? asked : asked.url, HOUSE);
  const given = await line(pathname);
  if (given instanceof Error) throw given;
  return given;
}

function house(status = 200, headers = {}) {
  return () => new Response("from the house", { status, headers });
}

function cut() {
  return new TypeError("Failed to fetch");
}

function hang() {
  return new Promise(() => undefined);
}

// What the worker answers; undefined where it lets the request go its way.
async function asked(path, { method = "GET", mode = "cors", origin = HOUSE } = {}) {
  const work = [];
  let answer;
  await handlers.fetch({
    request: { url: origin + path, method, mode },
    respondWith: (promise) => {
      answer = promise;
    },
    waitUntil: (promise) => work.push(promise),
  });
  const given = await answer;
  await Promise.race([Promise.all(work), settled()]);
  return given;
}

function opened(path) {
  return asked(path, { mode: "navigate" });
}

async function textOf(answer) {
  return (await answer).text();
}

async function keepSheet() {
  line = house(200, KEPT);
  await asked(`${SHEET}whole`);
}

before(async () => {
  put("self", {
    registration: { scope: HOUSE + START },
    location: { origin: HOUSE },
    addEventListener: (name, handler) => {
      handlers[name] = handler;
    },
    skipWaiting: async () => undefined,
    clients: { claim: async () => undefined },
  });
  put("RELEASE", RELEASE);
  put("fetch", fetchByLine);
  await import("../../static/js/run-worker.js");
});

beforeEach(async () => {
  put("caches", new Caches());
  put("setTimeout", (work, ms, ...given) => {
    patience = ms;
    return setImmediate(work, ...given);
  });
  line = house();
  await opened(SHEET); // the line is there: what was before is forgotten
});

afterEach(() => put("setTimeout", setTimeoutOfNode));

test("addresses belong to the sheet of their stage", () => {
  assert.equal(sheetOf(START, SHEET), SHEET);
  assert.equal(sheetOf(START, `${SHEET}whole`), SHEET);
  assert.equal(sheetOf(START, STEP), SHEET);
  assert.equal(sheetOf(START, `${START}12/step/move-1/`), `${START}12/`);
  const others = [START, `${START}1`, `${SHEET}whole/`, `${SHEET}check/`, `${SHEET}check/a/b/`];
  for (const path of [...others, "/at/larkfield/bench/run/1/", "/you"]) {
    assert.equal(sheetOf(START, path), "", path);
  }
});

test("what is no run sheet and no file goes its way", async () => {
  assert.equal(await opened("/you"), undefined);
  assert.equal(await opened("/at/larkfield/bench/run/1/"), undefined);
  assert.equal(await asked(STEP, { method: "POST", mode: "navigate" }), undefined);
  assert.equal(
    await asked("/static/js/run.js", { origin: "https://elsewhere.example" }),
    undefined,
  );
  assert.equal(await asked(STEP), undefined); // asked for by a script, not opened
});

test("a whole sheet is kept for whom it is", async () => {
  await keepSheet();
  assert.deepEqual(await caches.paths(), {
    "deskwright-run-files-r1": ["/static/js/run.js"],
    [COPIES]: [SHEET],
  });
});

test("a page that does not say whose it is, or is of another release, is not kept", async () => {
  for (const headers of [{}, { ...KEPT, "Deskwright-Release": "r2" }]) {
    line = house(200, headers);
    assert.equal(await textOf(asked(`${SHEET}whole`)), "from the house");
    assert.deepEqual(await caches.paths(), {});
  }
});

test("a copy without its files would be no page: then none is kept", async () => {
  line = (path) => (path.startsWith("/static/") ? house(404)() : house(200, KEPT)());
  assert.equal(await textOf(asked(`${SHEET}whole`)), "from the house");
  assert.equal(Object.hasOwn(await caches.paths(), COPIES), false);
});

test("the line comes first; without it the copy of the sheet answers for each step", async () => {
  await keepSheet();
  line = () => new Response("newer");
  assert.equal(await textOf(opened(STEP)), "newer");
  line = cut;
  assert.equal(await textOf(opened(STEP)), "from the house");
});

test("a line that hangs is given up after a while, and the next time soon", async () => {
  await keepSheet();
  line = hang;
  assert.equal(await textOf(opened(SHEET)), "from the house");
  assert.equal(patience, 3000);
  assert.equal(await textOf(opened(SHEET)), "from the house");
  assert.equal(patience, 200);
});

test("some network between answers for a house that does not", async () => {
  await keepSheet();
  for (const status of [502, 503, 504]) {
    line = house(status);
    assert.equal((await opened(SHEET)).status, 200);
  }
  line = house(500); // the house itself
  assert.equal((await opened(SHEET)).status, 500);
});

test("without a copy the network's own word is shown", async () => {
  line = house(503);
  assert.equal(await textOf(opened(SHEET)), "from the house");
});

test("without a copy it is said that there is no line, under the house's policy", async () => {
  line = cut;
  const answer = await opened(SHEET);
  assert.equal(answer.status, 503);
  assert.equal(await answer.text(), "<h1>No line</h1>");
  assert.equal(answer.headers.get("Content-Security-Policy"), RELEASE.policy);
});

test("who may not look any more loses the copies, and who is signed out all", async () => {
  for (const status of [403, 404]) {
    await keepSheet();
    line = house(status);
    await opened(SHEET);
    assert.deepEqual((await caches.paths())[COPIES], []);
  }
  await keepSheet();
  line = house(401);
  await opened(SHEET);
  assert.deepEqual(await caches.paths(), {});
});

test("a step that is no longer asked takes nothing away while the sheet is there", async () => {
  await keepSheet();
  line = (path) => (path === STEP ? house(404)() : house()());
  await opened(STEP);
  assert.deepEqual((await caches.paths())[COPIES], [SHEET]);
  line = house(404);
  await opened(STEP);
  assert.deepEqual((await caches.paths())[COPIES], []);
});

test("files come from the line, and from the shelf without it", async () => {
  await keepSheet();
  line = () => new Response("newer");
  assert.equal(await textOf(asked("/static/js/run.js")), "newer");
  line = cut;
  assert.equal(await textOf(asked("/static/js/run.js")), "from the house");
  line = house(404); // of a release that is gone
  assert.equal(await textOf(asked("/static/js/run.js")), "from the house");
  assert.equal((await asked("/static/js/none.js")).status, 404);
  line = cut;
  assert.equal((await asked("/static/js/none.js")).type, "error");
});
