import assert from "node:assert/strict";
import { test } from "node:test";
import {
  isAway,
  mend,
  nextToSend,
  pauseAfter,
  setField,
  troubleOf,
} from "../../static/js/run-entries.js";

function entry(token, url, changes = {}) {
  return { token, url, person: "7", fields: [], ...changes };
}

test("a field is set once", () => {
  const given = entry("a", "/1/", {
    fields: [
      ["seen", "0"],
      ["note", "x"],
      ["seen", "1"],
    ],
  });
  setField(given, "seen", "4");
  assert.deepEqual(given.fields, [
    ["note", "x"],
    ["seen", "4"],
  ]);
});

test("the oldest goes first, of one's own", () => {
  const waiting = [entry("a", "/1/", { person: "8" }), entry("b", "/2/"), entry("c", "/1/")];
  assert.equal(nextToSend(waiting, "7").token, "b");
  assert.equal(nextToSend(waiting, "8").token, "a");
  assert.equal(nextToSend(waiting, "9"), undefined);
  assert.equal(nextToSend([], "7"), undefined);
});

test("nothing overtakes an answer to the same check that must be looked at", () => {
  const waiting = [entry("a", "/1/", { trouble: {} }), entry("b", "/1/"), entry("c", "/2/")];
  assert.equal(nextToSend(waiting, "7").token, "c");
  assert.equal(nextToSend(waiting.slice(0, 2), "7"), undefined);
});

test("pauses grow, up to half a minute", () => {
  const pauses = [];
  for (let pause = pauseAfter(0); pauses.length < 6; pause = pauseAfter(pause)) pauses.push(pause);
  assert.deepEqual(pauses, [4, 8, 16, 30, 30, 30]);
});

test("only the house's own word counts as an answer", () => {
  assert.equal(isAway({ ok: true, status: 200, isJson: true }), false);
  assert.equal(isAway({ ok: true, status: 200, isJson: false }), true); // a page of the network
  assert.equal(isAway({ ok: false, status: 429, isJson: true }), true); // too often: later
  assert.equal(isAway({ ok: false, status: 500, isJson: true }), true);
  assert.equal(isAway({ ok: false, status: 409, isJson: true }), false);
  assert.equal(isAway({ ok: false, status: 403, isJson: false }), false);
});

test("somebody's newer answer comes with what it said", () => {
  const told = { clash: "<form></form>", seen: 3 };
  assert.deepEqual(troubleOf(409, told), told);
});

test("a refusal is told in the house's words, or else in ours", () => {
  assert.equal(troubleOf(422, { refused: "Too long." }).refused, "Too long.");
  assert.match(troubleOf(403, {}).refused, /^You may not answer here/);
  assert.match(troubleOf(404, {}).refused, /^This is not asked here/);
  assert.match(troubleOf(413, {}).refused, /^That is too large/);
  assert.match(troubleOf(400, {}).refused, /^The house did not take it/);
  const boxes = { "no-secret": "abc" };
  assert.deepEqual(troubleOf(422, { refused: "x", no_secret: boxes }).harmless, boxes);
});

test("sent anew it is another, and knows the answer that was there", () => {
  const given = entry("a", "/1/", { at: 5, fields: [["seen", "1"]], trouble: { seen: 3 } });
  mend(given, { token: "b", at: 9, isHarmless: false });
  assert.deepEqual(given, entry("b", "/1/", { at: 9, fields: [["seen", "3"]] }));
});

test("that it holds no secret is said only when it was pressed", () => {
  const trouble = { refused: "x", harmless: { "no-secret": "abc" } };
  const silent = entry("a", "/1/", { trouble: { ...trouble } });
  mend(silent, { token: "b", at: 9, isHarmless: false });
  assert.deepEqual(silent.fields, []);
  const said = entry("a", "/1/", { trouble: { ...trouble } });
  mend(said, { token: "b", at: 9, isHarmless: true });
  assert.deepEqual(said.fields, [["no-secret", "abc"]]);
});
