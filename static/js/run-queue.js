// What waits on this device to be sent: in its order, each once, and nothing over somebody's newer answer.
(function () {
  "use strict";
  const { keep, drop: forget, kept, newToken } = window.deskwrightKept;
  const PATIENCE = 30; // seconds between two tries at most
  const OTHER = {
    403: "You may not answer here. Reload the page, then try again.", 404: "This is not asked here any more.",
    413: "That is too large to be sent.",
  };

  function cookie(name) {
    const found = document.cookie.split("; ").find((part) => part.startsWith(`${name}=`));
    return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
  }

  function setField(entry, name, value) {
    entry.fields = [...entry.fields.filter(([other]) => other !== name), [name, value]];
  }

  function post(entry) {
    const body = new FormData();
    entry.fields.forEach(([name, value]) => body.append(name, value));
    body.set("age", String(Math.max(0, (Date.now() - entry.at) / 1000)));
    (entry.blobs || []).forEach((blob) => body.append("files", blob.content, blob.name));
    const proof = cookie("__Host-csrftoken") || cookie("csrftoken"); // the first one behind TLS
    const headers = { Accept: "application/json", "X-CSRFToken": proof };
    return fetch(entry.url, { method: "POST", body, headers, redirect: "manual", credentials: "same-origin" });
  }

  // person: whose answers are sent. said(words), changed(), moved() and followed(url, seen) tell the page.
  window.deskwrightQueue = function ({ person, said, changed, moved, followed }) {
    let waiting = [];
    let offlineSince = null;
    let signedOut = false;
    let sending = false;
    let wanted = false;
    let pause = 0;
    let timer = 0;

    async function drop(entry) {
      waiting = waiting.filter((other) => other !== entry);
      await forget(entry);
    }

    // The oldest that can be sent: not behind another of the same check that must be looked at first.
    function next() {
      const stuck = new Set(waiting.filter((entry) => entry.trouble).map((entry) => entry.url));
      return waiting.find((entry) => entry.person === person && !stuck.has(entry.url));
    }

    async function send() {
      wanted = sending; // the line may be back while an attempt still waits for it
      if (sending) return;
      sending = true;
      let any = false;
      try {
        for (let entry = next(); entry; entry = next()) {
          if (!await settle(entry, await post(entry))) break;
          any = true;
        }
      } catch {
        offlineSince = offlineSince || Date.now();
      }
      sending = false;
      if (wanted) {
        pause = 0;
        await send();
      } else {
        again();
        changed();
      }
      if (any) await moved();
    }

    // True when the house has dealt with it, whatever it said; false when it must be sent again later. A page
    // where an answer should be is not the house: some networks put their own page before everything.
    async function settle(entry, response) {
      const json = (response.headers.get("Content-Type") || "").startsWith("application/json");
      const away = response.status >= 500 || response.status === 429 || (response.ok && !json);
      signedOut = response.type === "opaqueredirect";
      if (signedOut || away) {
        offlineSince = signedOut ? null : offlineSince || Date.now();
        return false;
      }
      offlineSince = null;
      pause = 0;
      const told = json ? await response.json() : {};
      if (response.ok) {
        await follow(entry, told.seen);
        await drop(entry);
        said(told.said);
      } else if (response.status === 409) {
        entry.trouble = { clash: told.clash, seen: told.seen };
        await keep(entry);
      } else {
        const refused = told.refused || OTHER[response.status] || "The house did not take it.";
        entry.trouble = { refused, harmless: told.no_secret };
        await keep(entry);
      }
      return true;
    }

    // What was typed after the one just sent knew of it: nobody else was there between the two.
    async function follow(sent, seen) {
      for (const entry of waiting.filter((other) => other.url === sent.url && other !== sent)) {
        setField(entry, "seen", String(seen));
        await keep(entry);
      }
      followed(sent.url, seen);
    }

    function again() {
      clearTimeout(timer);
      if (!next() || signedOut) return;
      pause = Math.min((pause || 2) * 2, PATIENCE);
      timer = setTimeout(send, pause * 1000);
    }

    async function add(entry) {
      setField(entry, "token", entry.token);
      waiting.push(entry);
      await keep(entry);
      changed();
      await send();
    }

    // One that was refused or overtaken: left out, or sent anew as the newer one, or as holding no secret.
    async function resolve(token, leaveOut, isHarmless) {
      const entry = waiting.find((other) => other.token === token);
      if (!entry) return;
      const { seen, harmless } = entry.trouble;
      await drop(entry);
      if (leaveOut) { changed(); return; }
      delete entry.trouble;
      entry.token = newToken();
      entry.at = Date.now();
      if (seen !== undefined) setField(entry, "seen", String(seen));
      if (isHarmless) Object.entries(harmless || {}).forEach(([name, value]) => setField(entry, name, value));
      await add(entry);
    }

    return {
      add, resolve, send,
      async load() { waiting = await kept(); changed(); },
      state() {
        const mine = waiting.filter((entry) => entry.person === person);
        return { offlineSince, signedOut, mine, others: waiting.length - mine.length };
      },
    };
  };
}());
