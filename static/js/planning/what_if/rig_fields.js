// The numbers of a rig in its form: read, and typed into as a keeper would. The form listens to
// typing and asks the server, so whoever moves a lamp types.

import { typedNumber } from "../../lengths.js";

export const form = document.querySelector("[data-what-if]");
export const stage = JSON.parse(document.getElementById("what-if-stage").textContent);

export function input(row, name) {
  return form.elements[`hung-${row}-${name}`];
}

export function read(row, name) {
  return typedNumber(input(row, name));
}

function put(row, name, value) {
  input(row, name).value = String(Number(value.toFixed(1)));
}

function tell(row) {
  input(row, "x_cm").dispatchEvent(new Event("input", { bubbles: true }));
}

export function type(row, values) {
  for (const [name, value] of Object.entries(values)) put(row, name, value);
  tell(row);
}

export function hangs(row) {
  return read(row, "x_cm") !== null && read(row, "y_cm") !== null && !input(row, "DELETE")?.checked;
}

/** The rows of all lamps that hang. */
export function hanging() {
  return [...form.querySelectorAll("[data-row]")].map((one) => one.dataset.row).filter(hangs);
}

/** Step one number of some rows alike, each as far as it goes; the server is asked once. */
export function step(rows, name, by) {
  const [low, high] = stage.bounds[name];
  const known = rows.filter((row) => read(row, name) !== null);
  for (const row of known) put(row, name, Math.min(Math.max(read(row, name) + by, low), high));
  if (known.length) tell(known[0]);
}
