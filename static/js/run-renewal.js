// Asks the house how the stage stands now, and puts what came in the place of what was.
import { pagesWithin } from "./run-stage.js";

const MAY_NOT_LOOK = [401, 403, 404];

// changed() tells the page.
export function makeRenewal({ root, stage, copy, changed }) {
  const { person, whole } = root.dataset;
  let counter = ""; // of the site, as it was shown last
  let taken = 0; // how often something of this page was taken
  let isOut = false; // at the last look nobody was signed in

  async function refresh(force) {
    const before = taken;
    const answer = await ask(force ? "" : counter);
    if (!answer) return;
    heed(answer);
    if (answer.status !== 200) return;
    const text = await answer.text();
    // Asked for before something was taken, it says what stood before that.
    if (taken === before) await renew(new DOMParser().parseFromString(text, "text/html").body);
    else await refresh(true);
  }

  // The whole sheet, or word that nothing moved since; null without a line.
  async function ask(known) {
    try {
      return await fetch(`${whole}?counter=${known}`, { redirect: "manual" });
    } catch {
      return null;
    }
  }

  function heed({ status, type }) {
    isOut = type === "opaqueredirect";
    if (copy.isShown() && MAY_NOT_LOOK.includes(status)) location.reload(); // the house says why
    if (isOut) changed();
  }

  async function renew(sheet) {
    const top = sheet.querySelector("[data-counter]");
    if (!top) return;
    if (top.dataset.person !== person) {
      location.reload();
      return;
    }
    const wasAstray = copy.isShown() && stage.isAstray();
    counter = top.dataset.counter;
    copy.renewed();
    stage.renewList(top.querySelector("[data-list]"));
    stage.renewPages(pagesWithin(sheet, sheet.querySelector("[data-pages]").content));
    if (wasAstray && !stage.show(location.pathname)) location.reload();
    stage.place();
    stage.tick();
    await copy.look();
    changed();
  }

  return {
    refresh,
    isOut: () => isOut,
    noteTaken() {
      taken += 1;
    },
  };
}
