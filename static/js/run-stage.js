// The pages of a stage: every step and check is here by its address, and one of them is on the
// screen.
import { lastedWords } from "./run-words.js";

// The first page and the others that a whole sheet brings, each with its address.
export function pagesWithin(sheet, others) {
  const pages = [...sheet.querySelectorAll("[data-one] > .run-item"), ...others.children];
  return pages.map((page) => [page.dataset.path, page]);
}

// changed() tells the page that another one is on the screen.
export function makeStage({ root, changed }) {
  const screen = root.querySelector("[data-one]");
  const list = root.querySelector("[data-list]");
  const pages = new Map();

  function current() {
    return screen.querySelector(".run-item");
  }

  function links() {
    return [...list.querySelectorAll("a")];
  }

  function put([path, page]) {
    // One that is here already may be on the screen: to adopt it again would take it away, with
    // what is typed in it.
    const isHere = page.ownerDocument === document;
    pages.set(path, isHere ? page : document.adoptNode(page));
  }

  // Takes pages that came anew; one in which somebody is typing stays as it is.
  function renewPages(found) {
    const fresh = new Map(found);
    for (const [path, page] of pages) {
      if (page.dataset.typed && fresh.has(path)) fresh.set(path, page);
    }
    pages.clear();
    [...fresh].forEach(put);
    const before = current();
    const now = pages.get(before?.dataset.path);
    if (!now || now === before) return;
    const held = before.contains(document.activeElement);
    before.replaceWith(now);
    if (held) now.querySelector("h1").focus({ preventScroll: true });
  }

  function renewList(fresh) {
    const held = list.contains(document.activeElement) ? document.activeElement.pathname : "";
    list.replaceChildren(...fresh.children);
    const link = held && links().find((other) => other.pathname === held);
    if (link) link.focus();
  }

  // Says in the list where one is, and which answers still wait.
  function markList(unsent) {
    for (const link of links()) {
      link.classList.toggle("not-sent", unsent.has(link.pathname));
      if (link.pathname === location.pathname) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    }
  }

  function place() {
    const { dataset } = current();
    document.querySelector("[data-place]").textContent = dataset.place;
    root.classList.toggle("at-list", dataset.path === root.dataset.run);
    root.classList.toggle("at-one", dataset.path !== root.dataset.run);
  }

  function tick() {
    for (const since of screen.querySelectorAll("[data-since]")) {
      since.textContent = lastedWords(new Date(since.dataset.since), Date.now());
    }
  }

  // Brings a page to the screen; false when it is not here.
  function show(path) {
    const page = pages.get(path);
    if (!page) return false;
    screen.replaceChildren(page);
    document.title = page.dataset.title;
    place();
    changed();
    tick();
    window.scrollTo(0, 0);
    page.querySelector("h1").focus({ preventScroll: true });
    return true;
  }

  return {
    current,
    markList,
    place,
    renewList,
    renewPages,
    show,
    tick,
    add: (found) => found.forEach(put),
    has: (path) => pages.has(path),
    // A copy answers for every step; one that has come since is not in it.
    isAstray: () => current().dataset.path !== location.pathname,
    // The page shows what stood when it came; after one's own answer that is what stands now.
    followed(path, seen) {
      const inputs = pages.get(path)?.querySelectorAll("input[name=seen]") || [];
      for (const input of inputs) input.value = seen;
    },
  };
}
