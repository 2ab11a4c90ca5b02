// What the service worker does with a reminder: shown as it was sent, opened on this site alone.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import vm from "node:vm";

const SCRIPT = readFileSync(new URL("../../static/js/service_worker.js", import.meta.url), "utf-8");
const ORIGIN = "https://reef.example.org";

function worker() {
  const heard = {};
  const did = { shown: [], opened: [], closed: 0, unsubscribed: 0 };
  const self = {
    location: { origin: ORIGIN },
    addEventListener: (name, does) => (heard[name] = does),
    registration: {
      showNotification: async (title, options) => did.shown.push({ title, ...options }),
      pushManager: { getSubscription: async () => ({ unsubscribe: async () => (did.unsubscribed += 1) }) },
    },
    clients: { openWindow: async (address) => did.opened.push(String(address)) },
  };
  const KEPT = { version: "1", shells: {}, files: ["/static/img/mark-192.abc.png"] };
  vm.runInNewContext(SCRIPT, { self, KEPT, URL, Promise, setTimeout, caches: {}, fetch: null });
  const happens = async (name, event) => {
    let ends;
    heard[name]({ ...event, waitUntil: (promise) => (ends = promise) });
    await ends;
  };
  return { did, happens };
}

function tapped(path, action = "") {
  const { did, happens } = worker();
  const notification = { data: { path }, close: () => (did.closed += 1) };
  return happens("notificationclick", { action, notification }).then(() => did);
}

test("a reminder is shown as it was sent", async () => {
  const { did, happens } = worker();
  const sent = { title: "reeflog: 1 reminder", body: "Harbour cube: Tubes are due", path: "/tanks/1/" };
  await happens("push", { data: { json: () => sent } });
  const [shown] = did.shown;
  assert.equal(shown.title, sent.title);
  assert.equal(shown.body, sent.body);
  assert.equal(shown.data.path, "/tanks/1/");
  assert.equal(shown.icon, "/static/img/mark-192.abc.png");
});

test("a tap opens its page", async () => {
  const did = await tapped("/tanks/1/");
  assert.deepEqual(did.opened, [`${ORIGIN}/tanks/1/`]);
  assert.equal(did.closed, 1);
  assert.equal(did.unsubscribed, 0);
});

test("no other site is opened", async () => {
  for (const path of ["https://elsewhere.example.org/", "//elsewhere.example.org/", "javascript:alert(1)"]) {
    assert.deepEqual((await tapped(path)).opened, []);
  }
});

test("Turn off ends them here and opens nothing", async () => {
  const did = await tapped("/tanks/1/", "off");
  assert.equal(did.unsubscribed, 1);
  assert.deepEqual(did.opened, []);
});
