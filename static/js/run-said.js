// What a run sheet says: in its banner, on the page that is on the screen, and to whoever hears it.
import { made } from "./elements.js";
import { bannerWords, needsSignIn, pendingWords } from "./run-words.js";

export function say(words) {
  const place = document.getElementById("said");
  if (place && words) place.replaceChildren(made("p", { textContent: words }));
}

export function tellBanner(banner, state) {
  const text = bannerWords(state);
  if (banner.textContent !== text) banner.textContent = text;
  banner.hidden = !text;
  if (!needsSignIn(state)) return;
  banner.append(" ", made("a", { href: location.href, textContent: "Sign in" }));
}

function choice(value, textContent) {
  return made("button", { type: "button", value, textContent });
}

function choices(trouble) {
  const row = made("p", { className: "run-two" });
  row.append(choice("drop", "Leave it out"), choice("again", "Try again"));
  if (trouble.harmless) row.append(choice("harmless", "This is no secret: keep it"));
  return row;
}

function pendingBox(entry) {
  const { trouble } = entry;
  const box = made("div", { className: "pending" });
  box.dataset.token = entry.token;
  if (trouble?.clash) {
    box.innerHTML = trouble.clash; // made and escaped by the house
    return box;
  }
  box.append(made("p", { textContent: pendingWords(entry) }));
  if (trouble) {
    box.classList.add("problems");
    box.append(choices(trouble));
  }
  return box;
}

// The answers of a page that wait, below what it says of the answer before.
export function tellPending(page, waiting) {
  const place = page.querySelector("[data-pending]");
  if (!place) return;
  const here = waiting.filter((entry) => entry.url === page.dataset.path);
  const shown = here.map((entry) => entry.token + Boolean(entry.trouble)).join();
  if (place.dataset.shown === shown) return;
  place.dataset.shown = shown;
  place.replaceChildren(...here.map(pendingBox));
}
