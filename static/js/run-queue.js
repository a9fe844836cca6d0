// What waits on this device to be sent: in its order, each once, and nothing over somebody's newer
// answer.
import { isAway, mend, nextToSend, pauseAfter, setField, troubleOf } from "./run-entries.js";
import { post } from "./run-post.js";
import * as unsent from "./run-unsent.js";

// person: whose answers are sent. said(words), changed(), moved() and followed(url, seen) tell the
// page. Where entries are kept and how they are delivered can be handed in.
export function makeQueue(page, { store = unsent, deliver = post } = {}) {
  const { person, said, changed, moved, followed } = page;
  let waiting = [];
  let offlineSince = null;
  let signedOut = false;
  let isSending = false;
  let isWanted = false;
  let pause = 0;
  let timer = 0;

  async function load() {
    waiting = await store.kept();
    changed();
  }

  async function add(entry) {
    setField(entry, "token", entry.token);
    waiting.push(entry);
    await store.keep(entry);
    changed();
    await send();
  }

  async function drop(entry) {
    waiting = waiting.filter((other) => other !== entry);
    await store.drop(entry);
  }

  async function send() {
    isWanted = isSending; // the line may be back while an attempt still waits for it
    if (isSending) return;
    isSending = true;
    const taken = await sendAll();
    isSending = false;
    if (isWanted) {
      pause = 0;
      await send();
    } else {
      tryAgainLater();
      changed();
    }
    if (taken) await moved();
  }

  // How many the house dealt with before the line or the sign-in was found to be gone.
  async function sendAll() {
    let taken = 0;
    try {
      for (let entry = nextToSend(waiting, person); entry; entry = nextToSend(waiting, person)) {
        if (!(await settle(entry, await deliver(entry)))) break;
        taken += 1;
      }
    } catch {
      offlineSince = offlineSince || Date.now();
    }
    return taken;
  }

  // True when the house has dealt with it, whatever it said; false when it must be sent again
  // later.
  async function settle(entry, response) {
    const { ok, status, type } = response;
    const kind = response.headers.get("Content-Type") || "";
    const isJson = kind.startsWith("application/json");
    signedOut = type === "opaqueredirect";
    if (signedOut) {
      offlineSince = null;
      return false;
    }
    if (isAway({ ok, status, isJson })) {
      offlineSince = offlineSince || Date.now();
      return false;
    }
    offlineSince = null;
    pause = 0;
    const told = isJson ? await response.json() : {};
    if (ok) await letGo(entry, told);
    else await holdBack(entry, troubleOf(status, told));
    return true;
  }

  async function letGo(entry, told) {
    await follow(entry, told.seen);
    await drop(entry);
    said(told.said);
  }

  async function holdBack(entry, trouble) {
    entry.trouble = trouble;
    await store.keep(entry);
  }

  // What was typed after the one just sent knew of it: nobody else was there between the two.
  async function follow(sent, seen) {
    for (const entry of waiting.filter((other) => other.url === sent.url && other !== sent)) {
      setField(entry, "seen", String(seen));
      await store.keep(entry);
    }
    followed(sent.url, seen);
  }

  function tryAgainLater() {
    clearTimeout(timer);
    if (!nextToSend(waiting, person) || signedOut) return;
    pause = pauseAfter(pause);
    timer = setTimeout(send, pause * 1000);
  }

  // One that was refused or overtaken: left out, or sent anew.
  async function resolve(token, leaveOut, isHarmless) {
    const entry = waiting.find((other) => other.token === token);
    if (!entry) return;
    await drop(entry);
    if (leaveOut) {
      changed();
      return;
    }
    mend(entry, { token: unsent.newToken(), at: Date.now(), isHarmless });
    await add(entry);
  }

  function state() {
    const mine = waiting.filter((entry) => entry.person === person);
    return { offlineSince, signedOut, mine, others: waiting.length - mine.length };
  }

  return { add, load, resolve, send, state };
}
