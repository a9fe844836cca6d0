// Run sheets on a device that may lose its line: what is answered is kept here until it is sent, once.
(function () {
  "use strict";
  const root = document.querySelector("[data-run]");
  if (!root) return;
  document.documentElement.classList.add("scripted");
  const one = root.querySelector("[data-one]");
  const banner = root.querySelector("[data-unsent]");
  const person = root.dataset.person;
  const pages = new Map(); // every step and check of the stage, by its address
  const chosen = new WeakMap(); // photos taken on a page, by its form
  const { newToken, smaller } = window.deskwrightKept;
  const queue = window.deskwrightQueue({ person, said: say, changed: mark, moved: () => refresh(true), followed });
  const copied = window.deskwrightCopy({ root, changed: mark, said: say });
  let counter = "";
  let answered = 0; // how often something of this page was taken
  let out = false; // at the last look nobody was signed in

  // The page shows what stood when it came; after one's own answer that is what stands now.
  function followed(url, seen) {
    answered += 1;
    const page = pages.get(url);
    if (page) page.querySelectorAll("input[name=seen]").forEach((input) => { input.value = seen; });
  }

  // -- what the page says --------------------------------------------------------------------------

  function say(words) {
    const said = document.getElementById("said");
    if (!said || !words) return;
    said.replaceChildren(Object.assign(document.createElement("p"), { textContent: words }));
  }

  const COUNTS = ["No answers", "One answer", "Two answers", "Three answers", "Four answers"];
  const clock = (at) => new Date(at).toTimeString().slice(0, 5);

  function mark() {
    const { offlineSince, signedOut, mine, others } = queue.state();
    const quiet = mine.filter((entry) => !entry.trouble).length;
    const words = [];
    const away = signedOut || (out && copied.shown());
    if (away && (quiet || copied.shown())) words.push(`You are signed out: sign in again${quiet ? " to send them" : ""}.`);
    else if (copied.shown()) words.push("No line.");
    else if (offlineSince) words.push(`No line since ${clock(offlineSince)}.`);
    if (copied.shown()) words.push(copied.words());
    if (astray()) words.push("What you opened is not in it: here is the start of the run sheet.");
    if (quiet) {
      const count = COUNTS[quiet] || `${quiet} answers`;
      words.push(`${count} wait${quiet === 1 ? "s" : ""} on this device. Not sent yet.`);
    }
    if (mine.length > quiet) words.push(`${mine.length - quiet} must be looked at.`);
    if (others) words.push("Answers of somebody else wait on this device; they are sent when that person signs in.");
    root.classList.toggle("is-copy", copied.shown());
    const text = words.join(" ");
    if (banner.textContent !== text) banner.textContent = text;
    banner.hidden = !text;
    if (away && (quiet || copied.shown())) {
      banner.append(" ", Object.assign(document.createElement("a"), { href: location.href, textContent: "Sign in" }));
    }
    root.querySelectorAll("[data-list] a").forEach((link) => {
      link.classList.toggle("not-sent", mine.some((entry) => entry.url === link.pathname));
      if (link.pathname === location.pathname) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    });
    const page = one.querySelector(".run-item");
    if (page) decorate(page, mine);
  }

  function decorate(page, mine) {
    page.querySelectorAll("[data-copy-button]").forEach((button) => { button.hidden = false; });
    copied.tell(page);
    const place = page.querySelector("[data-pending]");
    if (!place) return;
    const here = mine.filter((entry) => entry.url === page.dataset.path);
    const shown = here.map((entry) => entry.token + Boolean(entry.trouble)).join();
    if (place.dataset.shown === shown) return;
    place.dataset.shown = shown;
    place.replaceChildren(...here.map(pending));
  }

  function pending(entry) {
    const box = document.createElement("div");
    box.className = "pending";
    box.dataset.token = entry.token;
    const words = Object.fromEntries(entry.fields);
    const said = [entry.label, words.measured, words.note].filter(Boolean).join(" – ");
    const photos = (entry.blobs || []).length;
    if (entry.trouble && entry.trouble.clash) {
      box.innerHTML = entry.trouble.clash; // made and escaped by the house
      return box;
    }
    const line = document.createElement("p");
    line.textContent = entry.trouble
      ? `Not taken: ${entry.trouble.refused} (${said})`
      : `Not sent yet: ${said}${photos ? ` – ${photos} photo${photos > 1 ? "s" : ""}` : ""} (${clock(entry.at)})`;
    box.append(line);
    if (entry.trouble) {
      box.className = "pending problems";
      const row = Object.assign(document.createElement("p"), { className: "run-two" });
      row.append(
        Object.assign(document.createElement("button"), { type: "button", textContent: "Leave it out", value: "drop" }),
        Object.assign(document.createElement("button"), { type: "button", textContent: "Try again", value: "again" }),
      );
      if (entry.trouble.harmless) {
        const words = "This is no secret: keep it";
        row.append(Object.assign(document.createElement("button"), { type: "button", textContent: words, value: "harmless" }));
      }
      box.append(row);
    }
    return box;
  }

  // -- pages of the stage, all of them here --------------------------------------------------------

  async function refresh(force) {
    const before = answered;
    let response;
    try {
      response = await fetch(`${root.dataset.whole}?counter=${force ? "" : counter}`, { redirect: "manual" });
    } catch { return; }
    out = response.type === "opaqueredirect";
    if (copied.shown() && [401, 403, 404].includes(response.status)) location.reload(); // the house says why
    if (out) mark();
    if (response.status !== 200) return;
    const found = new DOMParser().parseFromString(await response.text(), "text/html").body;
    if (answered !== before) { await refresh(true); return; } // it was asked for before that was taken
    const top = found.querySelector("[data-counter]");
    if (!top) return;
    if (top.dataset.person !== person) { location.reload(); return; }
    const lost = astray();
    counter = top.dataset.counter;
    copied.renewed();
    const list = root.querySelector("[data-list]");
    const focus = list.contains(document.activeElement) ? document.activeElement.pathname : "";
    list.replaceChildren(...top.querySelector("[data-list]").children);
    const current = one.querySelector(".run-item");
    const fresh = new Map(within(found, found.querySelector("[data-pages]").content));
    pages.forEach((page, path) => { if (page.dataset.typed && fresh.has(path)) fresh.set(path, page); });
    pages.clear();
    fresh.forEach(put);
    const now = current && pages.get(current.dataset.path);
    if (now && now !== current) {
      const held = current.contains(document.activeElement);
      current.replaceWith(now);
      if (held) now.querySelector("h1").focus({ preventScroll: true });
    }
    if (focus) { const link = [...list.querySelectorAll("a")].find((a) => a.pathname === focus); if (link) link.focus(); }
    if (lost && !show(location.pathname, false)) location.reload();
    place();
    tick();
    await copied.look();
    mark();
  }

  // The first page and the others that a whole sheet brings, each with its address.
  function within(sheet, others) {
    const found = [...sheet.querySelectorAll("[data-one] > .run-item"), ...others.children];
    return found.map((page) => [page.dataset.path, page]);
  }

  // A page that is on the screen stays there: to adopt it again would take it away, with what is typed in it.
  function put(page, path) {
    pages.set(path, page.ownerDocument === document ? page : document.adoptNode(page));
  }

  // A copy answers for every step; one that has come since is not in it.
  function astray() {
    return copied.shown() && one.querySelector(".run-item").dataset.path !== location.pathname;
  }

  function place() {
    const page = one.querySelector(".run-item");
    document.querySelector("[data-place]").textContent = page.dataset.place;
    root.classList.toggle("at-list", page.dataset.path === root.dataset.run);
    root.classList.toggle("at-one", page.dataset.path !== root.dataset.run);
  }

  function show(path, push) {
    const page = pages.get(path);
    if (!page) return false;
    if (push) history.pushState({}, "", path);
    one.replaceChildren(page);
    document.title = page.dataset.title;
    place();
    mark();
    tick();
    window.scrollTo(0, 0);
    page.querySelector("h1").focus({ preventScroll: true });
    return true;
  }

  function tick() {
    one.querySelectorAll("[data-since]").forEach((since) => {
      const minutes = Math.max(0, Math.floor((Date.now() - new Date(since.dataset.since)) / 60000));
      since.textContent = minutes < 120 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
    });
  }

  // -- photos --------------------------------------------------------------------------------------

  async function choose(input) {
    const form = input.form;
    const found = chosen.get(form) || [];
    chosen.set(form, found);
    for (const file of [...input.files]) {
      const entry = { name: file.name, content: file, ready: null };
      entry.ready = smaller(file).then((content) => { entry.content = content; listPhotos(form); });
      found.push(entry);
    }
    input.value = "";
    listPhotos(form);
    await Promise.all(found.map((entry) => entry.ready));
  }

  function listPhotos(form) {
    const list = form.querySelector("[data-chosen]");
    const found = chosen.get(form) || [];
    form.closest(".run-item").dataset.typed = "yes";
    list.replaceChildren(...found.map((entry, at) => {
      const row = document.createElement("li");
      const away = Object.assign(document.createElement("button"), { type: "button", className: "quiet", value: at });
      away.textContent = "Leave out";
      away.setAttribute("aria-label", `Leave out ${entry.name}`);
      row.append(`${entry.name}, ${Math.max(1, Math.round(entry.content.size / 1024))} KB `, away);
      return row;
    }));
  }

  // -- answering -----------------------------------------------------------------------------------

  // What would surely be refused is said at once: later nobody stands in front of the machine any more.
  function missing(form, state, fields, photos) {
    if (state !== "proven" || !form.dataset.wants) return "";
    const note = (fields.get("note") || "").trim();
    const measured = (fields.get("measured") || "").trim();
    const enough = { note, photo: photos, value: measured, probe: note || photos }[form.dataset.wants];
    if (!enough) return form.dataset.missing;
    if (!form.dataset.unit || !/^-?\d+([.,]\d+)?$/.test(measured)) return "";
    const number = Number(measured.replace(",", "."));
    const low = form.dataset.low === undefined ? -Infinity : Number(form.dataset.low);
    const high = form.dataset.high === undefined ? Infinity : Number(form.dataset.high);
    return number < low || number > high ? `${measured} is not ${form.dataset.range}: that is failed, not proven.` : "";
  }

  function complain(form, words) {
    let place = form.querySelector(".error");
    if (!place) {
      place = Object.assign(document.createElement("p"), { className: "error", tabIndex: -1 });
      place.setAttribute("role", "alert");
      (form.querySelector(".run-answers") || form.lastElementChild).before(place);
    }
    place.textContent = words;
    place.hidden = !words;
    if (words) place.focus();
  }

  async function take(form, button) {
    const photos = chosen.get(form) || [];
    await Promise.all(photos.map((entry) => entry.ready));
    const fields = new FormData(form);
    if (button && button.name) fields.set(button.name, button.value);
    const words = missing(form, fields.get("state"), fields, photos.length);
    complain(form, words);
    if (words) return;
    const page = form.closest(".run-item");
    const entry = {
      token: newToken(), person, url: page.dataset.path, at: Date.now(),
      label: button ? button.querySelector(".answer")?.textContent.trim() || button.textContent.trim() : "",
      fields: [...fields].filter(([name, value]) => typeof value === "string" && name !== "csrfmiddlewaretoken"),
      blobs: photos.map(({ name, content }) => ({ name, content })),
    };
    chosen.delete(form);
    form.reset();
    form.querySelector("[data-chosen]")?.replaceChildren();
    delete page.dataset.typed;
    await queue.add(entry);
  }

  async function resolve(box, button) {
    const away = button.value === "drop" || button.hasAttribute("data-keep-theirs");
    await queue.resolve(box.dataset.token, away, button.value === "harmless");
    await refresh(true);
  }

  // The value is chosen and copied; where copying is not allowed it stays chosen, ready for the device's own menu.
  async function copy(button) {
    const value = button.closest("[data-value]").querySelector("[data-copy]");
    let done = false;
    try {
      await navigator.clipboard.writeText(value.textContent);
      done = true;
    } catch {
      getSelection().selectAllChildren(value);
      try { done = document.execCommand("copy"); } catch { done = false; }
    }
    button.firstChild.textContent = done ? "Copied" : "Chosen";
    say(done ? "Copied." : "The value is chosen: copy it with your device.");
  }

  // -- events --------------------------------------------------------------------------------------

  document.addEventListener("click", (event) => {
    const target = event.target.closest("a, button");
    if (!target) return;
    const box = target.closest(".pending");
    if (box && (["drop", "again", "harmless"].includes(target.value) || target.closest("[data-run-clash]"))) {
      event.preventDefault();
      resolve(box, target);
    } else if (target.hasAttribute("data-copy-button")) {
      copy(target);
    } else if (target.closest("[data-chosen]")) {
      const form = target.form;
      chosen.get(form).splice(Number(target.value), 1);
      listPhotos(form);
    } else if (target.hasAttribute("data-run-link") && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      if (show(target.pathname, true)) event.preventDefault();
    }
  });
  document.addEventListener("change", (event) => {
    if (event.target.type === "file" && event.target.form?.matches("[data-run-form]")) choose(event.target);
  });
  document.addEventListener("input", (event) => {
    const page = event.target.closest(".run-item");
    if (page) page.dataset.typed = "yes";
  });
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("[data-run-form]")) return;
    event.preventDefault();
    take(event.target, event.submitter);
  });
  window.addEventListener("popstate", () => { if (!show(location.pathname, false)) location.reload(); });
  window.addEventListener("online", () => { queue.send(); if (copied.shown()) refresh(true); });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { queue.send(); refresh(false); } });
  setInterval(tick, 30000);
  setInterval(() => { if (!document.hidden) refresh(false); }, 30000);
  // “online” is often said before the line carries anything: a copy asks again by itself.
  setInterval(() => { if (!document.hidden && copied.shown()) refresh(true); }, 5000);

  (async function begin() {
    const first = one.querySelector(".run-item");
    pages.set(first.dataset.path, first);
    if (copied.shown()) {
      within(document, copied.pages()).forEach(([path, page]) => put(page, path));
      show(location.pathname, false);
    }
    tick();
    await queue.load();
    copied.begin();
    await copied.look();
    await refresh(true);
    await queue.send();
  }());
}());
