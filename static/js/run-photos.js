// Photos and files chosen for an answer, made small enough to wait on the device.
import { made } from "./elements.js";
import { sizeWords } from "./run-words.js";

const LONGEST = 2400; // pixels: a photo is made no larger before it waits here
const QUALITY = 0.85;

// The sides of a photo within the bound, in whole pixels.
export function sidesWithin(width, height, longest = LONGEST) {
  const scale = Math.min(1, longest / Math.max(width, height));
  return { width: Math.round(width * scale), height: Math.round(height * scale) };
}

async function drawnSmaller(file) {
  const picture = await createImageBitmap(file);
  const canvas = made("canvas", sidesWithin(picture.width, picture.height));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve) => {
    canvas.toBlob(resolve, "image/jpeg", QUALITY);
  });
}

// The photo made smaller, or the file itself: no photo, none that can be read, or none the smaller.
async function smaller(file) {
  if (!file.type.startsWith("image/") || !window.createImageBitmap) return file;
  try {
    const drawn = await drawnSmaller(file);
    return drawn && drawn.size < file.size ? drawn : file;
  } catch {
    return file;
  }
}

function row({ name, content }, at) {
  const away = made("button", { type: "button", className: "quiet", value: at }, "Leave out");
  away.setAttribute("aria-label", `Leave out ${name}`);
  return made("li", {}, `${name}, ${sizeWords(content.size)} `, away);
}

export function makePhotos() {
  const chosen = new WeakMap(); // by form

  function of(form) {
    if (!chosen.has(form)) chosen.set(form, []);
    return chosen.get(form);
  }

  function list(form) {
    form.closest(".run-item").dataset.typed = "yes";
    form.querySelector("[data-chosen]").replaceChildren(...of(form).map(row));
  }

  function choose({ form, files }) {
    for (const file of files) {
      const photo = { name: file.name, content: file, ready: null };
      photo.ready = smaller(file).then((content) => {
        photo.content = content;
        list(form);
      });
      of(form).push(photo);
    }
    list(form);
  }

  function leaveOut(form, at) {
    of(form).splice(at, 1);
    list(form);
  }

  // All photos of a form, once each is as small as it gets.
  async function ready(form) {
    const photos = of(form);
    await Promise.all(photos.map((photo) => photo.ready));
    return photos.map(({ name, content }) => ({ name, content }));
  }

  function clear(form) {
    chosen.delete(form);
    form.querySelector("[data-chosen]")?.replaceChildren();
  }

  return { choose, clear, leaveOut, ready };
}
