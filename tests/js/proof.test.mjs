import assert from "node:assert/strict";
import { test } from "node:test";
import { missing } from "../../static/js/run-proof.js";

const SAY = "Say what you looked at.";

function given(changes) {
  return { state: "proven", note: "", measured: "", photos: 0, ...changes };
}

test("only proven needs a proof", () => {
  const asked = { wants: "note", missing: SAY };
  for (const state of ["trust", "failed", "excused", "open", null]) {
    assert.equal(missing(asked, given({ state })), "");
  }
  assert.equal(missing(asked, given({})), SAY);
});

test("a step, of which nothing is asked, has nothing missing", () => {
  assert.equal(missing({}, given({})), "");
});

test("each kind of proof is met by its own kind of answer", () => {
  const answers = {
    note: given({ note: "Signed letter." }),
    photo: given({ photos: 1 }),
    value: given({ measured: "about ten" }),
  };
  const enough = { note: ["note"], photo: ["photo"], value: ["value"], probe: ["note", "photo"] };
  for (const [wants, kinds] of Object.entries(enough)) {
    for (const [kind, answer] of Object.entries(answers)) {
      const words = missing({ wants, missing: SAY }, answer);
      assert.equal(words, kinds.includes(kind) ? "" : SAY, `${wants} by ${kind}`);
    }
  }
});

test("blanks are no words", () => {
  assert.equal(missing({ wants: "note", missing: SAY }, given({ note: " \n " })), SAY);
  assert.equal(missing({ wants: "value", missing: SAY }, given({ measured: "  " })), SAY);
});

const RANGE = {
  wants: "value",
  missing: SAY,
  unit: "s",
  low: "0",
  high: "300",
  range: "0 to 300 s",
};

test("a value outside its range is failed, not proven", () => {
  const words = "301 is not 0 to 300 s: that is failed, not proven.";
  assert.equal(missing(RANGE, given({ measured: " 301 " })), words);
  assert.notEqual(missing(RANGE, given({ measured: "-1" })), "");
  assert.notEqual(missing(RANGE, given({ measured: "300,5" })), "");
});

test("a value within its range, bounds and all, is enough", () => {
  for (const measured of ["0", "300", "299,5", "299.5", "-0"]) {
    assert.equal(missing(RANGE, given({ measured })), "", measured);
  }
});

test("a range may be open at one end", () => {
  const most = { ...RANGE, low: undefined };
  assert.equal(missing(most, given({ measured: "-1000" })), "");
  assert.notEqual(missing(most, given({ measured: "301" })), "");
  const least = { ...RANGE, high: undefined };
  assert.equal(missing(least, given({ measured: "100000" })), "");
  assert.notEqual(missing(least, given({ measured: "-1" })), "");
});

test("what is no number, or has no unit, is left to the house", () => {
  assert.equal(missing(RANGE, given({ measured: "301 s" })), "");
  assert.equal(missing(RANGE, given({ measured: "1e9" })), "");
  assert.equal(missing({ ...RANGE, unit: undefined }, given({ measured: "301" })), "");
});
