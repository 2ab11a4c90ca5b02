// What this device keeps: pages of surveys, their points, and every edit until it is saved.
//
// One database per keeper, so that nobody on a shared computer meets another's readings. An edit
// is written in one transaction with what it changes, and only counts once that is done. No clock
// is asked: an edit of a point has one revision more than this device knows of, and edits go out
// in the order of their sequence numbers.

import { newMark } from "../../marks.js";
import { databaseOf, setUnsent } from "../../marker.js";

const COLUMNS = ["x_cm", "y_cm", "depth_cm", "value_umol", "spread_umol"];
const STORES = ["edits", "points", "meta"];
const BATCH = 200;

export function result(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

export function done(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
}

function lay(db, from) {
  if (from < 1) laySurveys(db);
  if (from < 2) layRounds(db);
}

function laySurveys(db) {
  db.createObjectStore("surveys", { keyPath: "pk" });
  const points = db.createObjectStore("points", { keyPath: ["survey", "point"] });
  points.createIndex("survey", "survey");
  const edits = db.createObjectStore("edits", { keyPath: "sequence", autoIncrement: true });
  edits.createIndex("survey", "survey");
  edits.createIndex("point", ["survey", "point"]);
  edits.createIndex("sent", ["survey", "sent"]);
  db.createObjectStore("meta");
}

function layRounds(db) {
  db.createObjectStore("rounds", { keyPath: "pk" });
  const notes = db.createObjectStore("notes", { keyPath: "id" });
  notes.createIndex("tank", "tank");
  notes.createIndex("sent", ["tank", "sent"]);
}

function rowOf(point) {
  if (!point || point.removed) return null;
  return Object.fromEntries(COLUMNS.map((name) => [name, point[name] ?? null]));
}

function outranks(one, other) {
  if (!other) return true;
  return one.revision === other.revision ? one.device > other.device : one.revision > other.revision;
}

class Store {
  constructor(db, keeper, device) {
    this.db = db;
    this.keeper = keeper;
    this.device = device;
  }

  write(names = STORES) {
    return this.db.transaction(names, "readwrite", { durability: "strict" });
  }

  /** Keep a survey's page, so that it opens without a network. */
  async keepPage(page) {
    const change = this.write([...STORES, "surveys"]);
    change.objectStore("surveys").put(page);
    await this.#takeState(change, page.pk, page.points);
    await done(change);
  }

  page(pk) {
    return result(this.db.transaction("surveys").objectStore("surveys").get(pk));
  }

  pages() {
    return result(this.db.transaction("surveys").objectStore("surveys").getAll());
  }

  /** Every point of a survey that has a reading, as {point: {x_cm, ..., value_umol, ...}}. */
  async points(survey) {
    const rows = await result(this.db.transaction("points").objectStore("points").index("survey").getAll(survey));
    return new Map(rows.filter((row) => !row.removed).map((row) => [row.point, row]));
  }

  /** Keep a reading at a point (row null takes it back); resolves once it is safely on the device. */
  async keep(survey, point, row, { burst = [] } = {}) {
    const change = this.write();
    const edit = await this.#edit(change, survey, point, row, { burst });
    await done(change);
    await this.#count();
    return edit;
  }

  /** Take back the last edit of this device that still stands; resolves with it, or null. */
  async undo(survey) {
    const change = this.write();
    const edits = change.objectStore("edits");
    const all = await result(edits.index("survey").getAll(survey));
    const last = all.findLast((edit) => !edit.undone && !edit.undoes);
    if (last) {
      edits.put({ ...last, undone: true });
      await this.#edit(change, survey, last.point, last.before, { undoes: last.sequence });
    }
    await done(change);
    await this.#count();
    return last ?? null;
  }

  async canUndo(survey) {
    const all = await result(this.db.transaction("edits").objectStore("edits").index("survey").getAll(survey));
    return all.some((edit) => !edit.undone && !edit.undoes);
  }

  /** Edits of a survey that the server has not taken, in order. */
  unsent(survey) {
    return result(this.db.transaction("edits").objectStore("edits").index("sent").getAll([survey, 0]));
  }

  /** The next edits to send: what they are as a request, and whether more may wait behind. */
  async batch(page) {
    const waiting = (await this.unsent(page.pk)).slice(0, BATCH);
    const edits = waiting.map(({ id, point, sequence, revision, removed, burst, x_cm, y_cm, depth_cm, value_umol, spread_umol }) => ({
      id, point, sequence, revision, removed, burst, x_cm, y_cm, depth_cm, value_umol, spread_umol,
    }));
    return {
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ keeper: page.keeper, device: this.device, edits }),
      isMore: waiting.length === BATCH,
    };
  }

  /** Take the server's answer: what it accepted is saved, what it knows of points holds. */
  async takeAnswer(survey, { accepted = [], refused = {}, points, saved }) {
    const change = this.write([...STORES, "surveys"]);
    const edits = change.objectStore("edits");
    const taken = new Set(accepted);
    for (const edit of await result(edits.index("sent").getAll([survey, 0]))) {
      if (taken.has(edit.id)) edits.put({ ...edit, sent: 1, refused: "" });
      else if (edit.id in refused) edits.put({ ...edit, refused: refused[edit.id] });
    }
    const page = await result(change.objectStore("surveys").get(survey));
    if (page) change.objectStore("surveys").put({ ...page, saved });
    await this.#takeState(change, survey, points);
    await done(change);
    await this.#count();
  }

  async #edit(change, survey, point, row, more) {
    const [points, edits] = [change.objectStore("points"), change.objectStore("edits")];
    const known = await result(points.get([survey, point]));
    const own = await result(edits.index("point").getAll([survey, point]));
    const revision = Math.max(known?.revision ?? 0, ...own.map((edit) => edit.revision)) + 1;
    const stand = { survey, point, revision, device: this.device, removed: !row, ...row };
    const edit = { ...stand, ...more, id: newMark(), before: rowOf(known), undone: false, sent: 0, refused: "" };
    points.put(stand);
    edit.sequence = await result(edits.add(edit));
    return edit;
  }

  // What the server says stands, and over it the edits it has not seen.
  async #takeState(change, survey, stated) {
    const points = change.objectStore("points");
    const held = new Map(stated.map((point) => [point.point, { ...point, survey }]));
    const waiting = await result(change.objectStore("edits").index("sent").getAll([survey, 0]));
    for (const edit of waiting) {
      if (!outranks(edit, held.get(edit.point))) continue;
      const { point, revision, device, removed } = edit;
      held.set(point, { survey, point, revision, device, removed, ...rowOf(edit) });
    }
    for (const key of await result(points.index("survey").getAllKeys(survey))) points.delete(key);
    for (const point of held.values()) points.put(point);
  }

  async #count() {
    const all = await result(this.db.transaction("edits").objectStore("edits").getAll());
    setUnsent(this.keeper, "reading", all.filter((edit) => !edit.sent).length);
  }
}

/** Open the keeper's own database on this device: surveys and rounds share it. */
export async function openDatabase(keeper) {
  const request = indexedDB.open(databaseOf(keeper), 2);
  request.onupgradeneeded = (event) => lay(request.result, event.oldVersion);
  const db = await result(request);
  // Signing out, or a newer page, in another tab may want the database: let it.
  db.onversionchange = () => db.close();
  return db;
}

/** Open what the keeper's surveys left on this device. */
export async function openStore(keeper) {
  const db = await openDatabase(keeper);
  const change = db.transaction("meta", "readwrite");
  const meta = change.objectStore("meta");
  let device = await result(meta.get("device"));
  if (!device) {
    device = newMark();
    meta.put(device, "device");
  }
  await done(change);
  return new Store(db, keeper, device);
}
