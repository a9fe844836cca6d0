// What every page of the house does.
import { guardTyping } from "./guard.js";
import { levelNotes, unfoldRail } from "./margin.js";
import { restForms } from "./resting.js";
import { leaveNothingBehind } from "./run-leaving.js";

restForms();
leaveNothingBehind();
const guard = guardTyping();

function settle() {
  guard.forget();
  unfoldRail();
  levelNotes();
}

document.addEventListener("htmx:afterSettle", () => {
  settle();
  const focus = document.querySelector("[autofocus]");
  if (focus) focus.focus();
});
window.addEventListener("resize", levelNotes);
window.addEventListener("load", settle);
