// Guards what was typed: a page with unsaved words is not left without a question, and Escape
// leaves a row.

export function guardTyping() {
  let typed = false;

  function forget() {
    typed = false;
  }

  function note(event) {
    if (event.target.closest("[data-guard]")) typed = true;
  }

  function leaveRow(event) {
    if (event.key !== "Escape") return;
    const form = event.target.closest("[data-guard]");
    const leave = form?.querySelector("[data-leave]");
    if (leave) leave.click();
  }

  document.addEventListener("input", note);
  document.addEventListener("submit", forget);
  document.addEventListener("keydown", leaveRow);
  window.addEventListener("beforeunload", (event) => {
    if (typed) event.preventDefault();
  });
  return { forget };
}
