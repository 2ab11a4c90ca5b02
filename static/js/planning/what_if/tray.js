// The tray at the thumb: one lamp is chosen, or all, and a tap moves it, a finger that stays goes on.

import { form, hanging, hangs, input, read, stage, step } from "./rig_fields.js";

const HOLD_MS = 400;
const REPEAT_MS = 110;
const tray = document.querySelector("[data-tray]");
const lamps = [...tray.querySelectorAll("[data-tray-lamp]")];
const all = tray.querySelector("[data-tray-all]");
// What all lamps may do alike: moved sideways together they would leave the tank one by one.
const ALIKE = ["height_cm", "level_percent"];

function chosen() {
  return tray.querySelector("[name=tray-lamp]:checked")?.value ?? null;
}

function chosenRows() {
  const row = chosen();
  if (row === "all") return hanging();
  return row === null ? [] : [row];
}

// One number, or the ends of what the chosen lamps have.
function saidOf(rows, name) {
  const values = rows.map((row) => read(row, name)).filter((value) => value !== null);
  if (!values.length) return rows.length ? "–" : "";
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return low === high ? String(low) : `${low}–${high}`;
}

function show() {
  for (const lamp of lamps) {
    const row = lamp.dataset.trayLamp;
    lamp.hidden = !hangs(row);
    const made = input(row, "fixture").selectedOptions[0];
    if (made?.value) lamp.querySelector(".what-if-tray__name").textContent = made.text;
  }
  all.hidden = hanging().length < 2;
  if (chosen() === null || (chosen() === "all" ? all.hidden : !hangs(chosen()))) {
    const first = lamps.find((lamp) => !lamp.hidden);
    if (first) first.querySelector("input").checked = true;
  }
  const rows = chosenRows();
  for (const said of tray.querySelectorAll("[data-said-step]")) {
    const text = saidOf(rows, said.dataset.saidStep);
    if (said.textContent !== text) said.textContent = text;
  }
  for (const button of tray.querySelectorAll("[data-step]")) {
    button.disabled = chosen() === "all" && !ALIKE.includes(button.dataset.step);
  }
  for (const handle of document.querySelectorAll("[data-handle]")) {
    handle.classList.toggle("what-if-handle--chosen", rows.includes(handle.dataset.handle));
  }
}

function holds(button) {
  const { step: name, by } = button.dataset;
  const move = () => step(chosenRows(), name, Number(by) * stage.steps[name]);
  let timer = null;
  let held = false;
  const stop = () => clearTimeout(timer);
  const again = () => {
    held = true;
    move();
    timer = setTimeout(again, REPEAT_MS);
  };
  button.addEventListener("pointerdown", () => {
    held = false;
    timer = setTimeout(again, HOLD_MS);
  });
  for (const end of ["pointerup", "pointercancel", "pointerleave"]) button.addEventListener(end, stop);
  // A click also comes from the keyboard; one that ends a hold has moved already.
  button.addEventListener("click", () => {
    if (!held) move();
    held = false;
  });
  button.addEventListener("contextmenu", (event) => event.preventDefault());
}

function addLamp() {
  const row = [...form.querySelectorAll("[data-row]")].find((one) => !input(one.dataset.row, "fixture").value);
  // Where no blank row is left, more come by the number.
  const choice = row ? input(row.dataset.row, "fixture") : form.elements.alike_fixture;
  if (!choice) return;
  for (let fold = choice.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  choice.focus();
  choice.scrollIntoView({ block: "center" });
}

/** Make the lamp of a row the one that the tray moves. */
export function choose(row) {
  const radio = tray.querySelector(`[name=tray-lamp][value="${row}"]`);
  if (radio) radio.checked = true;
  show();
}

export function startTray() {
  tray.removeAttribute("data-unready");
  tray.querySelectorAll("[data-step]").forEach(holds);
  tray.addEventListener("change", show);
  tray.querySelector("[data-tray-add]").addEventListener("click", addLamp);
  form.addEventListener("input", show);
  show();
}
