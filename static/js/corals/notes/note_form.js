// The form of one coral's new note where the network is gone: what was written is kept on the device
// with its photos, as a note of the round, and sent by itself when the network is back, once.

import { openNotes } from "./notes.js";
import { dropDraft } from "../../drafts.js";
import { startWithoutNetworkFromNowOn } from "../../surveys/entry/offline.js";
import { Sender } from "../../surveys/entry/sending.js";

// Beside the tank nobody waits longer to learn whether the server can be reached [ms].
const PATIENCE_MS = 4000;

const form = document.querySelector("#note-form");
const box = document.querySelector("#note-kept");
const page = JSON.parse(document.querySelector("#round-data").textContent);

async function isReached() {
  if (!navigator.onLine) return false;
  try {
    await fetch(page.urls.sync, { credentials: "same-origin", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    return true;
  } catch {
    return false;
  }
}

function say(text) {
  const line = document.querySelector("#note-said");
  line.textContent = text;
  line.hidden = !text;
  if (text) line.scrollIntoView({ block: "center" });
}

/** What the form lacks to be a note, in words; empty where it is one. */
function lacking(fields) {
  const { seen, condition, called } = form.elements;
  if (fields.getAll("photo").length > Number(form.dataset.most)) return `A note holds at most ${form.dataset.most} photos.`;
  if (!seen.value && called.value.trim()) return "There is no network to look up that word. Tap the nearest sign.";
  return seen.value || condition.value ? "" : "Tap how it is, or what is seen.";
}

function noteOf(fields) {
  const { seen, where, text, condition, strength } = form.elements;
  return {
    tank: page.pk, coral: Number(form.dataset.coral), noted_on: fields.get("noted_on"), noted_time: fields.get("noted_time"),
    noted_by: fields.get("noted_by").trim(), condition: Number(condition.value) || null, seen: seen.value || "well",
    also_seen: fields.getAll("also_seen"), strength: Number(strength.value) || null, where: where.value, text: text.value.trim(),
  };
}

function show(state) {
  for (const part of box.querySelectorAll("[data-kept]")) part.hidden = part.dataset.kept !== state;
  form.hidden = true;
  box.hidden = false;
  box.focus();
}

async function keep() {
  const fields = new FormData(form);
  const problem = lacking(fields);
  say(problem);
  if (problem) return;
  const store = await openNotes(document.body.dataset.keeper);
  // The whole round may lie here already; it is more than this one coral.
  if (!(await store.page(page.pk))) await store.keepPage(page, [fields.get("noted_on")]);
  await store.keep(noteOf(fields), fields.getAll("photo").filter((file) => file.size));
  dropDraft(form.dataset.keep);
  form.dataset.keepStopped = "";
  show("waiting");
  new Sender(store, page, async (state) => state === "saved" && !(await store.unsent(page.pk)).length && show("sent")).wake();
}

let isBusy = false;

form.addEventListener("submit", async (event) => {
  if ("reached" in form.dataset) return;
  event.preventDefault();
  // A double tap is one note.
  if (isBusy) return;
  isBusy = true;
  try {
    if (await isReached()) {
      form.dataset.reached = "";
      form.requestSubmit();
    } else await keep();
  } catch (problem) {
    say(`This device could not keep that (${problem?.name ?? "no room"}). Write it down, and free some room.`);
  } finally {
    isBusy = false;
  }
});

startWithoutNetworkFromNowOn().catch(() => {});
