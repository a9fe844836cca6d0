// Addresses of run sheets.

const BELOW = /^(\d+\/)(whole|[-\w]+\/[^/]+\/)?$/; // a stage, and in it the whole sheet or one item

// The address of the run sheet that an address belongs to, or "". Those of one site begin alike.
export function sheetOf(start, path) {
  if (!path.startsWith(start)) return "";
  const found = BELOW.exec(path.slice(start.length));
  return found ? start + found[1] : "";
}
