// Lets the entry pages start without a network. The server puts one line above this:
// KEPT = { version, shells, files }, so a change of any kept file is a new worker.
//
// Nothing of a keeper is kept here: a shell is the page with nobody in it.

const CACHE = `reeflog-entry-${KEPT.version}`;
const ENTRY = /^\/surveys\/(\d+\/)?enter\/$/;
// The page of one coral's new note opens as the round, at that coral.
const ROUND = /^\/((corals|tanks\/\d+)\/round|corals\/\d+\/notes\/new)\/$/;
// A router two rooms away may answer late; beside the tank nobody waits longer [ms].
const PATIENCE_MS = 3000;

async function fill() {
  const cache = await caches.open(CACHE);
  await cache.addAll(KEPT.files);
  for (const shell of Object.values(KEPT.shells)) {
    await cache.put(shell, await fetch(shell, { credentials: "omit", cache: "no-store" }));
  }
}

async function dropOld() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith("reeflog-entry-") && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function networkFirst(request, kept, patience) {
  const cached = (await caches.open(CACHE)).match(kept);
  const late = new Promise((resolve, reject) => setTimeout(reject, patience, new Error("late")));
  try {
    return await Promise.race([fetch(request), late]);
  } catch {
    return (await cached) ?? fetch(request);
  }
}

// A reminder (static/js/sharing/reminders.js); what it says was locked for this browser alone.
function show(push) {
  const { title, body, path } = push.json();
  const icon = KEPT.files.find((name) => name.includes("mark-192"));
  const actions = [{ action: "off", title: "Turn off" }];
  return self.registration.showNotification(title, { body, icon, actions, tag: "reminders", data: { path } });
}

async function follow({ action, notification }) {
  notification.close();
  if (action === "off") {
    // The site forgets this browser when its push service says that it is gone.
    await (await self.registration.pushManager.getSubscription())?.unsubscribe();
    return;
  }
  const address = new URL(notification.data.path, self.location.origin);
  if (address.origin === self.location.origin) await self.clients.openWindow(address);
}

self.addEventListener("push", (event) => event.waitUntil(show(event.data)));
self.addEventListener("notificationclick", (event) => event.waitUntil(follow(event)));
self.addEventListener("install", (event) => event.waitUntil(fill().then(() => self.skipWaiting())));
self.addEventListener("activate", (event) => event.waitUntil(dropOld()));
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (event.request.mode === "navigate") {
    // Other pages are waited for; without any network the shell says what can be done.
    const isRound = ROUND.test(url.pathname);
    const patience = isRound || ENTRY.test(url.pathname) ? PATIENCE_MS : 60_000;
    const shell = isRound ? KEPT.shells.round : KEPT.shells.survey;
    event.respondWith(networkFirst(event.request, shell, patience));
  } else if (KEPT.files.includes(url.pathname)) {
    event.respondWith(networkFirst(event.request, url.pathname, PATIENCE_MS));
  }
});
