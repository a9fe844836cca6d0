// What a run sheet says of answers that wait, of its copy, and of time.

const COUNTS = ["No answers", "One answer", "Two answers", "Three answers", "Four answers"];
const NEEDS_LINE = "Opening this page again needs the line; what you answer is kept.";
const DAY = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short" });
const MINUTE = 60000; // ms

export function clock(at) {
  return new Date(at).toTimeString().slice(0, 5);
}

// Since when, in minutes; after two hours in hours and minutes.
export function lastedWords(since, now) {
  const minutes = Math.max(0, Math.floor((now - since) / MINUTE));
  if (minutes < 120) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

export function sizeWords(bytes) {
  return `${Math.max(1, Math.round(bytes / 1024))} KB`;
}

// -- the banner ----------------------------------------------------------------------------------

// state: isCopy, copyWords, isAstray, signedOut, offlineSince; how many wait quietly, how many are
// troubled, how many are somebody else's.
export function needsSignIn({ signedOut, quiet, isCopy }) {
  return signedOut && (quiet > 0 || isCopy);
}

function lineWords(state) {
  if (needsSignIn(state)) {
    return `You are signed out: sign in again${state.quiet ? " to send them" : ""}.`;
  }
  if (state.isCopy) return "No line.";
  if (state.offlineSince) return `No line since ${clock(state.offlineSince)}.`;
  return "";
}

function quietWords(quiet) {
  const count = COUNTS[quiet] || `${quiet} answers`;
  return `${count} wait${quiet === 1 ? "s" : ""} on this device. Not sent yet.`;
}

export function bannerWords(state) {
  const words = [lineWords(state)];
  if (state.isCopy) words.push(state.copyWords);
  if (state.isAstray) {
    words.push("What you opened is not in it: here is the start of the run sheet.");
  }
  if (state.quiet) words.push(quietWords(state.quiet));
  if (state.troubled) words.push(`${state.troubled} must be looked at.`);
  if (state.others) {
    words.push(
      "Answers of somebody else wait on this device; they are sent when that person signs in.",
    );
  }
  return words.filter(Boolean).join(" ");
}

// -- an answer that waits ------------------------------------------------------------------------

function photoWords(count) {
  if (!count) return "";
  return ` – ${count} photo${count > 1 ? "s" : ""}`;
}

export function pendingWords(entry) {
  const { measured, note } = Object.fromEntries(entry.fields);
  const said = [entry.label, measured, note].filter(Boolean).join(" – ");
  if (entry.trouble) return `Not taken: ${entry.trouble.refused} (${said})`;
  const photos = photoWords((entry.blobs || []).length);
  return `Not sent yet: ${said}${photos} (${clock(entry.at)})`;
}

// -- the copy on this device ---------------------------------------------------------------------

export function standingWords({ until, wanted }) {
  if (until) {
    const last = DAY.format(until);
    return `Kept on this device: this run sheet opens without a line until ${last}.`;
  }
  return wanted ? NEEDS_LINE : `Not kept on this device. ${NEEDS_LINE}`;
}

export function copyWords(made, now) {
  const isToday = made.toDateString() === now.toDateString();
  const moment = isToday ? clock(made) : `${DAY.format(made)}, ${clock(made)}`;
  return `This is the copy of ${moment}.`;
}

// -- signing out ---------------------------------------------------------------------------------

export function leavingWords(count) {
  if (count === 1) {
    return (
      "One answer waits on this device, not sent yet. Open a run sheet to send it. " +
      "If you sign out now, it stays on this device until whoever gave it signs in here again."
    );
  }
  return (
    `${count} answers wait on this device, not sent yet. Open a run sheet to send them. ` +
    "If you sign out now, they stay on this device until whoever gave them signs in here again."
  );
}

export function leavingButton(count) {
  return count === 1 ? "Sign out and leave it here" : "Sign out and leave them here";
}
