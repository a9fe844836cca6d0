// An answer that waits: an address, fields, photos, whose it is and since when. One with trouble
// must be looked at first: somebody answered meanwhile, or the house refused it.

const LONGEST_PAUSE = 30; // seconds between two tries
const FIRST_PAUSE = 4;

const REFUSED = {
  403: "You may not answer here. Reload the page, then try again.",
  404: "This is not asked here any more.",
  413: "That is too large to be sent.",
};

export function setField(entry, name, value) {
  const others = entry.fields.filter(([other]) => other !== name);
  entry.fields = [...others, [name, value]];
}

// The oldest that can be sent: not behind another of the same check that must be looked at first.
export function nextToSend(waiting, person) {
  const troubled = waiting.filter((entry) => entry.trouble);
  const stuck = new Set(troubled.map((entry) => entry.url));
  return waiting.find((entry) => entry.person === person && !stuck.has(entry.url));
}

// Each pause between two tries is twice as long as the one before, up to a bound.
export function pauseAfter(pause) {
  if (!pause) return FIRST_PAUSE;
  return Math.min(pause * 2, LONGEST_PAUSE);
}

// Whether what answered was not the house: some networks put their own page before everything.
export function isAway({ ok, status, isJson }) {
  return status >= 500 || status === 429 || (ok && !isJson);
}

// What keeps an entry from being sent again as it is.
export function troubleOf(status, told) {
  if (status === 409) return { clash: told.clash, seen: told.seen };
  const refused = told.refused || REFUSED[status] || "The house did not take it.";
  return { refused, harmless: told.no_secret };
}

// The same answer once more: as the newer one of two, or as one that holds no secret.
export function mend(entry, { token, at, isHarmless }) {
  const { seen, harmless } = entry.trouble;
  delete entry.trouble;
  entry.token = token;
  entry.at = at;
  if (seen !== undefined) setField(entry, "seen", String(seen));
  if (!isHarmless) return;
  for (const [name, value] of Object.entries(harmless || {})) setField(entry, name, value);
}
