// Keeps the margin's notes level with what they speak of, guards what was typed, lets Escape leave a row.
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
