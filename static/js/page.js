// What every page does: says when the server could not be reached, keeps typed forms, and tells sign-up the time zone.

import { keepForms, keepFragment } from "./drafts.js";
import { forgetKeeper, rememberKeeper, unsentOf } from "./marker.js";

const notice = document.querySelector("#notice");

function tell(text) {
  const box = document.createElement("div");
  box.className = "notice notice--error";
  box.setAttribute("role", "alert");
  const line = document.createElement("p");
  line.textContent = text;
  box.append(line);
  notice.replaceChildren(box);
  notice.scrollIntoView({ block: "nearest" });
}

document.body.addEventListener("htmx:sendError", () =>
  tell("The server could not be reached. What you typed is still here; try again in a moment."),
);
function refusal(status) {
  if (status >= 500) return "Something went wrong on the server. What you typed is still here; try again in a moment.";
  if (status === 400 || status === 413) return "That is too much to send at once. What you typed is still here; send a part of it.";
  if (status === 429) return "That was asked too often in a short time. Wait a few minutes, then go on.";
  return "That is no longer here, or you may not change it. What you typed is still on this page.";
}

document.body.addEventListener("htmx:responseError", (event) => tell(refusal(event.detail.xhr.status)));

// An answer that came into the notices, such as that the sign-in ran out, must be seen from
// wherever on a long page it was asked for.
document.body.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target === notice) notice.scrollIntoView({ block: "center" });
});

// Signing in again in another tab changes the token that proves a form comes from this site;
// the page that waited with typed text must send the new one.
document.body.addEventListener("htmx:configRequest", (event) => {
  const token = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1];
  if (!token) return;
  event.detail.headers["X-CSRFToken"] = token;
  if (event.detail.parameters.csrfmiddlewaretoken) event.detail.parameters.csrfmiddlewaretoken = token;
});
document.body.addEventListener("htmx:load", (event) => keepFragment(event.detail.elt));

for (const input of document.querySelectorAll("input[data-time-zone]")) {
  input.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
}

// --- Readings and notes kept on this device ----------------------------------------------------

const keeper = document.body.dataset.keeper;
const SENT_FROM = { reading: "/surveys/enter/", note: "/corals/round/" };

/** What waits on this device: {kind, count, words, href} of each kind that does. */
function waiting() {
  return Object.entries(SENT_FROM)
    .map(([kind, href]) => ({ kind, href, count: unsentOf(keeper, kind) }))
    .filter(({ count }) => count)
    .map(({ kind, href, count }) => ({ kind, count, href, words: count === 1 ? `1 ${kind} kept on this device is not saved yet.` : `${count} ${kind}s kept on this device are not saved yet.` }));
}

function button(words, className, work) {
  const made = document.createElement("button");
  Object.assign(made, { type: "button", className, textContent: words });
  made.addEventListener("click", work);
  return made;
}

function link(words, href) {
  return Object.assign(document.createElement("a"), { href, textContent: words });
}

function warn(text, ...more) {
  const box = document.createElement("div");
  box.className = "notice notice--warning";
  box.append(Object.assign(document.createElement("p"), { textContent: text }), ...more);
  notice.prepend(box);
  return box;
}

if (keeper) {
  rememberKeeper(keeper);
  if (!document.body.classList.contains("enter-page")) {
    for (const { kind, count, words, href } of waiting()) {
      Object.assign(warn(words, link("Send them", href)).dataset, { waiting: kind, count });
    }
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[action='/accounts/logout/']") || !keeper) return;
  const kept = waiting();
  if (!kept.length || form.dataset.sure) {
    forgetKeeper(keeper);
    return;
  }
  event.preventDefault();
  const box = warn(
    `${kept.map(({ words }) => words).join(" ")} If you sign out now, what is not saved waits here, for you alone, until you sign in on this device again.`,
    ...kept.map(({ href }) => link("Send them first", href)),
    button("Sign out all the same", "button button--quiet", () => {
      form.dataset.sure = "yes";
      form.requestSubmit();
    }),
  );
  box.setAttribute("role", "alert");
  box.scrollIntoView({ block: "nearest" });
});

// Only once every module of the page has run: a page that builds its rows listens by then.
document.addEventListener("DOMContentLoaded", () => {
  keepForms(document);
  showWhereToGoOn();
});

// --- Where a keeper goes on after a form came back ----------------------------------------------

function showControl(control) {
  for (let fold = control.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  control.focus({ preventScroll: true });
  control.scrollIntoView({ block: "center" });
}

/** The first of the blank rows at the end of those before a "More rows" button, else the last row. */
function firstBlank(rows) {
  const isBlank = (row) => [...row.querySelectorAll("input[type=text], input[type=number], textarea")].every((cell) => !cell.value);
  let at = rows.length - 1;
  while (at > 0 && isBlank(rows[at]) && isBlank(rows[at - 1])) at -= 1;
  return rows[at];
}

// The table of readings sees to itself.
function showWhereToGoOn() {
  const more = location.hash ? document.getElementById(location.hash.slice(1)) : null;
  const wrong = document.querySelector("main form:not(#survey-readings) [aria-invalid=true]");
  if (more?.dataset.rows) history.replaceState(history.state, "", location.pathname + location.search);
  if (wrong) showControl(wrong);
  else if (more?.dataset.rows) {
    const row = firstBlank([...document.querySelectorAll(more.dataset.rows)]);
    const control = row?.querySelector("input:not([type=hidden]), select, textarea");
    if (control) showControl(control);
  }
}

// A fold that a keeper opened stays open when its part of the page is drawn anew; it is known by its id.
let opened = [];
document.addEventListener("htmx:beforeSwap", () => {
  opened = [...document.querySelectorAll("main details[id][open]")].map((fold) => fold.id);
});
document.addEventListener("htmx:afterSwap", () => {
  for (const id of opened) {
    const fold = document.getElementById(id);
    if (fold) fold.open = true;
  }
});

// A row or part of a form that is folded up says in its line what its fields say.
document.addEventListener("input", (event) => {
  for (let part = event.target.closest("fieldset"); part; part = part.parentElement.closest("fieldset")) sayFields(part);
});

function sayFields(part) {
  for (const said of part.querySelectorAll("[data-said]")) {
    const name = said.dataset.said;
    const field = said.closest("fieldset").querySelector(`[name='${name}'], [name$='-${name}']`);
    const value = field.selectedOptions ? field.selectedOptions[0].text : field.value || said.dataset.blank || "";
    const { one, many } = said.dataset;
    const text = many ? `${value} ${value === "1" ? one : many}` : value;
    if (said.textContent !== text) said.textContent = text;
  }
}
