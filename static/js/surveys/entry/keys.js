// The number pad: what was typed at the point shown, as one value, several ("+") or low and high
// ("–"). Taps and a keyboard do the same. It knows no survey.

import { ofLowHigh, ofSeveral } from "./nearby.js";

const DIGITS_MOST = 7;
const BURST_MOST = 100;

export class Typed {
  constructor() {
    this.clear();
  }

  clear() {
    this.values = [];
    this.text = "";
    this.isRange = false;
  }

  get isEmpty() {
    return !this.text && !this.values.length;
  }

  press(key) {
    if (/^[0-9]$/.test(key)) {
      if (this.text.length < DIGITS_MOST) this.text = this.text === "0" ? key : this.text + key;
    } else if (key === "." && !this.text.includes(".")) {
      this.text = (this.text || "0") + ".";
    } else if (key === "back") {
      this.#back();
    } else if (key === "+" && this.text && !this.isRange && this.values.length < BURST_MOST - 1) {
      this.#next();
    } else if (key === "-" && this.text && !this.values.length) {
      this.isRange = true;
      this.#next();
    }
  }

  #next() {
    this.values.push(Number(this.text));
    this.text = "";
  }

  #back() {
    if (this.text) this.text = this.text.slice(0, -1);
    else if (this.values.length) {
      this.text = String(this.values.pop());
      if (!this.values.length) this.isRange = false;
    }
  }

  /** All values, the one being typed included. */
  all() {
    return this.text ? [...this.values, Number(this.text)] : [...this.values];
  }

  /** What would be kept: {value_umol, spread_umol}, or null while there is nothing to keep. */
  reading() {
    const values = this.all();
    if (!values.length || (this.isRange && values.length < 2)) return null;
    return this.isRange ? ofLowHigh(...values) : ofSeveral(values);
  }

  shown() {
    const sign = this.isRange ? " – " : " + ";
    return this.values.map((value) => value + sign).join("") + this.text;
  }
}

const KEYS = { ",": ".", Backspace: "back", "–": "-" };
const COMMANDS = { Enter: "keep", ArrowLeft: "back-point", ArrowRight: "skip", u: "undo", a: "again" };

/** Let a keyboard do what the pad does; `press(key)` and `command(name)` hear of it. */
export function listenToKeys(typed, press, command) {
  document.addEventListener("keydown", (event) => {
    if (event.target.closest("input, select, textarea, dialog")) return;
    if ((event.ctrlKey || event.metaKey) && event.key === "z") {
      event.preventDefault();
      command("undo");
      return;
    }
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const key = KEYS[event.key] ?? event.key;
    if (/^[0-9.+-]$/.test(key) || key === "back") {
      event.preventDefault();
      press(key);
      return;
    }
    // With nothing typed, Enter presses the button it is on; a typed value is kept wherever
    // the last tap left the focus.
    if (event.key === "Enter" && typed.isEmpty && event.target.closest("a, summary, button")) return;
    if (!COMMANDS[event.key]) return;
    event.preventDefault();
    // A key held down is no second wish.
    if (!event.repeat) command(COMMANDS[event.key]);
  });
}
