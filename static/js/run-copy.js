// What a run sheet says of its copy on this device, and the buttons that take it away and bring it back.
(function () {
  "use strict";
  const shelf = self.deskwrightShelf;
  const able = Boolean(window.isSecureContext && navigator.serviceWorker && self.caches);
  const NEEDS = "Opening this page again needs the line; what you answer is kept.";
  const day = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short" });

  // changed() and said(words) tell the page.
  window.deskwrightCopy = function ({ root, changed, said }) {
    const { run: sheet, person } = root.dataset;
    const template = document.querySelector("template[data-pages]");
    let standing = { until: 0, wanted: true };
    let from = template ? new Date(root.dataset.made) : null; // when the copy on the screen was made

    async function look() {
      if (!able) return;
      try { standing = await shelf.standing(sheet, person); } catch { /* a private window */ }
      changed();
    }

    // The worker keeps what passes it: the page on the screen, where somebody may be typing, stays as it is.
    async function fetched() {
      try { await fetch(`${root.dataset.whole}?counter=`, { redirect: "manual" }); } catch { /* no line now */ }
      await look();
    }

    async function begin() {
      if (!able) return;
      navigator.serviceWorker.addEventListener("controllerchange", fetched);
      const scope = new URL("../", new URL(sheet, location.href)).pathname;
      try {
        await navigator.serviceWorker.register(root.dataset.worker, { scope });
        const { active } = await navigator.serviceWorker.ready;
        if (!navigator.serviceWorker.controller) active.postMessage("take me in");
      } catch { /* the words on the page stay true: it needs the line */ }
    }

    async function want(wanted) {
      try { await shelf.want(sheet, person, wanted); } catch { /* nothing can be kept, then nothing is */ }
      await (wanted ? fetched() : look());
      said(wanted ? words() : "The copy on this device is deleted.");
    }

    function words() {
      const last = standing.until && day.format(standing.until);
      if (last) return `Kept on this device: this run sheet opens without a line until ${last}.`;
      return standing.wanted ? NEEDS : `Not kept on this device. ${NEEDS}`;
    }

    function tell(page) {
      const place = page.querySelector("[data-keeps]");
      if (!place || place.dataset.shown === words()) return;
      const held = place.contains(document.activeElement);
      place.dataset.shown = words();
      place.hidden = false;
      place.replaceChildren(words());
      if (!standing.until && standing.wanted) return;
      const button = Object.assign(document.createElement("button"), { type: "button", className: "quiet" });
      button.textContent = standing.until ? "Forget it here" : "Keep it here";
      button.addEventListener("click", () => want(!standing.until));
      place.append(" ", button);
      if (held) button.focus();
    }

    function moment() {
      const time = from.toTimeString().slice(0, 5);
      return from.toDateString() === new Date().toDateString() ? time : `${day.format(from)}, ${time}`;
    }

    return {
      begin, look, tell,
      shown: () => Boolean(from), // the page on the screen is the copy
      pages: () => (template ? template.content : null),
      words: () => (from ? `This is the copy of ${moment()}.` : ""),
      renewed() { from = null; },
    };
  };
}());
