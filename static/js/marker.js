// Who signed in last on this device, and how many of their readings and notes are not saved yet.
//
// Small facts in localStorage, so that every page can read them at once. The entries
// themselves are in the keeper's own database (store.js).

const LAST = "reeflog-keeper";
const UNSENT = { reading: "reeflog-unsent:", note: "reeflog-unsent-notes:" };

function attempt(work, otherwise) {
  try {
    return work();
  } catch {
    // A forbidden store must not stop the page.
    return otherwise;
  }
}

export function databaseOf(keeper) {
  return `reeflog-keeper-${keeper}`;
}

export function rememberKeeper(keeper) {
  attempt(() => localStorage.setItem(LAST, keeper));
}

/** The keeper signed in last who did not sign out, or an empty text. */
export function lastKeeper() {
  return attempt(() => localStorage.getItem(LAST), "") ?? "";
}

/** How many entries of a kind, "reading" or "note", wait on this device. */
export function unsentOf(keeper, kind) {
  return Number(attempt(() => localStorage.getItem(UNSENT[kind] + keeper), 0)) || 0;
}

export function setUnsent(keeper, kind, count) {
  const key = UNSENT[kind] + keeper;
  attempt(() => (count ? localStorage.setItem(key, count) : localStorage.removeItem(key)));
}

/** The keeper signs out: the next one finds nothing, and what was not saved waits for its own. */
export function forgetKeeper(keeper) {
  attempt(() => localStorage.removeItem(LAST));
  const waiting = Object.keys(UNSENT).some((kind) => unsentOf(keeper, kind));
  if (!waiting) attempt(() => indexedDB.deleteDatabase(databaseOf(keeper)));
}
