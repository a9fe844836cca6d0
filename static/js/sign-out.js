// Signing out: says first what waits on this device unsent, and tells the house when nothing does.
// Only then does the house have everything cleared away that the browser keeps for it.
import { made } from "./elements.js";
import { counted } from "./run-unsent.js";
import { leavingButton, leavingWords } from "./run-words.js";

const PATIENCE = 2000; // ms for the device to say what it keeps

// How many wait; null where the device cannot say.
function waiting() {
  const late = new Promise((resolve) => {
    setTimeout(resolve, PATIENCE, null);
  });
  return Promise.race([counted().catch(() => null), late]);
}

function warn(form, count) {
  const place = form.querySelector("[role=alert]");
  place.textContent = leavingWords(count);
  place.hidden = false;
  place.focus();
  form.querySelector("button").textContent = leavingButton(count);
}

function askFirst(form) {
  let warned = false;
  let asked = false; // the device has said what it keeps: the form may go
  form.addEventListener("submit", async (event) => {
    if (asked) return;
    event.preventDefault();
    event.stopPropagation(); // nothing is cleared before it is sure that the form goes
    const count = await waiting();
    if (count && !warned) {
      warned = true;
      warn(form, count);
      return;
    }
    if (count === 0) {
      form.append(made("input", { type: "hidden", name: "waits", value: "nothing" }));
    }
    asked = true;
    form.requestSubmit();
  });
}

document.querySelectorAll("form[data-sign-out]").forEach(askFirst);
