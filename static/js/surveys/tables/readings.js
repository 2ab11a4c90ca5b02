// The readings table: moves by keyboard, takes a pasted block, grows when needed.
// Without it the table is a plain form; the server decides what is a reading.

import { newMark } from "../../marks.js";

const ROW = ".readings__row";
const FORM = "#survey-readings";

const form = () => document.querySelector(FORM);
const body = () => document.querySelector("#reading-rows");
// A long table folds the rows at its head; they are rows of the form like the others.
const rows = () => [...form().querySelectorAll(ROW)];
const isShown = (cell) => cell.offsetParent !== null;
const cells = (row) => [...row.querySelectorAll("input[inputmode]")].filter(isShown);
const isBlank = (row) => [...row.querySelectorAll("input[inputmode]")].every((cell) => !cell.value.trim());

function say(text) {
  form().querySelector(".readings__status").textContent = text;
}

function addRow() {
  if (rows().length >= Number(form().dataset.mostRows)) {
    say(`A survey holds ${form().dataset.mostRows} readings at most.`);
    return null;
  }
  const row = document.querySelector("#blank-row").content.querySelector(ROW).cloneNode(true);
  row.querySelector("input[name=client_id]").value = newMark();
  row.removeAttribute("id");
  body().append(row);
  showButtons(row);
  return row;
}

function showButtons(root) {
  root.querySelectorAll("[data-take-out], [data-add-rows]").forEach((button) => (button.hidden = false));
}

function changed() {
  form().dispatchEvent(new Event("input", { bubbles: true }));
}

function toldOf(row) {
  const next = row.nextElementSibling;
  return next?.matches(".readings__problem") ? next : null;
}

function unfold(row) {
  const fold = row.closest("details");
  if (fold) fold.open = true;
}

function focusCell(row, column) {
  unfold(row);
  const cell = cells(row)[column];
  cell.focus();
  cell.select();
}

// Past the headings that stay above and the buttons that stay below.
function showCell(cell) {
  unfold(cell.closest(ROW));
  cell.focus({ preventScroll: true });
  cell.scrollIntoView({ block: "center" });
}

function move(cell, down, across) {
  const row = cell.closest(ROW);
  const all = rows();
  const column = cells(row).indexOf(cell) + across;
  let target = all[all.indexOf(row) + down];
  if (!target && down > 0) target = addRow();
  if (target) unfold(target);
  if (!target || column < 0 || column >= cells(target).length) return false;
  focusCell(target, column);
  return true;
}

function onKey(event) {
  const cell = event.target;
  if (!cell.matches(`${ROW} input[inputmode]`) || event.isComposing) return;
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const atStart = cell.selectionStart === 0 && (cell.selectionEnd === 0 || cell.selectionEnd === cell.value.length);
  const atEnd = cell.selectionEnd === cell.value.length && (cell.selectionStart === 0 || cell.selectionStart === cell.value.length);
  let done;
  if (event.key === "Enter") {
    // In a table Enter means "next reading"; it never sends the form.
    event.preventDefault();
    move(cell, event.shiftKey ? -1 : 1, 0);
    return;
  }
  if (event.shiftKey) return;
  if (event.key === "ArrowDown" && cell.closest(ROW) !== rows().at(-1)) done = move(cell, 1, 0);
  if (event.key === "ArrowUp") done = move(cell, -1, 0);
  if (event.key === "ArrowLeft" && atStart) done = move(cell, 0, -1);
  if (event.key === "ArrowRight" && atEnd) done = move(cell, 0, 1);
  if (done) event.preventDefault();
}

// A block from a spreadsheet has tabs between cells and lines between rows.
function onPaste(event) {
  const cell = event.target;
  const text = event.clipboardData?.getData("text/plain") ?? "";
  if (!cell.matches(`${ROW} input[inputmode]`) || !/[\t\n\r]/.test(text.trim())) return;
  event.preventDefault();
  const lines = text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n");
  const from = cells(cell.closest(ROW)).indexOf(cell);
  let row = cell.closest(ROW);
  let at = rows().indexOf(row);
  let lost = 0;
  for (const line of lines) {
    row = rows()[at] ?? addRow();
    if (!row) {
      lost = lines.length - lines.indexOf(line);
      break;
    }
    unfold(row);
    const targets = cells(row);
    line.split("\t").forEach((value, i) => {
      if (targets[from + i]) targets[from + i].value = value.trim();
      else if (value.trim()) lost += 1;
    });
    at += 1;
  }
  changed();
  say(lost ? `Pasted, but ${lost} cells or lines found no room.` : `Pasted ${lines.length} rows.`);
}

function takeOut(row) {
  const [after, told, parent] = [(toldOf(row) ?? row).nextElementSibling, toldOf(row), row.parentNode];
  const neighbour = rows()[rows().indexOf(row) + 1] ?? rows()[rows().indexOf(row) - 1];
  row.remove();
  told?.remove();
  changed();
  say("Row taken out. ");
  const back = document.createElement("button");
  back.type = "button";
  back.className = "link";
  back.textContent = "Put it back";
  back.addEventListener("click", () => {
    parent.insertBefore(row, after?.parentNode === parent ? after : null);
    if (told) row.after(told);
    changed();
    say("");
    focusCell(row, 0);
  });
  form().querySelector(".readings__status").append(back);
  if (neighbour) cells(neighbour)[0].focus();
  else back.focus();
}

function onClick(event) {
  const out = event.target.closest("[data-take-out]");
  if (out) takeOut(out.closest(ROW));
  const more = event.target.closest("[data-add-rows]");
  if (!more) return;
  const added = Array.from({ length: Number(more.dataset.addRows) }, addRow).filter(Boolean);
  changed();
  if (added.length) focusCell(added[0], 0);
}

// A kept draft may hold more or fewer rows than the page came with.
function makeRoom(event) {
  if (!event.target.matches(FORM)) return;
  const names = event.detail.map(([name]) => name);
  const wanted = names.filter((name) => name === "client_id").length;
  for (const extra of rows().slice(wanted)) {
    toldOf(extra)?.remove();
    extra.remove();
  }
  while (rows().length < wanted && addRow());
  const hasSpread = event.detail.some(([name, value]) => name === "spread" && value.trim());
  if (hasSpread) form().querySelector(".readings-spread").checked = true;
}

// The grid's points come after what stands; rows that hold nothing make way.
function gridArrived(event) {
  if (!event.detail.elt.matches?.("[data-grid]") || !event.detail.successful) return;
  rows().filter(isBlank).forEach((row) => row.remove());
  showButtons(body());
  changed();
  event.target.closest("details").open = false;
  const first = rows().find((row) => !row.querySelector("input[name=par]").value);
  if (first) showCell(first.querySelector("input[name=par]"));
  say("The points are in the table.");
}

function arrived(root) {
  const table = root.matches?.(FORM) ? root : root.querySelector?.(FORM);
  if (!table) return;
  showButtons(table);
  const wrong = table.querySelector("[aria-invalid=true]");
  if (wrong) showCell(wrong);
  else table.querySelector(".notice")?.scrollIntoView({ block: "nearest" });
}

document.addEventListener("keydown", onKey);
document.addEventListener("paste", onPaste);
document.addEventListener("click", onClick);
document.addEventListener("drafts:restore", makeRoom);
document.body.addEventListener("htmx:afterRequest", gridArrived);
document.body.addEventListener("htmx:load", (event) => arrived(event.detail.elt));
arrived(document);
