import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import { cookieIn, formOf, post } from "../../static/js/run-post.js";
import { put } from "./fakes.mjs";

const ENTRY = {
  url: "/at/larkfield/mill/run/1/check/scope-agreed/",
  at: 10_000,
  fields: [
    ["state", "proven"],
    ["note", "Signed letter."],
  ],
  blobs: [{ name: "door.jpg", content: new Blob(["x"]) }],
};
const { fetch } = globalThis;
let asked;

beforeEach(() => {
  put("fetch", async (address, options) => {
    asked = { address, ...options };
  });
});

afterEach(() => put("fetch", fetch));

test("a cookie is found by its whole name", () => {
  const cookies = "xcsrftoken=no; csrftoken=a%20b; csrftoken2=no";
  assert.equal(cookieIn(cookies, "csrftoken"), "a b");
  assert.equal(cookieIn(cookies, "csrf"), "");
  assert.equal(cookieIn("", "csrftoken"), "");
});

test("fields, photos and how long ago it was", () => {
  const form = formOf(ENTRY, 12_500);
  assert.equal(form.get("state"), "proven");
  assert.equal(form.get("note"), "Signed letter.");
  assert.equal(form.get("age"), "2.5");
  assert.equal(form.get("files").name, "door.jpg");
});

test("a clock that was set back makes no answer of the future", () => {
  assert.equal(formOf(ENTRY, 0).get("age"), "0");
});

test("an entry whose photos were lost is sent without them", () => {
  assert.equal(formOf({ ...ENTRY, blobs: undefined }, 10_000).has("files"), false);
});

test("it bears the token that the cookie holds, the one behind TLS first", async () => {
  put("document", { cookie: "csrftoken=plain" });
  await post(ENTRY);
  assert.equal(asked.headers["X-CSRFToken"], "plain");
  assert.equal(asked.address, ENTRY.url);
  assert.equal(asked.redirect, "manual"); // a redirect says that one is signed out
  put("document", { cookie: "csrftoken=plain; __Host-csrftoken=tls" });
  await post(ENTRY);
  assert.equal(asked.headers["X-CSRFToken"], "tls");
});
