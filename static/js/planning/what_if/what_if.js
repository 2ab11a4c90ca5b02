// Dragging a lamp, or moving it by keys, types into its numbers; the numbers ask the server.
// Without this module the numbers and the button do the same.

import { form, hangs, input, read, stage, step, type } from "./rig_fields.js";
import { choose, startTray } from "./tray.js";

const svg = document.querySelector("[data-stage]");
const bench = document.querySelector("[data-shown]");

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
  handle.setAttribute("visibility", hangs(row) ? "visible" : "hidden");
  if (!hangs(row)) return;
  const at = toDrawing(read(row, "x_cm"), read(row, "y_cm"));
  handle.setAttribute("transform", `translate(${at.x} ${at.y})`);
}

function keys(handle, event) {
  const by = 1 / stage.cmPerUnit;
  const moves = {
    ArrowLeft: ["x_cm", -by], ArrowRight: ["x_cm", by], ArrowUp: ["y_cm", by], ArrowDown: ["y_cm", -by],
    PageUp: ["height_cm", by], PageDown: ["height_cm", -by], "+": ["level_percent", 1], "-": ["level_percent", -1],
  };
  const move = moves[event.key];
  if (!move) return;
  event.preventDefault();
  step([handle.dataset.handle], ...move);
}

function drag(handle) {
  let held = false;
  handle.addEventListener("pointerdown", (event) => {
    held = true;
    choose(handle.dataset.handle);
    handle.setPointerCapture(event.pointerId);
  });
  handle.addEventListener("pointermove", (event) => held && type(handle.dataset.handle, toTank(event)));
  const release = () => { held = false; };
  handle.addEventListener("pointerup", release);
  handle.addEventListener("pointercancel", release);
  handle.addEventListener("keydown", (event) => keys(handle, event));
  handle.addEventListener("focus", () => choose(handle.dataset.handle));
}

// A lamp chosen in a blank row starts over the middle, as high as the first one.
function place(row) {
  if (!input(row, "fixture").value || read(row, "x_cm") !== null) return;
  const height = read(0, "height_cm") ?? 0;
  const middle = { x_cm: stage.acrossCm / 2 / stage.cmPerUnit, y_cm: stage.downCm / 2 / stage.cmPerUnit };
  type(row, { ...middle, height_cm: height });
  choose(row);
}

// The links of the switch ask the server; here both maps are on the page already.
function switchViews(links) {
  for (const link of links) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      bench.dataset.shown = link.dataset.shows;
      for (const one of links) {
        if (one === link) one.setAttribute("aria-current", "true");
        else one.removeAttribute("aria-current");
      }
    });
  }
}

switchViews([...document.querySelectorAll("[data-shows]")]);
if (svg) {
  const handles = [...svg.querySelectorAll("[data-handle]")];
  handles.forEach(drag);
  for (const row of form.querySelectorAll("[data-row]")) {
    input(row.dataset.row, "fixture").addEventListener("change", () => place(row.dataset.row));
  }
  form.addEventListener("input", () => handles.forEach(follow));
  startTray();
}
