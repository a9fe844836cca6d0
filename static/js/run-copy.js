// What a run sheet says of its copy on this device, and the buttons that take it away and bring it
// back.
import { made } from "./elements.js";
import * as shelf from "./run-shelf.js";
import { copyWords, standingWords } from "./run-words.js";

function isAble() {
  return Boolean(window.isSecureContext && navigator.serviceWorker && self.caches);
}

// changed() and said(words) tell the page.
export function makeCopy({ root, changed, said }) {
  const { run: sheet, person, whole, worker } = root.dataset;
  const template = document.querySelector("template[data-pages]"); // only a copy brings all pages
  // When the copy on the screen was made; null when the page came from the house.
  let madeAt = template ? new Date(root.dataset.made) : null;
  let standing = { until: 0, wanted: true };

  async function look() {
    if (!isAble()) return;
    try {
      standing = await shelf.standing(sheet, person);
    } catch {
      // a private window
    }
    changed();
  }

  // The worker keeps what passes it: the page on the screen, where somebody may be typing, stays as
  // it is.
  async function fetchToKeep() {
    try {
      await fetch(`${whole}?counter=`, { redirect: "manual" });
    } catch {
      // no line now
    }
    await look();
  }

  async function begin() {
    if (!isAble()) return;
    navigator.serviceWorker.addEventListener("controllerchange", fetchToKeep);
    const scope = new URL("../", new URL(sheet, location.href)).pathname;
    try {
      await navigator.serviceWorker.register(worker, { scope });
      const { active } = await navigator.serviceWorker.ready;
      if (!navigator.serviceWorker.controller) active.postMessage("take me in");
    } catch {
      // the words on the page stay true: it needs the line
    }
  }

  async function want(isWanted) {
    try {
      await shelf.want(sheet, person, isWanted);
    } catch {
      // nothing can be kept, then nothing is
    }
    if (isWanted) await fetchToKeep();
    else await look();
    said(isWanted ? standingWords(standing) : "The copy on this device is deleted.");
  }

  function button() {
    const { until } = standing;
    const textContent = until ? "Forget it here" : "Keep it here";
    const element = made("button", { type: "button", className: "quiet", textContent });
    element.addEventListener("click", () => want(!until));
    return element;
  }

  // Says on a page how the copy stands.
  function tell(page) {
    const place = page.querySelector("[data-keeps]");
    const words = standingWords(standing);
    if (!place || place.dataset.shown === words) return;
    const held = place.contains(document.activeElement);
    place.dataset.shown = words;
    place.hidden = false;
    place.replaceChildren(words);
    if (!standing.until && standing.wanted) return;
    const choice = button();
    place.append(" ", choice);
    if (held) choice.focus();
  }

  return {
    begin,
    look,
    tell,
    isShown: () => madeAt !== null, // the page on the screen is the copy
    pages: () => template.content,
    words: () => (madeAt ? copyWords(madeAt, new Date()) : ""),
    renewed() {
      madeAt = null;
    },
  };
}
