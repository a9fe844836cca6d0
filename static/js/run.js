// Run sheets on a device that may lose its line: what is answered is kept here until it is sent,
// once.
import { makeAnswering } from "./run-answering.js";
import { makeCopy } from "./run-copy.js";
import { makePhotos } from "./run-photos.js";
import { makeQueue } from "./run-queue.js";
import { makeRenewal } from "./run-renewal.js";
import { say, tellBanner, tellPending } from "./run-said.js";
import { makeStage, pagesWithin } from "./run-stage.js";
import { copyValue } from "./run-value.js";

const HALF_A_MINUTE = 30000; // ms
const OFTEN = 5000; // ms: “online” is often said before the line carries anything

const root = document.querySelector("[data-run]");
const banner = root.querySelector("[data-unsent]");
const { person } = root.dataset;

const photos = makePhotos();
const stage = makeStage({ root, changed: tell });
const copy = makeCopy({ root, changed: tell, said: say });
const renewal = makeRenewal({ root, stage, copy, changed: tell });
const queue = makeQueue({ person, said: say, changed: tell, moved: renew, followed });
const answering = makeAnswering({ person, queue, photos });

function renew() {
  return renewal.refresh(true);
}

function followed(path, seen) {
  renewal.noteTaken();
  stage.followed(path, seen);
}

// -- what the page says --------------------------------------------------------------------------

function tell() {
  const { offlineSince, signedOut, mine, others } = queue.state();
  const isCopy = copy.isShown();
  const quiet = mine.filter((entry) => !entry.trouble).length;
  tellBanner(banner, {
    isCopy,
    copyWords: copy.words(),
    isAstray: isCopy && stage.isAstray(),
    signedOut: signedOut || (isCopy && renewal.isOut()),
    offlineSince,
    quiet,
    troubled: mine.length - quiet,
    others,
  });
  root.classList.toggle("is-copy", isCopy);
  stage.markList(new Set(mine.map((entry) => entry.url)));
  const page = stage.current();
  for (const button of page.querySelectorAll("[data-copy-button]")) button.hidden = false;
  copy.tell(page);
  tellPending(page, mine);
}

// -- what is pressed -----------------------------------------------------------------------------

async function resolve(box, button) {
  const leaveOut = button.value === "drop" || button.hasAttribute("data-keep-theirs");
  await queue.resolve(box.dataset.token, leaveOut, button.value === "harmless");
  await renew();
}

function isChoice(target) {
  const inClash = target.closest("[data-run-clash]");
  return inClash || ["drop", "again", "harmless"].includes(target.value);
}

function opensElsewhere({ ctrlKey, metaKey, shiftKey }) {
  return ctrlKey || metaKey || shiftKey;
}

function open(event, link) {
  if (opensElsewhere(event) || !stage.has(link.pathname)) return;
  event.preventDefault();
  history.pushState({}, "", link.pathname);
  stage.show(link.pathname);
}

document.addEventListener("click", (event) => {
  const target = event.target.closest("a, button");
  if (!target) return;
  const box = target.closest(".pending");
  if (box && isChoice(target)) {
    event.preventDefault();
    resolve(box, target);
  } else if (target.hasAttribute("data-copy-button")) {
    copyValue(target, say);
  } else if (target.closest("[data-chosen]")) {
    photos.leaveOut(target.form, Number(target.value));
  } else if (target.hasAttribute("data-run-link")) {
    open(event, target);
  }
});
document.addEventListener("change", ({ target }) => {
  if (target.type !== "file" || !target.form?.matches("[data-run-form]")) return;
  photos.choose(target);
  target.value = "";
});
document.addEventListener("input", (event) => {
  const page = event.target.closest(".run-item");
  if (page) page.dataset.typed = "yes";
});
document.addEventListener("submit", (event) => {
  if (!event.target.matches("[data-run-form]")) return;
  event.preventDefault();
  answering.take(event.target, event.submitter);
});

// -- what happens by itself ----------------------------------------------------------------------

window.addEventListener("popstate", () => {
  if (!stage.show(location.pathname)) location.reload();
});
window.addEventListener("online", () => {
  queue.send();
  if (copy.isShown()) renew();
});
document.addEventListener("visibilitychange", () => {
  if (document.hidden) return;
  queue.send();
  renewal.refresh(false);
});
setInterval(stage.tick, HALF_A_MINUTE);
setInterval(() => {
  if (!document.hidden) renewal.refresh(false);
}, HALF_A_MINUTE);
setInterval(() => {
  if (!document.hidden && copy.isShown()) renew();
}, OFTEN);

async function begin() {
  document.documentElement.classList.add("scripted");
  const first = stage.current();
  stage.add([[first.dataset.path, first]]);
  if (copy.isShown()) {
    stage.add(pagesWithin(document, copy.pages()));
    stage.show(location.pathname);
  }
  stage.tick();
  await queue.load();
  copy.begin();
  await copy.look();
  await renew();
  await queue.send();
}

begin();
