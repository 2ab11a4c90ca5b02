// The notes round beside the tank: one coral at a time, kept on this device at once and sent when it
// can be. Works from what the server put in the page or, started without a network, from what this
// device kept when the page was last opened.

import { lastKeeper } from "../../marker.js";
import { openNotes } from "./notes.js";
import { startWithoutNetworkFromNowOn, stayBesideTheTank } from "../../surveys/entry/offline.js";
import { Sender } from "../../surveys/entry/sending.js";

const $ = (selector) => document.querySelector(selector);
const keeper = document.body.dataset.keeper || lastKeeper();

/** The date it is at the tank, by this device's clock: 2026-05-03. */
function dayAt(timeZone) {
  return new Intl.DateTimeFormat("en-CA", { timeZone, year: "numeric", month: "2-digit", day: "2-digit" }).format(new Date());
}

const whenKey = (tank) => `round-when-${tank}`;

/** The day, time and eyes that were chosen for a tank's round in this tab: {day, time, by} or null. */
function whenKept(tank) {
  return JSON.parse(sessionStorage.getItem(whenKey(tank)) ?? "null");
}

class Round {
  at = 0;
  notes = new Map();

  constructor(store, page) {
    Object.assign(this, { store, page, form: $("#round-form") });
    this.sender = new Sender(store, page, (state) => this.told(state));
  }

  /** The day the notes are of: today, unless an earlier one was chosen for this round. */
  get day() {
    const [chosen, today] = [$("#round-day").value, dayAt(this.page.timeZone)];
    return chosen && chosen < today ? chosen : today;
  }

  get coral() {
    return this.page.corals[this.at];
  }

  /** Show the first coral that is left, or the one of this key. */
  async start(coral = 0) {
    document.querySelectorAll("[data-to]").forEach((link) => (link.href = this.page.urls[link.dataset.to]));
    this.signs = JSON.parse($("#signs-by-word")?.textContent ?? "{}");
    this.recallWhen();
    this.notes = await this.store.notes(this.page.pk, this.day);
    const left = this.page.corals.findIndex((coral) => !this.isNoted(coral));
    const wanted = this.page.corals.findIndex(({ pk }) => pk === coral);
    this.at = wanted < 0 ? Math.max(left, 0) : wanted;
    $("#round-when").addEventListener("change", () => this.changeWhen());
    $("#round-called").addEventListener("change", ({ target }) => this.chooseCalled(target));
    this.form.addEventListener("submit", (event) => this.keep(event));
    this.form.addEventListener("input", () => this.touch());
    this.form.addEventListener("change", () => this.showChange());
    $("#round-desk").addEventListener("click", (event) => this.clicked(event));
    // A photo of the last note that can't be had without a network leaves no hole.
    $("#round-photo").addEventListener("error", ({ target }) => (target.hidden = true));
    $("#round-desk").hidden = !this.page.corals.length;
    $("#round-empty").hidden = this.page.corals.length > 0;
    await this.counted();
    if (this.page.corals.length) this.show();
    this.sender.wake();
  }

  // A reload in the middle of last Sunday's round must not make it today's.
  recallWhen() {
    const kept = whenKept(this.page.pk);
    $("#round-day").max = dayAt(this.page.timeZone);
    $("#round-day").value = kept?.day || dayAt(this.page.timeZone);
    $("#round-time").value = kept?.time ?? "";
    $("#round-by").value = kept?.by ?? "";
    $("#round-when").open = Boolean(kept);
    this.sayWhen();
  }

  async changeWhen() {
    const when = { day: this.day, time: $("#round-time").value, by: $("#round-by").value.trim() };
    const isUsual = when.day === dayAt(this.page.timeZone) && !when.time && !when.by;
    if (isUsual) sessionStorage.removeItem(whenKey(this.page.pk));
    else sessionStorage.setItem(whenKey(this.page.pk), JSON.stringify(when));
    this.notes = await this.store.notes(this.page.pk, this.day);
    this.sayWhen();
    await this.counted();
    if (this.touched) this.showList();
    else this.show();
  }

  sayWhen() {
    const isToday = this.day === dayAt(this.page.timeZone);
    const on = new Date(`${this.day}T12:00`).toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" });
    $("#round-day-words").textContent = isToday ? "today" : `on ${on}`;
  }

  /** Noted that day, here or on another device or page. */
  isNoted(coral) {
    return this.notes.has(coral.pk) || this.isNotedElsewhere(coral);
  }

  isNotedElsewhere(coral) {
    return !this.notes.has(coral.pk) && coral.notedOn === this.day;
  }

  touch() {
    this.touched = true;
    this.showKeep();
  }

  // --- What the keeper does ---------------------------------------------------------------------

  clicked(event) {
    const button = event.target.closest("button");
    if (button?.dataset.seen) this.chooseSeen(button.dataset.seen);
    else if (button?.dataset.at) this.goTo(Number(button.dataset.at));
    else if (button?.dataset.do === "back") this.goTo(this.at - 1);
    else if (button?.dataset.do === "skip") this.goTo(this.at + 1);
    else if (button?.dataset.do === "heard") this.store.hear(this.page.pk).then(() => this.counted());
  }

  chooseSeen(seen) {
    // A second tap takes it back. The first one tapped is the main sign.
    this.seen = this.seen.includes(seen) ? this.seen.filter((other) => other !== seen) : [...this.seen, seen];
    this.touch();
    this.showSeen();
  }

  /** Choose the sign by the word a keeper has for it. */
  chooseCalled(field) {
    const word = field.value.trim().toLowerCase().replace(/\s+/g, " ");
    if (!word) return;
    const begun = Object.entries(this.signs).filter(([name]) => name.startsWith(word));
    const signs = new Set(begun.map(([, sign]) => sign));
    const sign = this.signs[word] ?? (signs.size === 1 ? begun[0][1] : "");
    if (!sign) {
      this.say(`No sign is called “${field.value.trim()}”. Tap the nearest one.`);
      return;
    }
    field.value = "";
    if (sign !== "well" && !this.seen.includes(sign)) this.chooseSeen(sign);
    this.say(sign === "well" ? "Then no sign is needed." : "");
  }

  goTo(at) {
    this.at = Math.min(Math.max(at, 0), this.page.corals.length - 1);
    this.say("");
    this.show();
  }

  async keep(event) {
    event.preventDefault();
    // A double tap is one note: while that is stored, a second tap neither keeps it again nor
    // skips the next coral. Once the next coral shows, a tap is meant for that one.
    if (this.isKeeping) return;
    this.isKeeping = true;
    const isKept = await this.keepShown().finally(() => (this.isKeeping = false));
    if (!isKept) return;
    await this.counted();
    this.sender.wake();
  }

  /** Keep the note that shows and go on to the next coral; tell whether that was possible. */
  async keepShown() {
    const { coral, form } = this;
    const condition = Number(form.condition.value) || null;
    const most = Number(form.photo.dataset.most);
    if ((this.notes.get(coral.pk)?.photoCount ?? 0) + form.photo.files.length > most) {
      this.say(`A note holds at most ${most} photos.`);
      return false;
    }
    if (!condition) {
      this.say("Tap how it is first.");
      return false;
    }
    if (condition < this.page.wellFrom && !this.seen.length) {
      this.say("Tap what is seen, too.");
      return false;
    }
    const [seen = "well", ...also_seen] = this.seen;
    const note = {
      ...this.shown, tank: this.page.pk, coral: coral.pk, noted_on: this.day,
      noted_time: $("#round-time").value, noted_by: $("#round-by").value.trim(), condition, seen, also_seen, where: form.where.value, text: form.text.value.trim(),
    };
    let kept;
    try {
      kept = await this.store.keep(note, [...form.photo.files]);
    } catch (problem) {
      this.say(`This device could not keep that (${problem?.name ?? "no room"}). Write it down, and free some room.`);
      return false;
    }
    // What was sent meanwhile may have brought the notes anew: this one goes among those.
    this.notes.set(coral.pk, kept);
    navigator.vibrate?.(20);
    this.onward(coral);
    return true;
  }

  onward(kept) {
    const { corals } = this.page;
    const order = [...corals.slice(this.at + 1), ...corals.slice(0, this.at)];
    const next = order.find((coral) => !this.isNoted(coral));
    if (next) this.at = corals.indexOf(next);
    this.show();
    this.say(next ? `Kept: ${kept.name}.` : "Kept.");
  }

  // --- What the keeper sees ---------------------------------------------------------------------

  show() {
    const { coral, form } = this;
    const note = this.notes.get(coral.pk);
    form.reset();
    this.touched = false;
    $("#round-where").textContent = `${this.at + 1} of ${this.page.corals.length}`;
    $("#round-name").textContent = coral.name;
    $("#round-words").textContent = coral.words;
    const elsewhere = this.isNotedElsewhere(coral) ? ". Noted that day already, not on this device" : "";
    $("#round-last").textContent = coral.last ? `Last: ${coral.last}${elsewhere}` : "No condition noted yet";
    const photo = $("#round-photo");
    photo.hidden = !coral.photo;
    if (coral.photo) photo.src = coral.photo;
    // What is changed now is this version of it, whatever the server tells meanwhile.
    this.shown = note ? { id: note.id, knows: note.knows ?? 0 } : {};
    if (note) {
      form.condition.value = note.condition;
      form.where.value = note.where;
      form.text.value = note.text;
    }
    this.seen = note && note.seen !== "well" ? [note.seen, ...(note.also_seen ?? [])] : [];
    const photos = note?.photoCount ?? (note?.photoKey ? 1 : 0);
    $("#round-kept-photo").hidden = !photos;
    $("#round-kept-photo").textContent = photos === 1 ? "A photo is kept with this note." : `${photos} photos are kept with this note.`;
    // Rarely needed; what was said there stays in sight.
    $("#round-more").open = Boolean(note?.where || note?.text);
    $("[data-do=back]").disabled = this.at === 0;
    $("[data-do=skip]").disabled = this.at === this.page.corals.length - 1;
    this.showSeen();
    this.showChange();
    this.showList();
    this.showKeep();
  }

  // At the end nothing is left to keep, until something is changed.
  showKeep() {
    const { coral } = this;
    if (!coral) return;
    const isLast = this.page.corals.every((other) => other === coral || this.isNoted(other));
    const isOver = isLast && this.isNoted(coral);
    const keep = this.form.querySelector("[type=submit]");
    keep.hidden = isOver && !this.touched;
    if (isOver) keep.textContent = this.notes.has(coral.pk) ? "Keep the change" : "Keep one more note";
    else keep.textContent = isLast ? "Keep" : "Keep, next coral";
    $("#round-over").hidden = !isOver;
  }

  showSeen() {
    for (const button of document.querySelectorAll("[data-seen]")) {
      button.setAttribute("aria-pressed", this.seen.includes(button.dataset.seen));
    }
  }

  showChange() {
    const now = this.form.condition.value;
    const before = this.coral.condition;
    // Only against an earlier note: the last one may be of this day, or of a later one.
    const isLater = (this.coral.notedOn ?? "") < this.day;
    $("#round-change").textContent = now && before && isLater ? this.page.changes[`${before}>${now}`] : "";
  }

  showList() {
    const rows = this.page.corals.map((coral, at) => {
      const [item, button, note] = [document.createElement("li"), document.createElement("button"), this.notes.get(coral.pk)];
      Object.assign(button, { type: "button", className: "link", textContent: coral.name });
      button.dataset.at = at;
      if (at === this.at) button.setAttribute("aria-current", "true");
      item.append(button, note && !note.sent ? " · kept here" : this.isNoted(coral) ? " · noted" : "");
      return item;
    });
    $("#round-list").replaceChildren(...rows);
  }

  async counted() {
    const unsent = await this.store.unsent(this.page.pk);
    $("#round-here").textContent = unsent.length;
    $("#round-done").textContent = `${this.page.corals.filter((coral) => this.isNoted(coral)).length} of ${this.page.corals.length}`;
    this.list("#round-refused", unsent.filter((note) => note.refused), "refused");
    this.list("#round-told", await this.store.toldOf(this.page.pk), "told");
  }

  // What the server says of some notes, one a line, each with its coral's name.
  list(box, notes, said) {
    const nameOf = new Map(this.page.corals.map((coral) => [coral.pk, coral.name]));
    const rows = notes.map((note) => {
      const row = document.createElement("li");
      row.textContent = `${nameOf.get(note.coral) ?? "A coral"}: ${note[said]}`;
      return row;
    });
    $(`${box} ul`).replaceChildren(...rows);
    $(box).hidden = !rows.length;
  }

  async told(state) {
    if (state === "sending") return;
    for (const line of document.querySelectorAll("[data-when]")) line.hidden = line.dataset.when !== state;
    if (state !== "saved") return;
    this.notes = await this.store.notes(this.page.pk, this.day);
    await this.counted();
    // What a page changed meanwhile is shown, unless the keeper is at it.
    if (this.touched) this.showList();
    else this.show();
  }

  say(text) {
    $("#round-said").textContent = text;
  }
}

/** The kept page of the tank that a coral lives in, or null. */
async function pageWith(store, coral) {
  const pages = await store.pages();
  return pages.find(({ corals }) => corals.some(({ pk }) => pk === coral)) ?? null;
}

async function list(store) {
  const pages = await store.pages();
  const rows = await Promise.all(
    pages.map(async (page) => {
      const [item, link] = [document.createElement("li"), document.createElement("a")];
      Object.assign(link, { href: page.urls.round, textContent: page.name });
      const count = (await store.unsent(page.pk)).length;
      item.className = "sheet";
      item.append(link, count ? ` · ${count} not saved yet` : " · all saved");
      if (count) new Sender(store, page, (state) => state === "saved" && store.unsent(page.pk).then((left) => left.length < count && location.reload())).wake();
      return item;
    }),
  );
  $("#round-pages ul").replaceChildren(...rows);
  $("#round-pages").hidden = false;
  $("#round-none").hidden = pages.length > 0;
}

async function start() {
  startWithoutNetworkFromNowOn().then(
    (ready) => ready && ($("#round-offline-words").textContent = "This page opens without a network from now on."),
    () => {},
  );
  if (!keeper) {
    $("#round-nobody").hidden = false;
    return;
  }
  const store = await openNotes(keeper);
  const sent = $("#round-data");
  const pk = Number(location.pathname.match(/^\/tanks\/(\d+)\/round\/$/)?.[1] ?? 0);
  // Without a network the page of one coral's note is the round, at that coral.
  const coral = Number(location.pathname.match(/^\/corals\/(\d+)\/notes\/new\/$/)?.[1] ?? 0);
  if (sent) {
    const page = JSON.parse(sent.textContent);
    await store.keepPage(page, [dayAt(page.timeZone), whenKept(page.pk)?.day]);
  }
  const page = pk ? await store.page(pk) : await pageWith(store, coral);
  if (!page) {
    await list(store);
    return;
  }
  document.documentElement.dataset.theme = page.theme;
  document.title = `Notes round · ${page.name}`;
  stayBesideTheTank();
  await new Round(store, page).start(coral);
}

start();
