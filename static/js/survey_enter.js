// Entering a survey beside the tank: one point at a time, kept on this device at once and sent
// when it can be. Works from what the server put in the page, or, started without a network, from
// what this device kept when the page was last opened.

import { Drawing } from "./entry/drawing.js";
import { Typed, listenToKeys } from "./entry/keys.js";
import { lastKeeper } from "./entry/marker.js";
import { farFrom, firstLook } from "./entry/nearby.js";
import { startWithoutNetworkFromNowOn, stayBesideTheTank } from "./entry/offline.js";
import { Walk } from "./entry/points.js";
import { Sender } from "./entry/sending.js";
import { openStore } from "./entry/store.js";
import { lengthText, typedNumber } from "./lengths.js";

const LEFT_HANDED = "reeflog-left-handed";
const $ = (selector) => document.querySelector(selector);
const keeper = document.body.dataset.keeper || lastKeeper();

const round = (value) => (value >= 10 ? Math.round(value) : Math.round(value * 10) / 10);

class Desk {
  typed = new Typed();
  moved = null;
  lastKept = null;
  waiting = 0;
  writing = 0;
  showsLook = false;

  constructor(store, page) {
    Object.assign(this, { store, page });
    this.drawing = new Drawing($("#enter-plan"), $("#enter-side"), page, (place) => this.placed(place));
    this.sender = new Sender(store, page, (state) => this.told(state));
  }

  async start() {
    this.walk = new Walk(this.page.planned, await this.store.points(this.page.pk));
    if (!this.page.planned.length) this.freePoint();
    $("#enter-desk").hidden = false;
    for (const name of ["survey", "map", "login"]) {
      document.querySelectorAll(`[data-to=${name}]`).forEach((link) => (link.href = this.page.urls[name]));
    }
    document.querySelectorAll(".enter-unit").forEach((node) => (node.textContent = this.page.unit));
    $("#enter-desk").addEventListener("click", (event) => this.clicked(event));
    $("#enter-place").addEventListener("input", () => this.movedByHand());
    listenToKeys(this.typed, (key) => this.press(key), (name) => this.command(name));
    this.layHand();
    await this.counted();
    this.show();
    this.sender.wake();
  }

  // --- What the keeper does ---------------------------------------------------------------------

  clicked(event) {
    const button = event.target.closest("button");
    if (button?.dataset.key) this.press(button.dataset.key);
    else if (button?.dataset.do) this.command(button.dataset.do, button);
  }

  press(key) {
    if (!this.walk.current) {
      this.say("All points are read. Go back to one to read it again, or take a free point.");
      return;
    }
    if (!this.typed.isEmpty || key !== "back") this.say("");
    this.typed.press(key);
    this.showValue();
  }

  command(name, button) {
    const commands = {
      keep: () => this.keep(),
      skip: () => this.step(1),
      "back-point": () => this.step(-1),
      again: () => this.again(button?.dataset.point),
      undo: () => this.undo(),
      free: () => this.freePoint(),
      look: () => this.toggleLook(),
      hand: () => this.swapHands(),
    };
    commands[name]?.();
  }

  async keep() {
    const stop = this.walk.current;
    const reading = this.typed.reading();
    if (!stop) return;
    if (!reading) {
      this.say(this.typed.isEmpty ? "Type what the meter shows first." : "Type the high end too.");
      return;
    }
    const most = this.page.limits.par;
    if (this.typed.all().some((value) => value > most)) {
      this.say(`PAR is between 0 and ${most}.`);
      return;
    }
    const values = this.typed.all();
    const place = this.moved ?? { x_cm: stop.x_cm, y_cm: stop.y_cm, depth_cm: stop.depth_cm };
    const row = { ...place, ...reading };
    const wasFree = this.walk.isFree;
    // The pad is free for the next point at once; a second tap finds nothing to keep.
    this.typed.clear();
    this.moved = null;
    this.lastKept = stop.point;
    this.walk.readings.set(stop.point, { point: stop.point, ...row });
    this.onward(wasFree, place);
    this.show();
    navigator.vibrate?.(20);
    await this.written(() => this.store.keep(this.page.pk, stop.point, row, { burst: values.length > 1 ? values : [] }));
    this.warnWhenFar(stop, row);
  }

  onward(wasFree, place) {
    this.walk.endFree();
    if (!this.page.planned.length) this.walk.startFree(place);
    else if (!this.walk.toNextUnread() && !wasFree) this.walk.at = this.walk.stops.length;
  }

  // Kept means written; if the device refuses, the keeper must know at once.
  async written(work) {
    this.writing += 1;
    let problem = null;
    await work().catch((found) => (problem = found));
    if (!problem) await this.counted();
    this.writing -= 1;
    if (problem) this.say(`This device could not keep that (${problem.name ?? "no room"}). Write it down, and free some room.`);
    else this.sender.wake();
  }

  warnWhenFar(stop, row) {
    const others = [...this.walk.readings.values()].filter((reading) => reading.point !== stop.point);
    const expected = farFrom(row, others);
    if (expected === null) return;
    this.say(`Point ${stop.number}: ${round(row.value_umol)} is far from its neighbours, which say about ${round(expected)}. It is kept.`);
    this.offer("Read it again", stop.point);
  }

  step(by) {
    this.typed.clear();
    this.moved = null;
    this.walk.step(by);
    this.say("");
    this.show();
  }

  again(point = this.lastKept) {
    if (!point || !this.walk.goTo(point)) {
      this.say("Nothing was kept yet.");
      return;
    }
    this.typed.clear();
    this.moved = null;
    this.say("Read it once more: the new value takes the place of the old one, which stays in the history.");
    this.show();
  }

  async undo() {
    let last = null;
    await this.written(async () => {
      last = await this.store.undo(this.page.pk);
    });
    if (!last) {
      this.say("There is nothing left to take back from this device.");
      return;
    }
    this.walk.readings = await this.store.points(this.page.pk);
    this.typed.clear();
    this.moved = null;
    if (!this.walk.goTo(last.point)) {
      this.walk.startFree({ x_cm: last.x_cm, y_cm: last.y_cm, depth_cm: last.depth_cm });
    }
    this.say("Taken back.");
    this.show();
  }

  freePoint() {
    const { length, width, depth } = this.page.tank;
    const from = this.walk.current ?? { x_cm: length / 2, y_cm: width / 2, depth_cm: depth / 2 };
    this.typed.clear();
    this.moved = null;
    this.walk.startFree({ x_cm: from.x_cm, y_cm: from.y_cm, depth_cm: from.depth_cm });
    this.say("Free point: tap the plan and the front view where the sensor is.");
    this.show();
  }

  placed(place) {
    if (!this.walk.isFree) {
      this.say("To read somewhere else, press Free point first.");
      return;
    }
    this.walk.moveFree(place);
    this.moved = null;
    this.show();
  }

  movedByHand() {
    const place = {};
    const { length, width, depth } = this.page.tank;
    const ends = { x_cm: length, y_cm: width, depth_cm: depth };
    for (const [name, end] of Object.entries(ends)) {
      const said = typedNumber($(`#enter-place [name=${name}]`));
      const typed = said * this.unitCm;
      if (said === null || typed < 0 || typed > end + 0.01) {
        this.say(`Say a place within the water: 0 to ${this.length(end)} ${this.page.unit}.`);
        return;
      }
      place[name] = Math.round(Math.min(typed, end) * 100) / 100;
    }
    this.say("");
    if (this.walk.isFree) this.walk.moveFree(place);
    else this.moved = place;
    this.show({ keepPlace: true });
  }

  toggleLook() {
    this.showsLook = !this.showsLook;
    this.show();
  }

  swapHands() {
    localStorage.setItem(LEFT_HANDED, localStorage.getItem(LEFT_HANDED) ? "" : "yes");
    this.layHand();
  }

  layHand() {
    const left = Boolean(localStorage.getItem(LEFT_HANDED));
    $("#enter-desk").classList.toggle("enter--left", left);
    $("[data-do=hand]").setAttribute("aria-pressed", left);
  }

  // --- What the keeper sees ---------------------------------------------------------------------

  get unitCm() {
    return this.page.unit === "in" ? this.page.cmPerInch : 1;
  }

  length(cm) {
    return lengthText(cm, this.unitCm);
  }

  placeOf(stop) {
    return `${this.length(stop.x_cm)} left · ${this.length(stop.y_cm)} front · ${this.length(stop.depth_cm)} deep`;
  }

  show({ keepPlace = false } = {}) {
    const { walk } = this;
    const stop = walk.current;
    const place = stop && { ...stop, ...this.moved };
    $("[data-do=keep]").disabled = !stop;
    if (!stop) $("#enter-where").textContent = `All ${this.page.planned.length} points are read`;
    else if (walk.isFree) $("#enter-where").textContent = "Free point";
    else $("#enter-where").textContent = this.walk.name(stop);
    $("#enter-spot").textContent = place ? `${this.placeOf(place)}${stop.words ? ` · ${stop.words}` : ""}` : "See the light map, or take free points.";
    $(".enter-spot .enter-unit").hidden = !place;
    if (place && !keepPlace) {
      for (const name of ["x_cm", "y_cm", "depth_cm"]) $(`#enter-place [name=${name}]`).value = this.length(place[name]);
    }
    const look = this.showsLook ? firstLook([...walk.readings.values()], this.page.tank, place?.depth_cm ?? this.page.tank.depth / 2) : null;
    this.drawing.show({ stops: walk.stops, readings: walk.readings, current: place, look });
    this.showLook(look, place);
    this.showValue();
    this.showReadings();
  }

  showLook(look, place) {
    $("[data-do=look]").setAttribute("aria-pressed", this.showsLook);
    const words = $("#enter-look");
    words.hidden = !this.showsLook;
    if (!this.showsLook) return;
    const deep = this.length(place?.depth_cm ?? this.page.tank.depth / 2);
    words.textContent = look
      ? `A first look at ${deep} ${this.page.unit} deep, from the typed values alone: about ${round(look.low)} (dark) to ${round(look.high)} (bright). The real map, with how sure it is, is made once these are saved.`
      : "A first look needs four readings.";
  }

  showValue() {
    const stop = this.walk.current;
    const stored = stop && this.walk.readings.get(stop.point);
    const reading = this.typed.reading();
    const value = $("#enter-value");
    value.textContent = this.typed.isEmpty ? (stored ? round(stored.value_umol) : "–") : this.typed.shown();
    value.classList.toggle("enter-value--stored", this.typed.isEmpty);
    let words = "";
    if (this.typed.all().length > 1 && reading) words = `mean ${round(reading.value_umol)}\nspread ${round(reading.spread_umol)}`;
    else if (this.typed.isEmpty && stored) words = "kept; type to read it again";
    $("#enter-mean").textContent = words;
  }

  showReadings() {
    const { stops, readings } = this.walk;
    const rows = stops.filter((stop) => readings.has(stop.point)).map((stop) => {
      const [row, reading] = [document.createElement("tr"), readings.get(stop.point)];
      const spread = reading.spread_umol === null ? "" : ` ± ${round(reading.spread_umol)}`;
      for (const text of [stop.number, this.placeOf(reading), `${round(reading.value_umol)}${spread}`]) {
        row.insertCell().textContent = text;
      }
      const button = document.createElement("button");
      Object.assign(button, { type: "button", className: "link", textContent: "again" });
      button.setAttribute("aria-label", `Read point ${stop.number} again`);
      Object.assign(button.dataset, { do: "again", point: stop.point });
      row.insertCell().append(button);
      return row;
    });
    $("#enter-readings tbody").replaceChildren(...rows);
  }

  async counted() {
    const unsent = await this.store.unsent(this.page.pk);
    const page = (await this.store.page(this.page.pk)) ?? this.page;
    this.waiting = new Set(unsent.map((edit) => edit.point)).size;
    $("#enter-here").textContent = this.waiting;
    $("#enter-saved").textContent = page.saved;
    const refused = unsent.filter((edit) => edit.refused);
    $("#enter-refused").hidden = !refused.length;
    $("#enter-refused").textContent = refused.length ? `Kept here, but not taken: ${[...new Set(refused.map((edit) => edit.refused))].join(" ")}` : "";
  }

  async told(state) {
    if (state === "sending") return;
    $("#enter-desk").dataset.state = state;
    for (const line of document.querySelectorAll("[data-when]")) line.hidden = line.dataset.when !== state;
    if (state !== "saved") return;
    await this.counted();
    const readings = await this.store.points(this.page.pk);
    // While something waits or is being written, this page knows better than the last answer.
    if (!this.waiting && !this.writing) this.walk.readings = readings;
    this.drawing.show({ stops: this.walk.stops, readings: this.walk.readings, current: this.walk.current && { ...this.walk.current, ...this.moved }, look: null });
    if (this.showsLook) this.show({ keepPlace: true });
    this.showReadings();
  }

  say(text) {
    $("#enter-said").textContent = text;
  }

  offer(words, point) {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "link", textContent: words });
    Object.assign(button.dataset, { do: "again", point });
    $("#enter-said").append(" ", button);
  }
}

// --- Starting -------------------------------------------------------------------------------------

async function list(store) {
  const pages = await store.pages();
  const rows = await Promise.all(
    pages.map(async (page) => {
      const item = document.createElement("li");
      const link = document.createElement("a");
      link.href = page.urls.enter;
      link.textContent = `${page.tank.name}, ${page.day}`;
      const count = (await store.unsent(page.pk)).length;
      item.className = "sheet";
      item.append(link, count ? ` · ${count} not saved yet` : " · all saved");
      if (count) new Sender(store, page, (state) => state === "saved" && location.reload()).wake();
      return item;
    }),
  );
  $("#enter-list ul").replaceChildren(...rows);
  $("#enter-list").hidden = false;
  $("#enter-none").hidden = pages.length > 0;
}

async function start() {
  startWithoutNetworkFromNowOn().then(
    (ready) => ready && ($("#enter-offline-words").textContent = "This page opens without a network from now on."),
    () => {},
  );
  if (!keeper) {
    $("#enter-nobody").hidden = false;
    return;
  }
  const store = await openStore(keeper);
  const sent = document.querySelector("#entry-data");
  const pk = Number(location.pathname.match(/^\/surveys\/(\d+)\/enter\/$/)?.[1] ?? 0);
  if (sent) {
    const page = JSON.parse(sent.textContent);
    page.saved = page.points.filter((point) => !point.removed).length;
    await store.keepPage(page);
  }
  const page = pk ? await store.page(pk) : null;
  if (!page) {
    await list(store);
    return;
  }
  document.documentElement.dataset.theme = page.theme;
  document.title = `Enter readings · ${page.tank.name}`;
  stayBesideTheTank();
  await new Desk(store, page).start();
}

start();
