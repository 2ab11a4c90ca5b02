// Dragging a zone on the plan or the side view, or one of its corners, types into its numbers; the
// numbers ask the server for the drawing. Without this module the numbers and a button do the same.

import { lengthText, typedNumber } from "../../lengths.js";

// So near an edge a drag moves that edge, in the drawing's own units; and the least a zone keeps [cm].
const EDGE = 14;
const LEAST_CM = 1;

function field(number, name) {
  return document.querySelector(`[name="zone-${number - 1}-${name}"]`);
}

function stageOf(svg) {
  const number = (name) => Number(svg.dataset[name]);
  return {
    svg, down: svg.dataset.down, upward: "upward" in svg.dataset,
    left: number("left"), top: number("top"), scale: number("scale"), side: number("side"), high: number("high"),
    unitCm: Number(svg.closest("[data-zone-views]").dataset.unitCm),
  };
}

function read(stage, number) {
  const cm = (name) => {
    const typed = typedNumber(field(number, name));
    return typed === null ? null : typed * stage.unitCm;
  };
  const ends = { x: [cm("x_from"), cm("x_to")], down: [cm(`${stage.down}_from`), cm(`${stage.down}_to`)] };
  return [...ends.x, ...ends.down].includes(null) ? null : ends;
}

function write(stage, number, ends) {
  const put = (name, cm) => { field(number, name).value = lengthText(cm, stage.unitCm); };
  put("x_from", ends.x[0]);
  put("x_to", ends.x[1]);
  put(`${stage.down}_from`, ends.down[0]);
  put(`${stage.down}_to`, ends.down[1]);
}

function place(stage, number, ends) {
  const x = stage.left + ends.x[0] * stage.scale;
  const y = stage.top + (stage.upward ? stage.high - ends.down[1] : ends.down[0]) * stage.scale;
  for (const part of stage.svg.querySelectorAll(`[data-zone="${number}"]`)) {
    if (part.tagName === "text") {
      part.setAttribute("x", x + 9);
      part.setAttribute("y", y + 14);
    } else {
      part.setAttribute("x", x);
      part.setAttribute("y", y);
      part.setAttribute("width", (ends.x[1] - ends.x[0]) * stage.scale);
      part.setAttribute("height", (ends.down[1] - ends.down[0]) * stage.scale);
    }
  }
}

// Which ends a drag that starts at a point moves: those of the edges it is near, or all.
function grip(stage, ends, at) {
  const near = (value, end) => Math.abs(value - end) * stage.scale <= EDGE;
  const held = { x: [near(at.x, ends.x[0]), near(at.x, ends.x[1])], down: [near(at.down, ends.down[0]), near(at.down, ends.down[1])] };
  for (const pair of Object.values(held)) if (pair[0] && pair[1]) pair[0] = false;
  const none = ![...held.x, ...held.down].includes(true);
  return none ? { x: [true, true], down: [true, true] } : held;
}

function shifted(pair, held, by, most) {
  let [from, to] = pair;
  if (held[0] && held[1]) {
    const step = Math.min(Math.max(by, -from), most - to);
    return [from + step, to + step];
  }
  if (held[0]) from = Math.min(Math.max(from + by, 0), to - LEAST_CM);
  if (held[1]) to = Math.max(Math.min(to + by, most), from + LEAST_CM);
  return [from, to];
}

function at(stage, event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(stage.svg.getScreenCTM().inverse());
  const down = (point.y - stage.top) / stage.scale;
  return { x: (point.x - stage.left) / stage.scale, down: stage.upward ? stage.high - down : down };
}

function drag(stage, part) {
  let held = null;
  const number = Number(part.dataset.zone);
  part.addEventListener("pointerdown", (event) => {
    const ends = read(stage, number);
    if (!ends) return;
    const start = at(stage, event);
    held = { start, ends, grip: grip(stage, ends, start), moved: null };
    part.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  part.addEventListener("pointermove", (event) => {
    if (!held) return;
    const now = at(stage, event);
    held.moved = {
      x: shifted(held.ends.x, held.grip.x, now.x - held.start.x, stage.side),
      down: shifted(held.ends.down, held.grip.down, now.down - held.start.down, stage.high),
    };
    place(stage, number, held.moved);
  });
  const release = () => {
    if (held?.moved) {
      write(stage, number, held.moved);
      // The part of the form listens to changes: a drag is typing too.
      field(number, "x_from").dispatchEvent(new Event("change", { bubbles: true }));
    }
    held = null;
  };
  part.addEventListener("pointerup", release);
  part.addEventListener("pointercancel", () => {
    if (held) place(stage, number, held.ends);
    held = null;
  });
}

function begin(root) {
  for (const svg of root.querySelectorAll("[data-zone-view]")) {
    const stage = stageOf(svg);
    for (const part of svg.querySelectorAll("[data-drag]")) drag(stage, part);
  }
}

begin(document);
document.body.addEventListener("htmx:load", (event) => {
  if (event.detail.elt.id === "layout-zones") begin(event.detail.elt);
});
