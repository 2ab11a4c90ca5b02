// What the keeper does beside the tank: one point at a time, by the pad, the drawings or a keyboard.

import { Keeping } from "./keeping.js";
import { Typed, listenToKeys } from "./keys.js";
import { farFrom } from "./nearby.js";
import { Walk } from "./points.js";
import { Screen, round } from "./screen.js";

const $ = (selector) => document.querySelector(selector);
// The map opens after so long, in which a keeper may stay [ms].
const ONWARD_MS = 5000;

export class Desk {
  #typed = new Typed();
  // Where the sensor was, when not at the planned point [cm].
  #moved = null;
  #lastKept = null;
  // Set while the map is about to open by itself: the last planned point was read on this page.
  #onwardTimer = 0;
  #isDone = false;

  constructor(store, page) {
    this.page = page;
    this.screen = new Screen(page, (place) => this.#placed(place));
    this.keeping = new Keeping(store, page, {
      counted: (counts) => {
        this.screen.showCounts(counts);
        this.#openMapOnce(counts);
      },
      sent: (state) => this.#sent(state),
      failed: (problem) =>
        this.screen.say(`This device could not keep that (${problem.name ?? "no room"}). Write it down, and free some room.`),
    });
  }

  async start() {
    this.walk = new Walk(this.page.planned, await this.keeping.readings());
    if (!this.page.planned.length) this.#freePoint();
    this.screen.open();
    $("#enter-desk").addEventListener("click", (event) => this.#clicked(event));
    $("#enter-place").addEventListener("input", () => this.#movedByHand());
    listenToKeys(this.#typed, (key) => this.#press(key), (name) => this.#command(name));
    await this.keeping.count();
    this.#show();
    this.keeping.sender.wake();
  }

  #show(how) {
    this.screen.show(this.walk, this.#typed, this.#moved, how);
  }

  #clear() {
    this.#typed.clear();
    this.#moved = null;
  }

  #clicked(event) {
    const button = event.target.closest("button");
    if (button?.dataset.key) this.#press(button.dataset.key);
    else if (button?.dataset.do) this.#command(button.dataset.do, button);
  }

  #press(key) {
    if (!this.walk.current) {
      this.screen.say("All points are read. Go back to one to read it again, or take a free point.");
      return;
    }
    if (!this.#typed.isEmpty || key !== "back") this.screen.say("");
    this.#typed.press(key);
    this.screen.showValue(this.walk, this.#typed);
  }

  #command(name, button) {
    // Whatever a keeper does now, they are not done.
    this.#stay();
    const commands = {
      keep: () => this.#keep(),
      skip: () => this.#step(1),
      "back-point": () => this.#step(-1),
      again: () => this.#again(button?.dataset.point),
      undo: () => this.#undo(),
      free: () => this.#freePoint(),
      look: () => this.#toggleLook(),
      hand: () => this.screen.swapHands(),
      stay: () => this.#stay(),
    };
    commands[name]?.();
  }

  async #keep() {
    const stop = this.walk.current;
    if (!stop) return;
    const reading = this.#typed.reading();
    const values = this.#typed.all();
    const problem = this.#problemOf(reading, values);
    if (problem) {
      this.screen.say(problem);
      return;
    }
    const place = this.#moved ?? { x_cm: stop.x_cm, y_cm: stop.y_cm, depth_cm: stop.depth_cm };
    const row = { ...place, ...reading };
    const wasFree = this.walk.isFree;
    // The pad is free for the next point at once; a second tap finds nothing to keep.
    this.#clear();
    this.#lastKept = stop.point;
    this.walk.readings.set(stop.point, { point: stop.point, ...row });
    this.screen.showLast(row.value_umol);
    this.#isDone = this.page.opensMap && !this.walk.left;
    this.#onward(wasFree, place);
    this.#show();
    navigator.vibrate?.(20);
    await this.keeping.keep(stop.point, row, values);
    this.#warnWhenFar(stop, row);
  }

  // Why what is typed can't be kept, or an empty text.
  #problemOf(reading, values) {
    if (!reading) return this.#typed.isEmpty ? "Type what the meter shows first." : "Type the high end too.";
    const most = this.page.limits.par;
    return values.some((value) => value > most) ? `PAR is between 0 and ${most}.` : "";
  }

  #onward(wasFree, place) {
    this.walk.endFree();
    if (!this.page.planned.length) this.walk.startFree(place);
    else if (!this.walk.toNextUnread() && !wasFree) this.walk.at = this.walk.stops.length;
  }

  #warnWhenFar(stop, row) {
    const others = [...this.walk.readings.values()].filter((reading) => reading.point !== stop.point);
    const expected = farFrom(row, others);
    if (expected === null) return;
    this.screen.say(`Point ${stop.number}: ${round(row.value_umol)} is far from its neighbours, which say about ${round(expected)}. It is kept.`);
    this.screen.offerAgain("Read it again", stop.point);
  }

  // Once all planned points are read and the server has them, their map opens, unless told to stay.
  #openMapOnce({ waiting, refused }) {
    if (!this.#isDone || waiting || refused.length || this.#onwardTimer) return;
    this.screen.showOnward(true);
    this.#onwardTimer = setTimeout(() => location.assign(this.page.urls.map), ONWARD_MS);
  }

  #stay() {
    clearTimeout(this.#onwardTimer);
    this.#onwardTimer = 0;
    this.#isDone = false;
    this.screen.showOnward(false);
  }

  #step(by) {
    this.#clear();
    this.walk.step(by);
    this.screen.say("");
    this.#show();
  }

  #again(point = this.#lastKept) {
    if (!point || !this.walk.goTo(point)) {
      this.screen.say("Nothing was kept yet.");
      return;
    }
    this.#clear();
    this.screen.say("Read it once more: the new value takes the place of the old one, which stays in the history.");
    this.#show();
  }

  async #undo() {
    const last = await this.keeping.undo();
    if (!last) {
      this.screen.say("There is nothing left to take back from this device.");
      return;
    }
    this.walk.readings = await this.keeping.readings();
    this.#clear();
    if (!this.walk.goTo(last.point)) {
      this.walk.startFree({ x_cm: last.x_cm, y_cm: last.y_cm, depth_cm: last.depth_cm });
    }
    this.screen.say("Taken back.");
    this.screen.showLast(null);
    this.#show();
  }

  #freePoint() {
    const { length, width, depth } = this.page.tank;
    const from = this.walk.current ?? { x_cm: length / 2, y_cm: width / 2, depth_cm: depth / 2 };
    this.#clear();
    this.walk.startFree({ x_cm: from.x_cm, y_cm: from.y_cm, depth_cm: from.depth_cm });
    this.screen.say("Free point: tap the plan and the front view where the sensor is.");
    this.#show();
  }

  #placed(place) {
    if (!this.walk.isFree) {
      this.screen.say("To read somewhere else, press Free point first.");
      return;
    }
    this.walk.moveFree(place);
    this.#moved = null;
    this.#show();
  }

  #movedByHand() {
    const place = this.screen.typedPlace();
    if (!place) return;
    this.screen.say("");
    if (this.walk.isFree) this.walk.moveFree(place);
    else this.#moved = place;
    this.#show({ keepPlace: true });
  }

  #toggleLook() {
    this.screen.toggleLook();
    this.#show();
  }

  async #sent(state) {
    if (state === "sending") return;
    this.screen.showSending(state);
    if (state !== "saved") return;
    await this.keeping.count();
    const readings = await this.keeping.readings();
    if (this.keeping.isSettled) this.walk.readings = readings;
    this.screen.showSaved(this.walk, this.#typed, this.#moved);
  }
}
