// Entering a survey beside the tank: one point at a time, kept on this device at once and sent
// when it can be. Works from what the server put in the page, or, started without a network, from
// what this device kept when the page was last opened.

import { Desk } from "./desk.js";
import { lastKeeper } from "../../marker.js";
import { startWithoutNetworkFromNowOn, stayBesideTheTank } from "./offline.js";
import { Sender } from "./sending.js";
import { openStore } from "./store.js";

const $ = (selector) => document.querySelector(selector);
const keeper = document.body.dataset.keeper || lastKeeper();

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
