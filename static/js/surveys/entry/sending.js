// Sends what a survey or a round has waiting, as often as it takes. Sending twice is harmless: the
// server knows every entry by its id. Nothing is dropped here but what the server says it holds.

const PATIENCE_MS = 15_000;
const FIRST_PAUSE_MS = 2_000;
const LONGEST_PAUSE_MS = 30_000;

function token() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";
}

function ask(url, options = {}, patience = PATIENCE_MS) {
  return fetch(url, { ...options, credentials: "same-origin", redirect: "error", signal: AbortSignal.timeout(patience) });
}

// What an answer other than "taken" means for the keeper.
function stateFor(status) {
  if (status === 401) return "signed-out";
  if (status === 409) return "other-keeper";
  if (status === 403 || status === 404) return "gone";
  return "trouble";
}

export class Sender {
  #running = false;
  #again = false;
  #timer = 0;
  #pause = FIRST_PAUSE_MS;

  /** `tell(state)` hears "sending", "saved", "offline", "signed-out", "other-keeper", "gone", "trouble". */
  constructor(store, page, tell) {
    Object.assign(this, { store, page, tell });
    window.addEventListener("online", () => this.wake());
    document.addEventListener("visibilitychange", () => document.hidden || this.wake());
  }

  /** Send now, or once more after what is being sent. */
  async wake() {
    clearTimeout(this.#timer);
    if (this.#running) {
      this.#again = true;
      return;
    }
    this.#running = true;
    let state;
    do {
      this.#again = false;
      // Two tabs of one keeper take turns where the browser can arrange it.
      const turn = `reeflog-sending-${this.page.keeper}-${this.page.urls.sync}`;
      state = await (navigator.locks ? navigator.locks.request(turn, () => this.#send()) : this.#send());
    } while (this.#again && state === "saved");
    this.#running = false;
    if (state === "saved") this.#pause = FIRST_PAUSE_MS;
    else this.#later();
  }

  #later() {
    this.#timer = setTimeout(() => this.wake(), this.#pause);
    this.#pause = Math.min(2 * this.#pause, LONGEST_PAUSE_MS);
  }

  async #send() {
    this.tell("sending");
    let state;
    try {
      do state = await this.#sendBatch();
      while (state === "more");
    } catch {
      state = "offline";
    }
    this.tell(state);
    return state;
  }

  async #sendBatch() {
    const batch = await this.store.batch(this.page);
    let answer = await this.#post(batch);
    if (answer.status === 403 && !answer.headers.get("Content-Type")?.includes("json")) {
      // Perhaps only the token that proves the form is ours has gone: asking brings a new one.
      await ask(this.page.urls.sync);
      answer = await this.#post(batch);
    }
    if (!answer.ok) return stateFor(answer.status);
    const told = await answer.json();
    await this.store.takeAnswer(this.page.pk, told, batch);
    // What the server refuses stays here and is told; only a full batch means more may wait.
    return batch.isMore && told.accepted.length ? "more" : "saved";
  }

  #post({ headers, body, patience }) {
    return ask(this.page.urls.sync, { method: "POST", headers: { ...headers, "X-CSRFToken": token() }, body }, patience);
  }
}
