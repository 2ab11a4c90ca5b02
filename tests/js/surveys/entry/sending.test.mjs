import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";

import { Sender } from "../../../../static/js/surveys/entry/sending.js";

const PAGE = { pk: 4, keeper: "7", urls: { sync: "/sync/" } };
const real = { setTimeout: globalThis.setTimeout, clearTimeout: globalThis.clearTimeout, fetch: globalThis.fetch };
let pauses, due, answers, posts, states, online;

function put(name, value) {
  Object.defineProperty(globalThis, name, { value, configurable: true, writable: true });
}

function answer(status, body = {}, type = "application/json") {
  return { status, ok: status === 200, headers: new Headers({ "Content-Type": type }), json: async () => body };
}

const taken = answer(200, { accepted: ["a"] });

function newSender({ isMore = [] } = {}) {
  const store = {
    answered: [],
    batch: async () => ({ headers: {}, body: "{}", isMore: isMore.shift() ?? false }),
    takeAnswer: async (pk, given) => store.answered.push([pk, given]),
  };
  return { store, sender: new Sender(store, PAGE, (state) => states.push(state)) };
}

beforeEach(() => {
  [pauses, answers, posts, states, due] = [[], [], [], [], null];
  const window = new EventTarget();
  online = () => window.dispatchEvent(new Event("online"));
  put("window", window);
  put("document", Object.assign(new EventTarget(), { cookie: "a=1; csrftoken=xyz", hidden: false }));
  put("navigator", {});
  put("setTimeout", (work, pause) => {
    pauses.push(pause);
    due = work;
    return pauses.length;
  });
  put("clearTimeout", () => (due = null));
  put("fetch", async (url, options) => {
    posts.push({ url, ...options });
    const next = answers.shift() ?? taken;
    if (next instanceof Error) throw next;
    return next;
  });
});

afterEach(() => {
  for (const [name, value] of Object.entries(real)) put(name, value);
});

test("what is taken is saved, and no further try is planned", async () => {
  const { sender, store } = newSender();
  await sender.wake();
  assert.deepEqual(states, ["sending", "saved"]);
  assert.deepEqual(store.answered, [[4, { accepted: ["a"] }]]);
  assert.equal(posts[0].headers["X-CSRFToken"], "xyz");
  assert.deepEqual(pauses, []);
});

test("without a network the pauses double up to half a minute, and begin anew once all is saved", async () => {
  const { sender } = newSender();
  answers = Array.from({ length: 6 }, () => new TypeError("no network"));
  await sender.wake();
  for (let i = 0; i < 5; i += 1) await due();
  assert.deepEqual(pauses, [2000, 4000, 8000, 16000, 30000, 30000]);
  await due();
  assert.equal(states.at(-1), "saved");
  answers = [new TypeError("no network")];
  await sender.wake();
  assert.equal(pauses.at(-1), 2000);
});

test("a network that comes back is used at once", async () => {
  const { sender } = newSender();
  answers = [new TypeError("no network")];
  await sender.wake();
  assert.equal(states.at(-1), "offline");
  const settled = new Promise((resolve) => (sender.tell = (state) => state === "saved" && resolve()));
  online();
  await settled;
  assert.equal(posts.length, 2);
});

test("an answer that takes nothing keeps the queue and says why", async () => {
  for (const [status, state] of [[401, "signed-out"], [409, "other-keeper"], [404, "gone"], [403, "gone"], [500, "trouble"]]) {
    const { sender, store } = newSender();
    answers = [answer(status)];
    await sender.wake();
    assert.equal(states.at(-1), state);
    assert.deepEqual(store.answered, []);
  }
  assert.equal(pauses.length, 5);
});

test("a page's refusal of the form's token is tried once more with a new one", async () => {
  const { sender } = newSender();
  answers = [answer(403, {}, "text/html"), answer(200), taken];
  await sender.wake();
  assert.deepEqual(posts.map(({ method }) => method ?? "GET"), ["POST", "GET", "POST"]);
  assert.equal(states.at(-1), "saved");
});

test("a full batch is followed by the next, unless nothing of it was taken", async () => {
  const { sender } = newSender({ isMore: [true, false] });
  await sender.wake();
  assert.equal(posts.length, 2);
  const { sender: refused } = newSender({ isMore: [true, true] });
  answers = [answer(200, { accepted: [] })];
  await refused.wake();
  assert.equal(posts.length, 3);
});

test("what is kept while something is being sent goes out right after it", async () => {
  const { sender } = newSender();
  const first = sender.wake();
  await sender.wake();
  await first;
  assert.equal(posts.length, 2);
});

test("two tabs of one keeper take turns", async () => {
  const turns = [];
  put("navigator", { locks: { request: (name, work) => (turns.push(name), work()) } });
  await newSender().sender.wake();
  assert.deepEqual(turns, ["reeflog-sending-7-/sync/"]);
});
