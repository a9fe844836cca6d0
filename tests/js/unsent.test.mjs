import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { counted, drop, keep, kept, newToken } from "../../static/js/run-unsent.js";
import { Database, put, TextStorage } from "./fakes.mjs";

const PHOTO = { name: "door.jpg", content: "x" };

function entry(token, at, changes = {}) {
  return { token, at, fields: [], blobs: [PHOTO], ...changes };
}

function tokens(entries) {
  return entries.map(({ token }) => token);
}

beforeEach(() => {
  put("indexedDB", new Database());
  put("localStorage", new TextStorage());
});

function withoutDatabase() {
  put("indexedDB", undefined);
}

test("what was kept comes back, the oldest first", async () => {
  await keep(entry("b", 2));
  await keep(entry("a", 1));
  assert.deepEqual(await kept(), [entry("a", 1), entry("b", 2)]);
  assert.equal(await counted(), 2);
});

test("kept again under its token it is still one", async () => {
  await keep(entry("a", 1));
  await keep(entry("a", 1, { trouble: { refused: "x" } }));
  assert.deepEqual(await kept(), [entry("a", 1, { trouble: { refused: "x" } })]);
});

test("what was sent is dropped, and only that", async () => {
  await keep(entry("a", 1));
  await keep(entry("b", 2));
  await drop(entry("a", 1));
  assert.deepEqual(tokens(await kept()), ["b"]);
});

test("without a database words are kept, and photos are not", async () => {
  withoutDatabase();
  await keep(entry("b", 2));
  await keep(entry("a", 1));
  await keep(entry("a", 1));
  assert.deepEqual(await kept(), [entry("a", 1, { blobs: [] }), entry("b", 2, { blobs: [] })]);
  await drop(entry("a", 1));
  assert.deepEqual(tokens(await kept()), ["b"]);
});

test("what is in both places is one", async () => {
  const database = globalThis.indexedDB;
  withoutDatabase();
  await keep(entry("a", 1));
  put("indexedDB", database);
  await keep(entry("a", 1));
  assert.deepEqual(tokens(await kept()), ["a"]);
  await drop(entry("a", 1));
  assert.deepEqual(await kept(), []);
});

test("both places are counted", async () => {
  const database = globalThis.indexedDB;
  withoutDatabase();
  await keep(entry("a", 1));
  put("indexedDB", database);
  await keep(entry("b", 2));
  assert.equal(await counted(), 2);
});

test("where the device cannot say how many wait, it does not say none", async () => {
  withoutDatabase();
  await assert.rejects(counted());
});

test("where nothing can be kept, nothing breaks", async () => {
  withoutDatabase();
  put("localStorage", undefined);
  await keep(entry("a", 1));
  await drop(entry("a", 1));
  assert.deepEqual(await kept(), []);
});

test("a text that is no list of ours is passed over", async () => {
  withoutDatabase();
  localStorage.setItem("deskwright-unsent", "{ not json");
  assert.deepEqual(await kept(), []);
});

test("tokens are long, and never the same", () => {
  const made = new Set(Array.from({ length: 100 }, newToken));
  assert.equal(made.size, 100);
  for (const token of made) assert.match(token, /^[0-9a-f]{36}$/);
});
