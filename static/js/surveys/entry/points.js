// The way through a survey's points: which one is next, which are left, and points off the plan.

import { newMark } from "../../marks.js";

export class Walk {
  #free = null;

  /** `planned`: the points of the plan in order; `readings`: Map of point to reading. */
  constructor(planned, readings) {
    this.planned = planned;
    this.readings = readings;
    this.at = 0;
    // With nothing left unread no point is current, so that no stray tap writes over one.
    if (planned.length && !this.toNextUnread(-1)) this.at = this.stops.length;
  }

  /** Every point there is: the plan's, then those read off the plan, numbered on. */
  get stops() {
    const known = new Set(this.planned.map((stop) => stop.point));
    const others = [...this.readings.values()].filter((reading) => !known.has(reading.point));
    return [...this.planned, ...others.map((reading, i) => ({ ...reading, number: this.#lastPlanned + i + 1 }))];
  }

  /** The highest number of the plan: numbers stay when a point is taken out, so it may pass the count. */
  get #lastPlanned() {
    return Math.max(0, ...this.planned.map((stop) => stop.number));
  }

  /** How a point is called: by its number, and where it comes in the plan. */
  name(stop) {
    const at = this.planned.findIndex((other) => other.point === stop.point);
    if (at < 0) return this.planned.length ? `Point ${stop.number}, not planned` : `Point ${stop.number}`;
    const count = this.planned.length;
    return this.#lastPlanned === count ? `Point ${stop.number} of ${count}` : `Point ${stop.number}, ${at + 1} of ${count} planned`;
  }

  get current() {
    return this.#free ?? this.stops[this.at] ?? null;
  }

  get isFree() {
    return this.#free !== null;
  }

  get left() {
    return this.planned.filter((stop) => !this.readings.has(stop.point)).length;
  }

  /** Begin a point off the plan, at a place [cm]. */
  startFree(place) {
    this.#free = { point: newMark(), number: this.stops.reduce((most, stop) => Math.max(most, stop.number), 0) + 1, words: "", ...place };
  }

  moveFree(place) {
    this.#free = { ...this.#free, ...place };
  }

  endFree() {
    this.#free = null;
  }

  /** After a point was kept: the next unread one of the plan; false when none is left. */
  toNextUnread(from = this.at) {
    const count = this.planned.length;
    for (let i = 1; i <= count; i += 1) {
      const at = (from + i + count) % count;
      if (!this.readings.has(this.planned[at].point)) {
        this.at = at;
        return true;
      }
    }
    return false;
  }

  step(by) {
    this.endFree();
    const count = this.stops.length;
    if (count) this.at = (this.at + by + count) % count;
  }

  /** Go to a point; true when it is known. */
  goTo(point) {
    const at = this.stops.findIndex((stop) => stop.point === point);
    if (at < 0) return false;
    this.endFree();
    this.at = at;
    return true;
  }
}
