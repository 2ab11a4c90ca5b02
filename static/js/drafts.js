// Keeps what is typed into <form data-keep="name"> on this device until the server has it.
//
// A closed tab, a crash or a sign-in that ran out loses nothing: the form is filled again when
// it is next opened by the same keeper. A draft is dropped when a page other than sign-in
// arrives after the form was sent: then the server has taken it.

const keeper = document.body.dataset.keeper;
const PREFIX = `reeflog-draft:${keeper}:`;
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

function values(form) {
  return [...new FormData(form)]
    .filter(([name, value]) => typeof value === "string" && name !== "csrfmiddlewaretoken")
    .filter(([name]) => !form.elements[name]?.closest?.("[data-keep-not]"));
}

function fill(form, pairs) {
  const left = new Map();
  for (const [name, value] of pairs) left.set(name, [...(left.get(name) ?? []), value]);
  for (const control of form.elements) {
    if (!left.has(control.name) || control.type === "hidden" || control.type === "file") continue;
    if (control.type === "checkbox" || control.type === "radio") {
      control.checked = left.get(control.name).includes(control.value);
    } else if (left.get(control.name).length) {
      control.value = left.get(control.name).shift();
    }
    control.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

function offerThrowAway(form, key, at) {
  const box = document.createElement("div");
  box.className = "notice notice--warning";
  box.dataset.keptNotice = "";
  const line = document.createElement("p");
  const when = new Date(at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
  line.textContent = `Put back what you had typed here (${when}). It is not saved yet.`;
  const drop = document.createElement("button");
  drop.type = "button";
  drop.className = "button button--quiet";
  drop.textContent = "Throw it away";
  drop.addEventListener("click", () => {
    localStorage.removeItem(key);
    form.dataset.keepStopped = "";
    location.reload();
  });
  box.append(line, drop);
  form.prepend(box);
}

function keep(form) {
  const key = PREFIX + form.dataset.keep;
  const draft = read(key);
  const fresh = JSON.stringify(values(form));
  const sentBack = form.querySelector(".field--wrong, [aria-invalid=true]");
  if (sentBack) localStorage.removeItem(key);
  else if (draft && Date.now() - draft.at < OLDEST_MS && JSON.stringify(draft.values) !== fresh) {
    // Pages that build rows as they are needed make room for the kept ones first.
    form.dispatchEvent(new CustomEvent("drafts:restore", { detail: draft.values }));
    fill(form, draft.values);
    offerThrowAway(form, key, draft.at);
  }
  form.addEventListener("input", () => {
    if (!("keepStopped" in form.dataset)) write(key, { at: Date.now(), values: values(form) });
  });
  form.addEventListener("submit", () => {
    write(key, { at: Date.now(), values: values(form), sent: true });
  });
}

function dropTaken(root) {
  // Still on a sign-in page: the sent form may have been turned away there.
  if (!keeper || root.querySelector("[data-account-page]")) return;
  const open = new Set([...root.querySelectorAll("form[data-keep]")].map((f) => PREFIX + f.dataset.keep));
  for (const key of Object.keys(localStorage)) {
    if (key.startsWith(PREFIX) && read(key)?.sent && !open.has(key)) localStorage.removeItem(key);
  }
}

export function dropDraft(name) {
  localStorage.removeItem(PREFIX + name);
}

export function keepForms(root) {
  dropTaken(root);
  if (keeper) root.querySelectorAll("form[data-keep]").forEach(keep);
}
