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

export function type(row, values) {
  for (const [name, value] of Object.entries(values)) {
    input(row, name).value = String(Number(value.toFixed(1)));
  }
  input(row, "x_cm").dispatchEvent(new Event("input", { bubbles: true }));
}

export function hangs(row) {
  return read(row, "x_cm") !== null && read(row, "y_cm") !== null && !input(row, "DELETE")?.checked;
}

export function step(row, name, by) {
  const before = read(row, name);
  if (before === null) return;
  const [low, high] = stage.bounds[name];
  type(row, { [name]: Math.min(Math.max(before + by, low), high) });
}
