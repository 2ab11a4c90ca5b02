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

// Photos of a note that the server has not taken yet, as {key, file}. Notes that were kept before a
// note could have several carry one, in fields of its own.
function photosLeft({ photos, photo, photoKey }) {
  return photos ?? (photo ? [{ key: photoKey, file: photo }] : []);
}

class NoteStore {
  constructor(db, keeper) {
    this.db = db;
    this.keeper = keeper;
  }

  write(names) {
    return this.db.transaction(names, "readwrite", { durability: "strict" });
  }

  /** Keep a round's page, so that it opens without a network; saved notes of other `days` go. */
  async keepPage(page, days) {
    const change = this.write(["rounds", "notes"]);
    change.objectStore("rounds").put(page);
    const notes = change.objectStore("notes");
    for (const note of await result(notes.index("tank").getAll(page.pk))) {
      if (!note.sent) continue;
      if (!days.includes(note.noted_on)) notes.delete(note.id);
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

  /** Keep a note; resolves with it once it is safely on the device. `files` are its new photos. */
  async keep(note, files) {
    const change = this.write(["notes"]);
    const notes = change.objectStore("notes");
    const before = note.id ? await result(notes.get(note.id)) : null;
    const photos = [...photosLeft(before ?? {}), ...files.map((file) => ({ key: newMark(), file }))];
    const kept = {
      ...before, ...note, id: note.id ?? newMark(), edition: (before?.edition ?? 0) + 1, sent: 0, refused: "", told: "",
      photos, photo: null, photoCount: (before?.photoCount ?? (before?.photoKey ? 1 : 0)) + files.length,
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
      const [first] = photosLeft(note);
      if (notes.length === BATCH || (photo && first)) break;
      notes.push(note);
      if (first) photo = { of: note.id, ...first };
    }
    const shown = notes.map((note) => ({
      id: note.id, edition: note.edition, knows: note.knows ?? 0, coral: note.coral, noted_on: note.day ?? note.noted_on,
      noted_time: note.noted_time ?? "", noted_by: note.noted_by ?? "", condition: note.condition, seen: note.seen,
      also_seen: note.also_seen ?? [], where: note.where, text: note.text,
      strength: note.strength ?? null, photo: note.id === photo?.of ? photo.key : null,
    }));
    body.append("keeper", page.keeper);
    body.append("notes", JSON.stringify(shown));
    if (photo) body.append(photo.key, photo.file, "photo");
    const editions = new Map(notes.map((note) => [note.id, note.edition]));
    const hasMorePhotos = notes.some((note) => photosLeft(note).length > (note.id === photo?.of ? 1 : 0));
    const isMore = waiting.length > notes.length || hasMorePhotos;
    return { body, editions, photo, isMore, patience: photo ? PHOTO_PATIENCE_MS : undefined };
  }

  /** Take the server's answer to a batch. */
  async takeAnswer(tank, { accepted, refused, standing, told }, { editions, photo }) {
    const change = this.write(["notes"]);
    const notes = change.objectStore("notes");
    for (const id of accepted) {
      const note = await result(notes.get(id));
      if (!note) continue;
      const photos = photosLeft(note).filter(({ key }) => key !== photo?.key);
      // Changed since it went out, it was changed without knowing of this answer.
      if (note.edition !== editions.get(id)) {
        notes.put({ ...note, photos, photo: null });
        continue;
      }
      // With photos left it goes out again, as the same change with the next of them.
      const saved = { ...note, sent: photos.length ? 0 : 1, refused: "", photos, photo: null, told: told[id] ?? "" };
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
