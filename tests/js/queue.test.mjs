import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import { makeQueue } from "../../static/js/run-queue.js";
import { Clock, settled } from "./fakes.mjs";

const NOW = 1_000_000_000;
const JSON_KIND = { "Content-Type": "application/json" };

let clock;
let kept; // what the device keeps, by token
let sent; // tokens, in the order they went
let heard; // what the page was told
let line; // what a delivery gives: an answer, or an error

function answer(status, told, headers = JSON_KIND) {
  const body = new Response(JSON.stringify(told), { status, headers });
  return { ok: body.ok, status, type: "basic", headers: body.headers, json: () => body.json() };
}

function taken() {
  return answer(200, { seen: 5, said: "It is kept." });
}

const signedOut = { ok: false, status: 0, type: "opaqueredirect", headers: new Headers() };

const store = {
  keep: async (entry) => kept.set(entry.token, structuredClone(entry)),
  drop: async (entry) => kept.delete(entry.token),
  kept: async () => [...kept.values()],
};

async function deliver(entry) {
  sent.push(entry.token);
  const given = await line(entry);
  if (given instanceof Error) throw given;
  return given;
}

function queueOf(person = "7") {
  const page = {
    person,
    said: (words) => heard.said.push(words),
    changed: () => {
      heard.changed += 1;
    },
    moved: async () => {
      heard.moved += 1;
    },
    followed: (url, seen) => heard.followed.push([url, seen]),
  };
  return makeQueue(page, { store, deliver });
}

function entry(token, url = "/1/", person = "7") {
  return { token, url, person, at: NOW, fields: [["seen", "1"]], blobs: [] };
}

function seenBy(token) {
  return Object.fromEntries(kept.get(token).fields).seen;
}

beforeEach(() => {
  clock = new Clock(NOW);
  kept = new Map();
  sent = [];
  heard = { said: [], changed: 0, moved: 0, followed: [] };
  line = taken;
});

afterEach(() => clock.end());

test("an answer is kept before it goes, and forgotten when the house has it", async () => {
  let keptWhileSending;
  line = () => {
    keptWhileSending = [...kept.keys()];
    return taken();
  };
  const queue = queueOf();
  await queue.add(entry("a"));
  assert.deepEqual(keptWhileSending, ["a"]);
  assert.deepEqual(sent, ["a"]);
  assert.equal(kept.size, 0);
  assert.deepEqual(heard.said, ["It is kept."]);
  assert.deepEqual(heard.followed, [["/1/", 5]]);
  assert.equal(heard.moved, 1);
  assert.deepEqual(queue.state().mine, []);
  assert.deepEqual(clock.pauses, []);
});

test("each answer bears its token as a field: the house takes it once", async () => {
  line = () => new Error("no line");
  await queueOf().add(entry("a"));
  assert.deepEqual(kept.get("a").fields.at(-1), ["token", "a"]);
});

test("what waited is sent in its order", async () => {
  for (const token of ["a", "b", "c"]) kept.set(token, entry(token, `/${token}/`));
  const queue = queueOf();
  await queue.load();
  await queue.send();
  assert.deepEqual(sent, ["a", "b", "c"]);
  assert.equal(kept.size, 0);
  assert.equal(heard.moved, 1);
});

test("a later answer to the same check knows the one just sent", async () => {
  kept.set("a", entry("a", "/1/"));
  kept.set("b", entry("b", "/1/"));
  kept.set("c", entry("c", "/2/"));
  const queue = queueOf();
  await queue.load();
  line = (one) => (one.token === "a" ? taken() : new Error("no line"));
  await queue.send();
  assert.equal(seenBy("b"), "5");
  assert.equal(seenBy("c"), "1");
});

test("without a line it waits, and is tried again ever more seldom", async () => {
  line = () => new Error("no line");
  const queue = queueOf();
  await queue.add(entry("a"));
  assert.equal(queue.state().offlineSince, NOW);
  const pauses = [];
  for (let tries = 0; tries < 5; tries += 1) {
    pauses.push(clock.pauses[0]);
    assert.equal(clock.pauses.length, 1);
    await clock.pass(clock.pauses[0]);
  }
  assert.deepEqual(pauses, [4000, 8000, 16000, 30000, 30000]);
  assert.equal(sent.length, 6);
  assert.equal(queue.state().offlineSince, NOW); // since the first
  assert.equal(heard.moved, 0);
  line = taken;
  await clock.pass(30000);
  assert.equal(kept.size, 0);
  assert.equal(queue.state().offlineSince, null);
  assert.deepEqual(clock.pauses, []);
});

test("one attempt waits at a time, however often something is added", async () => {
  line = () => new Error("no line");
  const queue = queueOf();
  await queue.add(entry("a"));
  await queue.add(entry("b"));
  assert.deepEqual(clock.pauses, [8000]);
});

test("once the house has answered, pauses begin small again", async () => {
  line = () => new Error("no line");
  const queue = queueOf();
  await queue.add(entry("a"));
  await clock.pass(4000);
  assert.deepEqual(clock.pauses, [8000]);
  kept.set("b", entry("b"));
  await queue.load();
  line = (one) => (one.token === "a" ? taken() : new Error("no line"));
  await clock.pass(8000);
  assert.deepEqual(clock.pauses, [4000]);
});

test("what is away, or puts its own page before everything, is no answer", async () => {
  for (const given of [answer(502, {}), answer(429, {}), answer(200, "<h1>Hello</h1>", {})]) {
    line = () => given;
    const queue = queueOf();
    await queue.add(entry("a"));
    assert.equal(queue.state().offlineSince, NOW);
    assert.deepEqual([...kept.keys()], ["a"]);
    assert.equal(queue.state().mine[0].trouble, undefined);
  }
});

test("the line comes back while an attempt still waits for it: tried again at once", async () => {
  let giveUp;
  line = () =>
    new Promise((resolve) => {
      giveUp = () => resolve(new Error("too late"));
    });
  const queue = queueOf();
  const adding = queue.add(entry("a"));
  await settled();
  await queue.send(); // "online"
  assert.deepEqual(sent, ["a"]); // one at a time
  line = taken;
  giveUp();
  await adding;
  assert.deepEqual(sent, ["a", "a"]);
  assert.equal(kept.size, 0);
});

test("who is signed out must sign in first: nothing is tried again by itself", async () => {
  line = () => signedOut;
  const queue = queueOf();
  await queue.add(entry("a"));
  assert.equal(queue.state().signedOut, true);
  assert.equal(queue.state().offlineSince, null);
  assert.deepEqual([...kept.keys()], ["a"]);
  assert.deepEqual(clock.pauses, []);
});

test("answers of somebody else stay where they are", async () => {
  kept.set("a", entry("a", "/1/", "8"));
  kept.set("b", entry("b", "/1/"));
  const queue = queueOf();
  await queue.load();
  assert.equal(queue.state().others, 1);
  await queue.send();
  assert.deepEqual(sent, ["b"]);
  assert.deepEqual([...kept.keys()], ["a"]);
  assert.equal(seenBy("a"), "5"); // it comes after the other's
});

test("a clash holds back what was answered to that check, and nothing else", async () => {
  for (const [token, url] of Object.entries({ a: "/1/", b: "/1/", c: "/2/" })) {
    kept.set(token, entry(token, url));
  }
  line = (one) => (one.token === "a" ? answer(409, { clash: "<form></form>", seen: 3 }) : taken());
  const queue = queueOf();
  await queue.load();
  await queue.send();
  assert.deepEqual(sent, ["a", "c"]);
  assert.deepEqual([...kept.keys()], ["a", "b"]);
  assert.deepEqual(kept.get("a").trouble, { clash: "<form></form>", seen: 3 });
  assert.deepEqual(clock.pauses, []); // nothing is left that could go
});

async function withClash() {
  line = () => answer(409, { clash: "<form></form>", seen: 3 });
  const queue = queueOf();
  await queue.add(entry("a"));
  line = taken;
  return queue;
}

test("theirs is kept: one's own is left out", async () => {
  const queue = await withClash();
  await queue.resolve("a", true, false);
  assert.equal(kept.size, 0);
  assert.deepEqual(sent, ["a"]);
});

test("mine is newer: sent anew under another token, knowing theirs", async () => {
  const queue = await withClash();
  let fields;
  line = (one) => {
    fields = Object.fromEntries(one.fields);
    return taken();
  };
  clock.now += 60000;
  await queue.resolve("a", false, false);
  const [first, second] = sent;
  assert.equal(sent.length, 2);
  assert.notEqual(second, first);
  assert.deepEqual(fields, { seen: "3", token: second });
  assert.equal(kept.size, 0);
});

test("what was refused can be said to be no secret", async () => {
  line = () =>
    answer(422, { refused: "That looks like a password.", no_secret: { harmless: "abc" } });
  const queue = queueOf();
  await queue.add(entry("a"));
  assert.equal(queue.state().mine[0].trouble.refused, "That looks like a password.");
  let fields;
  line = (one) => {
    fields = Object.fromEntries(one.fields);
    return taken();
  };
  await queue.resolve("a", false, true);
  assert.equal(fields.harmless, "abc");
  assert.equal(fields.seen, "1");
});

test("an answer that is not there any more is nobody's to resolve", async () => {
  const queue = await withClash();
  await queue.resolve("b", true, false);
  assert.deepEqual([...kept.keys()], ["a"]);
});
