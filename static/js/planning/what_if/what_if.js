// Dragging a fixture, or moving it by keys or sliders, types into its numbers; the numbers ask the
// server. Without this module the numbers and the button do the same.

import { typedNumber } from "../../lengths.js";

const form = document.querySelector("[data-what-if]");
const stage = JSON.parse(document.getElementById("what-if-stage").textContent);
const svg = document.querySelector("[data-stage]");

function input(row, name) {
  return form.elements[`hung-${row}-${name}`];
}

function read(row, name) {
  return typedNumber(input(row, name));
}

// The form listens to typing: a drag is typing too.
function type(row, values) {
  for (const [name, value] of Object.entries(values)) {
    const field = input(row, name);
    field.value = String(Number(value.toFixed(1)));
  }
  input(row, "x_cm").dispatchEvent(new Event("input", { bubbles: true }));
}

function toDrawing(x, y) {
  return {
    x: stage.left + ((x * stage.cmPerUnit) / stage.acrossCm) * stage.width,
    y: stage.top + (1 - (y * stage.cmPerUnit) / stage.downCm) * stage.height,
  };
}

function toTank(event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const within = (value, most) => Math.min(Math.max(value, 0), most);
  return {
    x_cm: within(((point.x - stage.left) / stage.width) * stage.acrossCm, stage.acrossCm) / stage.cmPerUnit,
    y_cm: within((1 - (point.y - stage.top) / stage.height) * stage.downCm, stage.downCm) / stage.cmPerUnit,
  };
}

function follow(handle) {
  const row = handle.dataset.handle;
  const x = read(row, "x_cm");
  const y = read(row, "y_cm");
  const down = input(row, "DELETE")?.checked;
  const known = x !== null && y !== null && !down;
  handle.setAttribute("visibility", known ? "visible" : "hidden");
  if (!known) return;
  const at = toDrawing(x, y);
  handle.setAttribute("transform", `translate(${at.x} ${at.y})`);
}

function keys(handle, event) {
  const row = handle.dataset.handle;
  const step = 1 / stage.cmPerUnit;
  const moves = {
    ArrowLeft: ["x_cm", -step], ArrowRight: ["x_cm", step], ArrowUp: ["y_cm", step], ArrowDown: ["y_cm", -step],
    PageUp: ["height_cm", step], PageDown: ["height_cm", -step], "+": ["level_percent", 1], "-": ["level_percent", -1],
  };
  const move = moves[event.key];
  const before = move && read(row, move[0]);
  if (!move || before === null) return;
  event.preventDefault();
  const top = move[0] === "level_percent" ? 100 : Infinity;
  type(row, { [move[0]]: Math.min(Math.max(before + move[1], 0), top) });
}

function drag(handle) {
  let held = false;
  handle.addEventListener("pointerdown", (event) => {
    held = true;
    handle.setPointerCapture(event.pointerId);
  });
  handle.addEventListener("pointermove", (event) => held && type(handle.dataset.handle, toTank(event)));
  const release = () => { held = false; };
  handle.addEventListener("pointerup", release);
  handle.addEventListener("pointercancel", release);
  handle.addEventListener("keydown", (event) => keys(handle, event));
}

// A fixture chosen in a blank row starts over the middle, as high as the first one.
function place(row) {
  if (!input(row, "fixture").value || read(row, "x_cm") !== null) return;
  const height = read(0, "height_cm") ?? 0;
  const middle = { x_cm: stage.acrossCm / 2 / stage.cmPerUnit, y_cm: stage.downCm / 2 / stage.cmPerUnit };
  type(row, { ...middle, height_cm: height });
}

function slides(row) {
  for (const range of row.querySelectorAll("[data-slides]")) {
    const name = range.dataset.slides;
    const show = () => { range.value = read(row.dataset.row, name) ?? range.min; };
    range.addEventListener("input", (event) => {
      event.stopPropagation();
      type(row.dataset.row, { [name]: Number(range.value) });
    });
    form.addEventListener("input", show);
    show();
  }
}

if (svg) {
  const handles = [...svg.querySelectorAll("[data-handle]")];
  handles.forEach(drag);
  for (const row of form.querySelectorAll("[data-row]")) {
    slides(row);
    input(row.dataset.row, "fixture").addEventListener("change", () => place(row.dataset.row));
  }
  form.addEventListener("input", () => handles.forEach(follow));
  for (const part of document.querySelectorAll("[data-with-script]")) part.hidden = false;
}
