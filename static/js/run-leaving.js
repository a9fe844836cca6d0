// Every page of the house takes away what the device keeps of run sheets for anybody else: signing
// out empties the shelf, and so does a page for another person. A page that does not know for whom
// it is (the house is broken) changes nothing. Over plain HTTP there is no shelf at all.
import { clear, sweep } from "./run-shelf.js";

function quietly(work) {
  return work.catch(() => {
    // a private window: nothing was ever kept
  });
}

export function leaveNothingBehind() {
  if (!window.caches) return;
  document.addEventListener("submit", (event) => {
    if (event.target.matches("form[action$='/logout/']")) quietly(clear(""));
  });
  const { person } = document.body.dataset;
  if (person !== undefined) quietly(clear(person).then(() => sweep("")));
}
