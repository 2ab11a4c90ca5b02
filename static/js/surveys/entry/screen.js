// What the keeper sees beside the tank: where to measure, what was typed, what was read and kept.

import { lengthText, typedNumber } from "../../lengths.js";
import { Drawing } from "./drawing.js";
import { firstLook } from "./nearby.js";

const LEFT_HANDED = "reeflog-left-handed";
const AXES = ["x_cm", "y_cm", "depth_cm"];
const $ = (selector) => document.querySelector(selector);
const placeField = (name) => $(`#enter-place [name=${name}]`);

/** PAR as it is shown: whole from 10 on, else to a tenth. */
export const round = (value) => (value >= 10 ? Math.round(value) : Math.round(value * 10) / 10);

function againButton(words, point) {
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "link", textContent: words });
  Object.assign(button.dataset, { do: "again", point });
  return button;
}

export class Screen {
  #showsLook = false;

  /** `onPlace(place)` hears where the keeper tapped a drawing, in cm. */
  constructor(page, onPlace) {
    this.page = page;
    this.drawing = new Drawing($("#enter-plan"), $("#enter-side"), page, onPlace);
  }

  /** Show the page's links and unit, for the hand it was last used with. */
  open() {
    $("#enter-desk").hidden = false;
    for (const name of ["survey", "map", "login"]) {
      document.querySelectorAll(`[data-to=${name}]`).forEach((link) => (link.href = this.page.urls[name]));
    }
    document.querySelectorAll(".enter-unit").forEach((node) => (node.textContent = this.page.unit));
    this.#layHand();
  }

  swapHands() {
    localStorage.setItem(LEFT_HANDED, localStorage.getItem(LEFT_HANDED) ? "" : "yes");
    this.#layHand();
  }

  #layHand() {
    const left = Boolean(localStorage.getItem(LEFT_HANDED));
    $("#enter-desk").classList.toggle("enter--left", left);
    $("[data-do=hand]").setAttribute("aria-pressed", left);
  }

  toggleLook() {
    this.#showsLook = !this.#showsLook;
  }

  say(text) {
    $("#enter-said").textContent = text;
  }

  /** Put a button that reads a point again behind what was said. */
  offerAgain(words, point) {
    $("#enter-said").append(" ", againButton(words, point));
  }

  get #unitCm() {
    return this.page.unit === "in" ? this.page.cmPerInch : 1;
  }

  #length(cm) {
    return lengthText(cm, this.#unitCm);
  }

  #placeOf(stop) {
    return `${this.#length(stop.x_cm)} left · ${this.#length(stop.y_cm)} front · ${this.#length(stop.depth_cm)} deep`;
  }

  /** The place typed by hand [cm], or null with a word about what is wrong. */
  typedPlace() {
    const { length, width, depth } = this.page.tank;
    const place = {};
    for (const [i, end] of [length, width, depth].entries()) {
      const number = typedNumber(placeField(AXES[i]));
      const cm = number * this.#unitCm;
      if (number === null || cm < 0 || cm > end + 0.01) {
        this.say(`Say a place within the water: 0 to ${this.#length(end)} ${this.page.unit}.`);
        return null;
      }
      place[AXES[i]] = Math.round(Math.min(cm, end) * 100) / 100;
    }
    return place;
  }

  /** Show all: the walk, the typed value, and where the sensor was moved off the point, if it was. */
  show(walk, typed, moved, { keepPlace = false } = {}) {
    const stop = walk.current;
    const place = stop && { ...stop, ...moved };
    $("[data-do=keep]").disabled = !stop;
    if (!stop) $("#enter-where").textContent = `All ${this.page.planned.length} points are read`;
    else $("#enter-where").textContent = walk.isFree ? "Free point" : walk.name(stop);
    $("#enter-spot").textContent = place
      ? `${this.#placeOf(place)}${stop.words ? ` · ${stop.words}` : ""}`
      : "See the light map, or take free points.";
    $(".enter-spot .enter-unit").hidden = !place;
    if (place && !keepPlace) {
      for (const name of AXES) placeField(name).value = this.#length(place[name]);
    }
    this.#showDrawing(walk, place);
    this.showValue(walk, typed);
    this.#showReadings(walk);
  }

  /** Show what the server's answer changed, and leave alone what the keeper types. */
  showSaved(walk, typed, moved) {
    if (this.#showsLook) {
      this.show(walk, typed, moved, { keepPlace: true });
      return;
    }
    this.#showDrawing(walk, walk.current && { ...walk.current, ...moved });
    this.#showReadings(walk);
  }

  #showDrawing(walk, place) {
    const depth_cm = place?.depth_cm ?? this.page.tank.depth / 2;
    const look = this.#showsLook ? firstLook([...walk.readings.values()], this.page.tank, depth_cm) : null;
    this.drawing.show({ stops: walk.stops, readings: walk.readings, current: place, look });
    this.#showLook(look, depth_cm);
  }

  #showLook(look, depth_cm) {
    $("[data-do=look]").setAttribute("aria-pressed", this.#showsLook);
    const words = $("#enter-look");
    words.hidden = !this.#showsLook;
    if (!this.#showsLook) return;
    words.textContent = look
      ? `A first look at ${this.#length(depth_cm)} ${this.page.unit} deep, from the typed values alone: about ${round(look.low)} (dark) to ${round(look.high)} (bright). The real map, with how sure it is, is made once these are saved.`
      : "A first look needs four readings.";
  }

  showValue(walk, typed) {
    const stored = walk.current && walk.readings.get(walk.current.point);
    const reading = typed.reading();
    const value = $("#enter-value");
    value.textContent = typed.isEmpty ? (stored ? round(stored.value_umol) : "–") : typed.shown();
    value.classList.toggle("enter-value--stored", typed.isEmpty);
    let words = "";
    if (typed.all().length > 1 && reading) words = `mean ${round(reading.value_umol)}\nspread ${round(reading.spread_umol)}`;
    else if (typed.isEmpty && stored) words = "kept; type to read it again";
    $("#enter-mean").textContent = words;
  }

  #showReadings({ stops, readings }) {
    const read = stops.filter((stop) => readings.has(stop.point));
    $("#enter-readings tbody").replaceChildren(...read.map((stop) => this.#row(stop, readings.get(stop.point))));
  }

  #row(stop, reading) {
    const row = document.createElement("tr");
    const spread = reading.spread_umol === null ? "" : ` ±\u00a0${round(reading.spread_umol)}`;
    for (const text of [stop.number, this.#placeOf(reading), `${round(reading.value_umol)}${spread}`]) {
      row.insertCell().textContent = text;
    }
    const button = againButton("again", stop.point);
    button.setAttribute("aria-label", `Read point ${stop.number} again`);
    row.insertCell().append(button);
    return row;
  }

  showCounts({ waiting, saved, refused }) {
    $("#enter-here").textContent = waiting;
    $("#enter-waiting").hidden = !waiting;
    $("#enter-saved").textContent = saved;
    $("#enter-refused").hidden = !refused.length;
    $("#enter-refused").textContent = refused.length ? `Kept here, but not taken: ${refused.join(" ")}` : "";
  }

  /** The value kept last, so that a slip is seen beside the next one. */
  showLast(value) {
    $("#enter-last").textContent = value === null ? "" : `last ${round(value)}`;
  }

  showOnward(shown) {
    $("#enter-onward").hidden = !shown;
    if (shown) $("#enter-onward a").focus();
  }

  showSending(state) {
    $("#enter-desk").dataset.state = state;
    for (const line of document.querySelectorAll("[data-when]")) line.hidden = line.dataset.when !== state;
  }
}
