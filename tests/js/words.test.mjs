import assert from "node:assert/strict";
import { test } from "node:test";
import {
  bannerWords,
  clock,
  copyWords,
  lastedWords,
  leavingButton,
  leavingWords,
  needsSignIn,
  pendingWords,
  sizeWords,
  standingWords,
} from "../../static/js/run-words.js";

const MINUTE = 60000;
const MORNING = new Date(2026, 10, 30, 8, 5).getTime(); // where the device is
const QUIET = {
  isCopy: false,
  copyWords: "",
  isAstray: false,
  signedOut: false,
  offlineSince: null,
  quiet: 0,
  troubled: 0,
  others: 0,
};

test("the time of day has two figures each", () => {
  assert.equal(clock(MORNING), "08:05");
});

test("how long something has lasted", () => {
  const told = [
    [0, "0 min"],
    [59999, "0 min"],
    [MINUTE, "1 min"],
    [119 * MINUTE, "119 min"],
    [120 * MINUTE, "2 h 0 min"],
    [24 * 60 * MINUTE + 61 * MINUTE, "25 h 1 min"],
    [-5 * MINUTE, "0 min"], // the device's clock is slow
  ];
  for (const [passed, words] of told) {
    assert.equal(lastedWords(new Date(MORNING), MORNING + passed), words);
  }
});

test("sizes are told in KB, and none is nothing", () => {
  assert.equal(sizeWords(10), "1 KB");
  assert.equal(sizeWords(1536), "2 KB");
  assert.equal(sizeWords(3 * 1024 * 1024), "3072 KB");
});

test("nothing to say", () => {
  assert.equal(bannerWords(QUIET), "");
});

test("how many answers wait", () => {
  const told = {
    1: "One answer waits on this device. Not sent yet.",
    2: "Two answers wait on this device. Not sent yet.",
    4: "Four answers wait on this device. Not sent yet.",
    5: "5 answers wait on this device. Not sent yet.",
  };
  for (const [quiet, words] of Object.entries(told)) {
    assert.equal(bannerWords({ ...QUIET, quiet: Number(quiet) }), words);
  }
});

test("since when there is no line comes first, then what waits, then what is in trouble", () => {
  const state = { ...QUIET, offlineSince: MORNING, quiet: 1, troubled: 2, others: 1 };
  assert.equal(
    bannerWords(state),
    "No line since 08:05. One answer waits on this device. Not sent yet. 2 must be looked at. " +
      "Answers of somebody else wait on this device; they are sent when that person signs in.",
  );
});

test("what is in trouble, and what is somebody else's, are told apart", () => {
  assert.equal(bannerWords({ ...QUIET, troubled: 1 }), "1 must be looked at.");
  assert.equal(
    bannerWords({ ...QUIET, others: 1 }),
    "Answers of somebody else wait on this device; they are sent when that person signs in.",
  );
});

test("a copy says that it is one, and when what was opened is not in it", () => {
  const copy = { ...QUIET, isCopy: true, copyWords: "This is the copy of 08:05." };
  assert.equal(bannerWords(copy), "No line. This is the copy of 08:05.");
  assert.equal(
    bannerWords({ ...copy, isAstray: true }),
    "No line. This is the copy of 08:05. " +
      "What you opened is not in it: here is the start of the run sheet.",
  );
});

test("one must sign in to send what waits, or to see more than a copy", () => {
  const out = { ...QUIET, signedOut: true };
  assert.equal(needsSignIn(out), false);
  assert.equal(bannerWords(out), "");
  const waiting = { ...out, quiet: 1, offlineSince: MORNING };
  assert.equal(needsSignIn(waiting), true);
  assert.match(
    bannerWords(waiting),
    /^You are signed out: sign in again to send them\. One answer/,
  );
  const copy = { ...out, isCopy: true, copyWords: "This is the copy of 08:05." };
  assert.equal(needsSignIn(copy), true);
  assert.equal(bannerWords(copy), "You are signed out: sign in again. This is the copy of 08:05.");
  assert.equal(needsSignIn({ ...copy, signedOut: false }), false);
});

function entry(changes) {
  const fields = [
    ["state", "proven"],
    ["note", "Signed letter."],
  ];
  return { label: "Proven", at: MORNING, fields, ...changes };
}

test("an answer that waits is told with what was said", () => {
  assert.equal(pendingWords(entry({})), "Not sent yet: Proven – Signed letter. (08:05)");
  const measured = entry({ fields: [["measured", "301"]], label: "Failed" });
  assert.equal(pendingWords(measured), "Not sent yet: Failed – 301 (08:05)");
});

test("its photos are counted", () => {
  const blobs = [{ name: "door.jpg" }];
  assert.match(pendingWords(entry({ blobs })), /letter\. – 1 photo \(/);
  assert.match(pendingWords(entry({ blobs: [...blobs, ...blobs] })), /letter\. – 2 photos \(/);
});

test("one that was refused says why", () => {
  const trouble = { refused: "This is not asked here any more." };
  assert.equal(
    pendingWords(entry({ trouble })),
    "Not taken: This is not asked here any more. (Proven – Signed letter.)",
  );
});

test("how a copy stands on this device", () => {
  assert.match(
    standingWords({ until: MORNING, wanted: true }),
    /^Kept on this device: this run sheet opens without a line until Mon,? 30 Nov\.$/,
  );
  const needs = "Opening this page again needs the line; what you answer is kept.";
  assert.equal(standingWords({ until: 0, wanted: true }), needs);
  assert.equal(standingWords({ until: 0, wanted: false }), `Not kept on this device. ${needs}`);
});

test("a copy of today bears its time, an older one its day, too", () => {
  const made = new Date(MORNING);
  assert.equal(copyWords(made, new Date(2026, 10, 30, 23, 59)), "This is the copy of 08:05.");
  assert.match(
    copyWords(made, new Date(2026, 11, 1, 0, 1)),
    /^This is the copy of Mon,? 30 Nov, 08:05\.$/,
  );
});

test("who signs out is told what stays here", () => {
  assert.match(leavingWords(1), /^One answer waits .* to send it\. .* whoever gave it signs in/);
  assert.match(leavingWords(3), /^3 answers wait .* to send them\. .* whoever gave them signs in/);
  assert.equal(leavingButton(1), "Sign out and leave it here");
  assert.equal(leavingButton(2), "Sign out and leave them here");
});
