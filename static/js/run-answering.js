// An answer is given: looked at, put into the queue, and its form made empty.
import { made } from "./elements.js";
import { missing } from "./run-proof.js";
import { newToken } from "./run-unsent.js";

// The words of a form that the house reads, without files and the proof of the form.
function words(fields) {
  return [...fields].filter(
    ([name, value]) => typeof value === "string" && name !== "csrfmiddlewaretoken",
  );
}

function labelOf(button) {
  if (!button) return "";
  const answer = button.querySelector(".answer")?.textContent.trim();
  return answer || button.textContent.trim();
}

function placeForWords(form) {
  const found = form.querySelector(".error");
  if (found) return found;
  const place = made("p", { className: "error", tabIndex: -1 });
  place.setAttribute("role", "alert");
  (form.querySelector(".run-answers") || form.lastElementChild).before(place);
  return place;
}

function complain(form, complaint) {
  const place = placeForWords(form);
  place.textContent = complaint;
  place.hidden = !complaint;
  if (complaint) place.focus();
}

export function makeAnswering({ person, queue, photos }) {
  async function take(form, button) {
    const blobs = await photos.ready(form);
    const fields = new FormData(form);
    if (button?.name) fields.set(button.name, button.value);
    const complaint = missing(form.dataset, {
      state: fields.get("state"),
      note: fields.get("note") || "",
      measured: fields.get("measured") || "",
      photos: blobs.length,
    });
    complain(form, complaint);
    if (complaint) return;
    const page = form.closest(".run-item");
    const entry = {
      token: newToken(),
      person,
      url: page.dataset.path,
      at: Date.now(),
      label: labelOf(button),
      fields: words(fields),
      blobs,
    };
    photos.clear(form);
    form.reset();
    delete page.dataset.typed;
    await queue.add(entry);
  }

  return { take };
}
