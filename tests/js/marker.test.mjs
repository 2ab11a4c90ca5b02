import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

import { databaseOf, forgetKeeper, lastKeeper, rememberKeeper, setUnsent, unsentOf } from "../../static/js/marker.js";

let deleted;

class Shelf extends Map {
  getItem(key) {
    return this.get(key) ?? null;
  }
  setItem(key, value) {
    this.set(key, String(value));
  }
  removeItem(key) {
    this.delete(key);
  }
}

function put(name, value) {
  Object.defineProperty(globalThis, name, { value, configurable: true, writable: true });
}

beforeEach(() => {
  deleted = [];
  put("localStorage", new Shelf());
  put("indexedDB", { deleteDatabase: (name) => deleted.push(name) });
});

test("the keeper signed in last is remembered until they sign out", () => {
  assert.equal(lastKeeper(), "");
  rememberKeeper("7");
  assert.equal(lastKeeper(), "7");
  forgetKeeper("7");
  assert.equal(lastKeeper(), "");
});

test("readings and notes that wait are counted apart, keeper by keeper", () => {
  setUnsent("7", "reading", 3);
  setUnsent("7", "note", 1);
  assert.deepEqual([unsentOf("7", "reading"), unsentOf("7", "note"), unsentOf("8", "reading")], [3, 1, 0]);
  setUnsent("7", "reading", 0);
  assert.equal(unsentOf("7", "reading"), 0);
  assert.equal(localStorage.size, 1);
});

test("signing out deletes the keeper's own database once all is saved", () => {
  forgetKeeper("7");
  assert.deepEqual(deleted, [databaseOf("7")]);
});

test("what was not saved waits for its own keeper", () => {
  for (const kind of ["reading", "note"]) {
    setUnsent("7", kind, 2);
    forgetKeeper("7");
    assert.deepEqual(deleted, []);
    setUnsent("7", kind, 0);
  }
});

test("a forbidden store does not stop the page", () => {
  put("localStorage", undefined);
  rememberKeeper("7");
  setUnsent("7", "reading", 1);
  forgetKeeper("7");
  assert.equal(lastKeeper(), "");
  assert.equal(unsentOf("7", "reading"), 0);
});
