// What was read is written on this device at once and sent when it can be.

import { Sender } from "./sending.js";

export class Keeping {
  #writing = 0;
  #waiting = 0;

  /**
   * `counted({waiting, saved, refused})` hears how many points wait here and are saved, and why some
   * were refused; `sent(state)` how sending goes; `failed(problem)` that this device kept nothing.
   */
  constructor(store, page, { counted, sent, failed }) {
    Object.assign(this, { store, page, counted, failed });
    this.sender = new Sender(store, page, sent);
  }

  /** The readings of the survey as Map of point to reading. */
  readings() {
    return this.store.points(this.page.pk);
  }

  async keep(point, row, values) {
    await this.#written(() => this.store.keep(this.page.pk, point, row, { burst: values.length > 1 ? values : [] }));
  }

  /** Take back the last reading of this device; resolves with it, or null. */
  async undo() {
    let last = null;
    await this.#written(async () => {
      last = await this.store.undo(this.page.pk);
    });
    return last;
  }

  // Kept means written; if the device refuses, the keeper must know at once.
  async #written(work) {
    this.#writing += 1;
    let problem = null;
    await work().catch((error) => (problem = error));
    if (!problem) await this.count();
    this.#writing -= 1;
    if (problem) this.failed(problem);
    else this.sender.wake();
  }

  /** While something waits or is being written, this page knows better than the server's last answer. */
  get isSettled() {
    return !this.#waiting && !this.#writing;
  }

  /** Count what waits and say so. */
  async count() {
    const unsent = await this.store.unsent(this.page.pk);
    const page = (await this.store.page(this.page.pk)) ?? this.page;
    this.#waiting = new Set(unsent.map((edit) => edit.point)).size;
    const refused = new Set(unsent.filter((edit) => edit.refused).map((edit) => edit.refused));
    this.counted({ waiting: this.#waiting, saved: page.saved, refused: [...refused] });
  }
}
