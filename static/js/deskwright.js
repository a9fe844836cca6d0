// Keeps the margin's notes level with what they speak of, guards what was typed, lets Escape leave a row, and sends
// no form twice.
(function () {
  "use strict";
  const wide = window.matchMedia("(min-width: 75.01rem)");
  let dirty = false;

  function unfoldRail() {
    const fold = document.querySelector(".rail-fold");
    if (fold) fold.open = window.matchMedia("(min-width: 48.01rem)").matches;
  }

  function levelNotes() {
    const margin = document.querySelector(".margin");
    if (!margin) return;
    const notes = [...margin.querySelectorAll(".note")];
    notes.forEach((note) => { note.style.marginTop = ""; });
    if (!wide.matches) return;
    let bottom = margin.getBoundingClientRect().top;
    notes.forEach((note) => {
      const target = document.querySelector(`[data-anchor="${CSS.escape(note.dataset.for)}"]`);
      const top = note.getBoundingClientRect().top;
      if (target) {
        const lift = target.getBoundingClientRect().top - top;
        if (lift > 0) note.style.marginTop = `${lift}px`;
      }
      bottom = note.getBoundingClientRect().bottom;
    });
  }

  function settle() { dirty = false; unfoldRail(); levelNotes(); }

  // A form that is under way is not sent a second time: its buttons rest until an answer is there. What the server
  // takes twice nevertheless, it makes once.
  const LONGEST = 15000; // a line that hangs, or a press of "stop": then it may be tried again

  function rest(form) {
    form.querySelectorAll("button:not([type=button]):not(:disabled)").forEach((button) => {
      button.disabled = true;
      button.dataset.resting = "";
    });
    window.setTimeout(() => wake(form), LONGEST);
  }

  function wake(root) {
    root.querySelectorAll("[data-resting]").forEach((button) => {
      button.disabled = false;
      delete button.dataset.resting;
    });
  }

  // Not at once: which button was pressed is gathered after this event; and htmx and the run sheet, which send their
  // forms themselves, may not have been asked yet. The one is told below, the other keeps its own queue.
  document.addEventListener("submit", (event) => window.setTimeout(() => {
    if (!event.defaultPrevented && event.target.method === "post") rest(event.target);
  }, 0));
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (event.target instanceof HTMLFormElement) window.setTimeout(() => rest(event.target), 0);
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.target instanceof HTMLFormElement) window.setTimeout(() => wake(event.target), 0);
  });
  window.addEventListener("pageshow", () => wake(document)); // come back to with the browser's own button

  document.addEventListener("input", (event) => { if (event.target.closest("[data-guard]")) dirty = true; });
  document.addEventListener("submit", () => { dirty = false; });
  window.addEventListener("beforeunload", (event) => { if (dirty) event.preventDefault(); });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    const form = event.target.closest("[data-guard]");
    const leave = form && form.querySelector("[data-leave]");
    if (leave) leave.click();
  });
  document.addEventListener("htmx:afterSettle", () => {
    settle();
    const focus = document.querySelector("[autofocus]");
    if (focus) focus.focus();
  });
  window.addEventListener("resize", levelNotes);
  window.addEventListener("load", settle);
}());
