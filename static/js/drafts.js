// Keeps what is typed into <form data-keep="name"> on this device until the server has it.
//
// A closed tab, a crash or a sign-in that ran out loses nothing: the form is filled again when
// it is next opened by the same keeper. A draft is dropped when a page other than sign-in
// arrives after the form was sent: then the server has taken it. A form that htmx sends is
// told by the answer itself.
//
//   data-keep="name"         keep this form under that name
//   data-sent-back           the server sent the form back with what was typed: nothing to put back
//   data-keep-hidden         on a hidden input: its value belongs to what was typed, put it back too
//   data-keep-fresh          on a control: what the page says now is newer than what was kept
//   data-keep-folded         on a <details>: leave it shut though something within is put back
//   data-keep-not            round fields that must not be kept
//   data-keep-again="a=b"    what is kept belongs to rows that the server makes: where they differ, it is
//                            offered, and the server, sent a=b with it, shows the form as it was
//   data-drop-draft="name"   on a link or button: following it throws the draft away
//   "drafts:restore"         told to the form before it is filled, with the kept [name, value] pairs,
//                            so that a page that builds fields as they are needed can make room

import { newMark } from "./marks.js";

const keeper = document.body.dataset.keeper;
const PREFIX = `reeflog-draft:${keeper}:`;
const MARK_FIELD = "draft_mark";
// New with every page: it is put back, so that what was sent and is sent again is known, but a page
// that differs by it alone holds nothing of the keeper's.
const ONCE_FIELD = "form_mark";
// Drafts of a month ago say nothing useful any more.
const OLDEST_MS = 31 * 24 * 3600 * 1000;

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

function write(key, draft) {
  try {
    localStorage.setItem(key, JSON.stringify(draft));
  } catch {
    // A full or forbidden store must not stop the typing.
  }
}

function leftOut(form) {
  const controls = form.querySelectorAll("[data-keep-not] [name], [name][data-keep-not]");
  return new Set(["csrfmiddlewaretoken", MARK_FIELD, ...[...controls].map((control) => control.name)]);
}

function values(form) {
  const not = leftOut(form);
  return [...new FormData(form)].filter(
    ([name, value]) => typeof value === "string" && !not.has(name),
  );
}

function typed(pairs) {
  return JSON.stringify(pairs.filter(([name]) => name !== ONCE_FIELD));
}

function fill(form, pairs) {
  const left = new Map();
  for (const [name, value] of pairs) left.set(name, [...(left.get(name) ?? []), value]);
  const not = leftOut(form);
  for (const control of form.elements) {
    const isBox = control.type === "checkbox" || control.type === "radio";
    // A box that was not ticked stands in no draft: that too was the keeper's wish.
    if (not.has(control.name) || (!isBox && !left.has(control.name)) || control.type === "file") continue;
    if ("keepFresh" in control.dataset) continue;
    if (control.type === "hidden" && !("keepHidden" in control.dataset)) continue;
    const before = isBox ? control.checked : control.value;
    if (isBox) {
      control.checked = (left.get(control.name) ?? []).includes(control.value);
    } else if (left.get(control.name).length) {
      control.value = left.get(control.name).shift();
    }
    if (before !== (isBox ? control.checked : control.value)) bringToSight(control);
    control.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

// What is put back must not lie in a part of the page that is folded up.
function bringToSight(control) {
  for (let part = control.closest("details"); part; part = part.parentElement.closest("details")) {
    if (!("keepFolded" in part.dataset)) part.open = true;
  }
}

/**
 * Whether rows or other hidden values of a draft are not those of the form as it came. What came to the
 * form since then, as rows do with the first lamp, is in no draft and takes nothing away.
 */
function isOfOtherRows(form, pairs) {
  const before = new Map(pairs);
  const own = ["csrfmiddlewaretoken", MARK_FIELD, ONCE_FIELD];
  return [...form.elements].some((control) => control.type === "hidden" && !own.includes(control.name)
    && !("keepHidden" in control.dataset) && before.has(control.name)
    && before.get(control.name) !== control.value);
}

function notice(form, words, at, ...buttons) {
  const box = document.createElement("div");
  box.className = "notice notice--warning";
  box.dataset.keptNotice = "";
  const line = document.createElement("p");
  const kept = new Date(at);
  const month = kept.toLocaleString("en-US", { month: "short" });
  const when = `${kept.getDate()} ${month} ${kept.getFullYear()}, ${kept.toTimeString().slice(0, 5)}`;
  line.textContent = words.replace("WHEN", when);
  box.append(line, ...buttons);
  form.prepend(box);
  return box;
}

function button(words, work) {
  const made = document.createElement("button");
  Object.assign(made, { type: "button", className: "button button--quiet", textContent: words });
  made.addEventListener("click", work);
  return made;
}

function sayPutBack(form, key, at) {
  const startFresh = button("Start fresh", () => {
    localStorage.removeItem(key);
    form.dataset.keepStopped = "";
    location.reload();
  });
  notice(form, "Your unsaved text is back here (WHEN).", at, startFresh);
}

function hidden(name, value) {
  return Object.assign(document.createElement("input"), { type: "hidden", name, value });
}

/** Have the server make the form anew from what was kept. */
function sendBack(form, pairs) {
  const sent = Object.assign(document.createElement("form"), { method: "post", hidden: true });
  sent.append(...pairs.map(([name, value]) => hidden(name, value)));
  sent.append(hidden(...form.dataset.keepAgain.split("=")));
  sent.append(hidden("csrfmiddlewaretoken", form.querySelector("[name=csrfmiddlewaretoken]").value));
  document.body.append(sent);
  sent.submit();
}

// Typing into the form as it came keeps that instead: then only this page still holds the draft.
function offerBack(form, key, draft) {
  const box = notice(
    form, "You typed something here and did not save it (WHEN).", draft.at,
    button("Put it back", () => sendBack(form, draft.values)),
    button("Throw it away", () => {
      if (read(key)?.at === draft.at) localStorage.removeItem(key);
      box.remove();
    }),
  );
}

function marked(form) {
  let field = form.querySelector(`input[name=${MARK_FIELD}]`);
  if (!field) {
    field = Object.assign(document.createElement("input"), { type: "hidden", name: MARK_FIELD });
    form.append(field);
  }
  field.value = newMark().replaceAll("-", "");
  return field.value;
}

const kept = new WeakSet();

function keep(form) {
  if (kept.has(form)) return;
  kept.add(form);
  const key = PREFIX + form.dataset.keep;
  const draft = read(key);
  const fresh = values(form);
  const store = () => {
    if (!("keepStopped" in form.dataset)) write(key, { at: Date.now(), values: values(form) });
  };
  if ("sentBack" in form.dataset || form.querySelector(".field--wrong, [aria-invalid=true]")) {
    // The page holds what was typed, and only the page: keep it from here on.
    store();
  } else if (
    draft &&
    Date.now() - draft.at < OLDEST_MS &&
    typed(draft.values) !== typed(fresh)
  ) {
    if ("keepAgain" in form.dataset && isOfOtherRows(form, draft.values)) {
      offerBack(form, key, draft);
    } else {
      // Pages that build rows as they are needed make room for the kept ones first.
      form.dispatchEvent(new CustomEvent("drafts:restore", { detail: draft.values, bubbles: true }));
      fill(form, draft.values);
      sayPutBack(form, key, draft.at);
    }
  }
  form.addEventListener("input", store);
  // Rows that the server made anew belong to what was typed.
  form.addEventListener("htmx:afterSettle", (event) => {
    if (event.target !== form && read(key)) store();
  });
  form.addEventListener("submit", () => {
    // htmx tells by its answer whether the server took the form; see below.
    if (form.hasAttribute("hx-post")) store();
    else write(key, { at: Date.now(), values: values(form), sent: marked(form) });
  });
  form.addEventListener("htmx:afterRequest", (event) => {
    // Not `successful`: it is true of any answer that is shown, and unset where one leads on.
    const { status } = event.detail.xhr;
    if (event.detail.elt !== form || status < 200 || status >= 300) return;
    form.dataset.keepStopped = "";
    // The answer may be the form once more, with what is still to do: then that is kept, at once.
    const again = document.querySelector(`form[data-keep="${form.dataset.keep}"][data-sent-back]`);
    if (again && again !== form) keep(again);
    else localStorage.removeItem(key);
  });
}

function dropTaken() {
  const taken = new Set(document.body.dataset.takenDrafts.split(" "));
  for (const key of Object.keys(localStorage)) {
    if (key.startsWith(PREFIX) && taken.has(read(key)?.sent)) localStorage.removeItem(key);
  }
}

export function dropDraft(name) {
  localStorage.removeItem(PREFIX + name);
}

document.addEventListener("click", (event) => {
  const drop = event.target.closest?.("[data-drop-draft]");
  if (drop) dropDraft(drop.dataset.dropDraft);
});

/** Keep the forms of a page that just arrived. */
export function keepForms(root) {
  if (keeper) dropTaken();
  keepFragment(root);
}

/** Keep the forms of a fragment that was swapped in. */
export function keepFragment(root) {
  if (!keeper) return;
  if (root.matches?.("form[data-keep]")) keep(root);
  root.querySelectorAll("form[data-keep]").forEach(keep);
}
