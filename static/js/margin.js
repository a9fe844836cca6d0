// The margin and the rail: where they stand beside the page.

const MARGIN_BESIDE = window.matchMedia("(min-width: 75.01rem)");
const RAIL_BESIDE = window.matchMedia("(min-width: 48.01rem)");

export function unfoldRail() {
  const fold = document.querySelector(".rail-fold");
  if (fold) fold.open = RAIL_BESIDE.matches;
}

// Keeps the margin's notes level with what they speak of, or below the note before.
export function levelNotes() {
  const notes = [...document.querySelectorAll(".margin .note")];
  for (const note of notes) note.style.marginTop = "";
  if (!MARGIN_BESIDE.matches) return;
  for (const note of notes) {
    const anchor = document.querySelector(`[data-anchor="${CSS.escape(note.dataset.for)}"]`);
    if (!anchor) continue;
    const lift = anchor.getBoundingClientRect().top - note.getBoundingClientRect().top;
    if (lift > 0) note.style.marginTop = `${lift}px`;
  }
}
