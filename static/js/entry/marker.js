// Who signed in last on this device, and how many of their readings are not saved yet.
//
// Small facts in localStorage, so that every page can read them at once. The readings
// themselves are in the keeper's own database (store.js).

const LAST = "reeflog-keeper";
const UNSENT = "reeflog-unsent:";

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

export function unsentOf(keeper) {
  return Number(attempt(() => localStorage.getItem(UNSENT + keeper), 0)) || 0;
}

export function setUnsent(keeper, count) {
  attempt(() => (count ? localStorage.setItem(UNSENT + keeper, count) : localStorage.removeItem(UNSENT + keeper)));
}

/** The keeper signs out: the next one finds nothing, and what was not saved waits for its own. */
export function forgetKeeper(keeper) {
  attempt(() => localStorage.removeItem(LAST));
  if (!unsentOf(keeper)) attempt(() => indexedDB.deleteDatabase(databaseOf(keeper)));
}
