import assert from "node:assert/strict";
import { test } from "node:test";
import { sidesWithin } from "../../static/js/run-photos.js";

test("a large photo keeps its shape within 2400 pixels", () => {
  assert.deepEqual(sidesWithin(4800, 3600), { width: 2400, height: 1800 });
  assert.deepEqual(sidesWithin(3024, 4032), { width: 1800, height: 2400 });
});

test("a small one stays as it is", () => {
  assert.deepEqual(sidesWithin(1200, 900), { width: 1200, height: 900 });
  assert.deepEqual(sidesWithin(2400, 1), { width: 2400, height: 1 });
});
