// A form that is under way is not sent a second time: its buttons rest until an answer is there.
// What the server takes twice nevertheless, it makes once.

const LONGEST = 15000; // ms: a line that hangs, or a press of "stop": then it may be tried again

function rest(form) {
  const buttons = form.querySelectorAll("button:not([type=button]):not(:disabled)");
  for (const button of buttons) {
    button.disabled = true;
    button.dataset.resting = "";
  }
  window.setTimeout(() => wake(form), LONGEST);
}

function wake(root) {
  for (const button of root.querySelectorAll("[data-resting]")) {
    button.disabled = false;
    delete button.dataset.resting;
  }
}

// Not at once: which button was pressed is gathered after the event; and htmx and the run sheet,
// which send their forms themselves, may not have been asked yet.
function soon(work) {
  window.setTimeout(work, 0);
}

export function restForms() {
  // The run sheet keeps its own queue; what htmx sends is told by its own events.
  document.addEventListener("submit", (event) =>
    soon(() => {
      if (!event.defaultPrevented && event.target.method === "post") rest(event.target);
    }),
  );
  document.addEventListener("htmx:beforeRequest", ({ target }) => {
    if (target instanceof HTMLFormElement) soon(() => rest(target));
  });
  document.addEventListener("htmx:afterRequest", ({ target }) => {
    if (target instanceof HTMLFormElement) soon(() => wake(target));
  });
  // Come back to with the browser's own button.
  window.addEventListener("pageshow", () => wake(document));
}
