// What this device keeps of notes rounds: the corals of each tank, and every note until it is saved.
//
// A note keeps one mark from its first tap on, so that sent twice it is stored once, and changed
// before the day is over it is the same note. `edition` counts its changes on this device: what was
// changed while it was on its way is sent again. `knows` is the server's version that was on the
// screen when it was changed, so that what a page saved meanwhile is not lost under it.

import { setUnsent } from "../../marker.js";
import { newMark } from "../../marks.js";
import { done, openDatabase, result } from "../../surveys/entry/store.js";

const BATCH = 20;
// A photo of a phone over a slow network [ms].
const PHOTO_PATIENCE_MS = 120_000;

// A note as the server says it stands. The device files it by its own `noted_on`, whose clock may be
// wrong; `day` is the server's.
function asItStands(note, { noted_on: day, ...stands }) {
  return { ...note, ...stands, day };
}

class NoteStore {
  constructor(db, keeper) {
    this.db = db;
    this.keeper = keeper;
  }

  write(names) {
    return this.db.transaction(names, "readwrite", { durability: "strict" });
  }

  /** Keep a round's page, so that it opens without a network; saved notes of earlier days go. */
  async keepPage(page, today) {
    const change = this.write(["rounds", "notes"]);
    change.objectStore("rounds").put(page);
    const notes = change.objectStore("notes");
    for (const note of await result(notes.index("tank").getAll(page.pk))) {
      if (!note.sent) continue;
      if (note.noted_on !== today) notes.delete(note.id);
      else if (page.noted[note.id]) notes.put(asItStands(note, page.noted[note.id]));
    }
    await done(change);
  }

  page(pk) {
    return result(this.db.transaction("rounds").objectStore("rounds").get(pk));
  }

  pages() {
    return result(this.db.transaction("rounds").objectStore("rounds").getAll());
  }

  /** The notes of a day as Map(coral: note). */
  async notes(tank, day) {
    const all = await this.#all(tank);
    return new Map(all.filter((note) => note.noted_on === day && !note.removed).map((note) => [note.coral, note]));
  }

  /** The notes of which the server told what the keeper must know. */
  async toldOf(tank) {
    return (await this.#all(tank)).filter((note) => note.told);
  }

  /** The keeper has read what was told. */
  async hear(tank) {
    const change = this.write(["notes"]);
    const notes = change.objectStore("notes");
    for (const note of await result(notes.index("tank").getAll(tank))) {
      if (note.told) notes.put({ ...note, told: "" });
    }
    await done(change);
  }

  #all(tank) {
    return result(this.db.transaction("notes").objectStore("notes").index("tank").getAll(tank));
  }

  /** Keep a note; resolves with it once it is safely on the device. `photo` is a new File or null. */
  async keep(note, photo) {
    const change = this.write(["notes"]);
    const notes = change.objectStore("notes");
    const before = note.id ? await result(notes.get(note.id)) : null;
    const kept = {
      ...before, ...note, id: note.id ?? newMark(), edition: (before?.edition ?? 0) + 1, sent: 0, refused: "", told: "",
      ...(photo ? { photo, photoKey: newMark() } : {}),
    };
    notes.put(kept);
    await done(change);
    await this.#count();
    return kept;
  }

  /** Notes of a tank that the server has not taken; those it refused come last. */
  async unsent(tank) {
    const waiting = await result(this.db.transaction("notes").objectStore("notes").index("sent").getAll([tank, 0]));
    return waiting.sort((one, other) => Boolean(one.refused) - Boolean(other.refused));
  }

  /** The next notes to send as a request: at most one photo travels at a time. */
  async batch(page) {
    const waiting = await this.unsent(page.pk);
    const [notes, body] = [[], new FormData()];
    let photo = null;
    for (const note of waiting) {
      if (notes.length === BATCH || (photo && note.photo)) break;
      notes.push(note);
      photo ??= note.photo ? note : null;
    }
    const shown = notes.map(({ id, edition, knows, coral, noted_on, day, condition, seen, also_seen, where, text, photoKey }) => ({
      id, edition, knows: knows ?? 0, coral, noted_on: day ?? noted_on, condition, seen, also_seen: also_seen ?? [],
      where, text, photo: photoKey ?? null,
    }));
    body.append("keeper", page.keeper);
    body.append("notes", JSON.stringify(shown));
    if (photo) body.append(photo.photoKey, photo.photo, "photo");
    const editions = new Map(notes.map((note) => [note.id, note.edition]));
    return { body, editions, isMore: waiting.length > notes.length, patience: photo ? PHOTO_PATIENCE_MS : undefined };
  }

  /** Take the server's answer to a batch. */
  async takeAnswer(tank, { accepted, refused, standing, told }, { editions }) {
    const change = this.write(["notes"]);
    const notes = change.objectStore("notes");
    for (const id of accepted) {
      const note = await result(notes.get(id));
      // Changed since it went out, it was changed without knowing of this answer.
      if (note?.edition !== editions.get(id)) continue;
      const saved = { ...note, sent: 1, refused: "", photo: null, told: told[id] ?? "" };
      notes.put(asItStands(saved, standing[id]));
    }
    for (const [id, why] of Object.entries(refused)) {
      const note = await result(notes.get(id));
      if (note) notes.put({ ...note, refused: why });
    }
    await done(change);
    await this.#count();
  }

  async #count() {
    const all = await result(this.db.transaction("notes").objectStore("notes").getAll());
    setUnsent(this.keeper, "note", all.filter((note) => !note.sent).length);
  }
}

/** Open what the keeper's rounds left on this device. */
export async function openNotes(keeper) {
  return new NoteStore(await openDatabase(keeper), keeper);
}
