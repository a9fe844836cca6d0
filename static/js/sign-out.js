// Signing out: says first what waits on this device unsent, and tells the house when nothing does.
// Only then does the house have everything cleared away that the browser keeps for it.
(function () {
  "use strict";
  const PATIENCE = 2000; // ms for the device to say what it keeps

  function waiting() {
    const late = new Promise((resolve) => { setTimeout(resolve, PATIENCE, null); });
    return Promise.race([window.deskwrightKept.counted().catch(() => null), late]);
  }

  function warn(form, count) {
    const place = form.querySelector("[role=alert]");
    const one = count === 1;
    place.textContent = `${one ? "One answer waits" : `${count} answers wait`} on this device, not sent yet. Open a run `
      + `sheet to send ${one ? "it" : "them"}. If you sign out now, ${one ? "it stays" : "they stay"} on this device `
      + `until whoever gave ${one ? "it" : "them"} signs in here again.`;
    place.hidden = false;
    place.focus();
    form.querySelector("button").textContent = one ? "Sign out and leave it here" : "Sign out and leave them here";
  }

  document.querySelectorAll("form[data-sign-out]").forEach((form) => {
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
        form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "waits", value: "nothing" }));
      }
      asked = true;
      form.requestSubmit();
    });
  });
}());
