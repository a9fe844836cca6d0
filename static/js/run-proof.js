// What would surely be refused is said at once: later nobody stands in front of the machine any
// more. The house asks again (planner/stages/answers.py).

const NUMBER = /^-?\d+([.,]\d+)?$/;

function bound(given, otherwise) {
  return given === undefined ? otherwise : Number(given);
}

function isEnough(wants, { note, measured, photos }) {
  if (wants === "note") return note !== "";
  if (wants === "photo") return photos > 0;
  if (wants === "value") return measured !== "";
  if (wants === "probe") return note !== "" || photos > 0;
  return false;
}

// asked: what the form says of its check (its data-… attributes). given: the state that was
// pressed, the note, the value measured, and how many photos. Gives words, or "".
export function missing(asked, given) {
  if (given.state !== "proven" || !asked.wants) return "";
  const note = given.note.trim();
  const measured = given.measured.trim();
  if (!isEnough(asked.wants, { note, measured, photos: given.photos })) return asked.missing;
  if (!asked.unit || !NUMBER.test(measured)) return "";
  const number = Number(measured.replace(",", "."));
  const isLow = number < bound(asked.low, -Infinity);
  const isHigh = number > bound(asked.high, Infinity);
  if (!isLow && !isHigh) return "";
  return `${measured} is not ${asked.range}: that is failed, not proven.`;
}
