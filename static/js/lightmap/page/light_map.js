// The light map: sliders redraw it, and a pointer or the arrow keys read the light at a point.
//
// The drawings are swapped by htmx; what is remembered here (the point read last) outlives them.

const form = document.querySelector("#map-controls");
const readout = document.querySelector("#map-readout");
// Nodes that differ by more than this factor: the light changes steeply between them.
const STEEP = 1.25;
// The point read last, in cm, and on which drawing.
let point = null;

function number(value) {
  return value >= 10 ? Math.round(value).toString() : value.toFixed(1);
}

function length(cm, words) {
  const shown = words.unit === "in" ? cm / words.cmPerInch : cm;
  return Math.round(shown * 10) / 10;
}

function dataOf(plane) {
  return JSON.parse(document.querySelector(`#map-${plane}-data`).textContent);
}

// The four nodes round a place: what lies between them, straight in both directions, and the least
// and most of them. Nodes within rock have no say; null where none has.
function between(values, data, across, down) {
  const column = Math.min(Math.max((across / data.acrossCm) * (data.columns - 1), 0), data.columns - 1);
  const row = Math.min(Math.max((down / data.downCm) * (data.rows - 1), 0), data.rows - 1);
  const left = Math.min(Math.floor(column), data.columns - 2);
  const top = Math.min(Math.floor(row), data.rows - 2);
  const right = column - left;
  const below = row - top;
  let [sum, total] = [0, 0];
  const seen = [];
  for (const [i, j] of [[0, 0], [1, 0], [0, 1], [1, 1]]) {
    const value = values[(top + j) * data.columns + left + i];
    if (value === null) continue;
    const weight = (i ? right : 1 - right) * (j ? below : 1 - below);
    sum += weight * value;
    total += weight;
    seen.push(value);
  }
  return total > 1e-6 ? { value: sum / total, least: Math.min(...seen), most: Math.max(...seen) } : null;
}

function inRock(data, across, down) {
  return data.rocks.some(([left, right, start, end]) => across > left && across < right && down > start && down < end);
}

// Whether a place lies outside a convex outline, whose corners go left about or right about.
function isOutside(data, across, down) {
  const turns = data.outline.map(([x, y], k) => {
    const [nextX, nextY] = data.outline[(k + 1) % data.outline.length];
    return (nextX - x) * (down - y) - (nextY - y) * (across - x);
  });
  return turns.some((turn) => turn > 1e-6) && turns.some((turn) => turn < -1e-6);
}

function tell(data) {
  const { across, down } = point;
  const words = data.words;
  const [back, deep] = data.axis === "depth" ? [down, data.atCm] : [data.atCm, down];
  const place = `${length(across, words)} from left, ${length(back, words)} from front, ${length(deep, words)} ${words.unit} deep`;
  const value = document.createElement("strong");
  const par = between(data.par, data, across, down);
  if (isOutside(data, across, down)) {
    value.textContent = "Outside the tank";
    readout.replaceChildren(value, document.createElement("br"), place);
    return;
  }
  if (par === null || inRock(data, across, down)) {
    value.textContent = "Rock";
    readout.replaceChildren(value, " (no light is told here)", document.createElement("br"), place);
    return;
  }
  const [low, high] = [between(data.low, data, across, down), between(data.high, data, across, down)];
  const guess = between(data.beyond, data, across, down).value >= 0.5 ? ", a guess" : "";
  // Beside a shadow's edge no single number between nodes can be stood up for.
  const steep = par.most > STEEP * par.least;
  value.textContent = steep ? `PAR ${number(par.least)} to ${number(par.most)}` : `PAR ${number(par.value)}`;
  const [least, most] = steep ? [low.least, high.most] : [low.value, high.value];
  const ends = `${steep ? ", steep here" : ""} (90 %: ${number(least)} to ${number(most)})${guess}`;
  readout.replaceChildren(value, ends, document.createElement("br"), place);
}

// The question "why" is asked of the point read last.
function ask(data) {
  const form = document.querySelector("#map-ask");
  if (!form) return;
  const [back, deep] = data.axis === "depth" ? [point.down, data.atCm] : [data.atCm, point.down];
  const places = { x: point.across, y: back, depth: deep };
  for (const [name, cm] of Object.entries(places)) form.elements[name].value = length(cm, data.words);
}

function mark(data) {
  const cross = document.querySelector(`[data-plane="${point.plane}"] [data-cross]`);
  const { left, top, width, height, upward } = data.frame;
  const x = left + (point.across / data.acrossCm) * width;
  const share = point.down / data.downCm;
  const y = top + (upward ? 1 - share : share) * height;
  const lines = `M${x} ${top}V${y - 5}M${x} ${y + 5}V${top + height}M${left} ${y}H${x - 5}M${x + 5} ${y}H${left + width}`;
  for (const path of cross.querySelectorAll("path")) path.setAttribute("d", lines);
  cross.querySelector("circle").setAttribute("cx", x);
  cross.querySelector("circle").setAttribute("cy", y);
  for (const other of document.querySelectorAll("[data-cross]")) {
    other.setAttribute("visibility", other === cross ? "visible" : "hidden");
  }
}

function read(plane, across, down) {
  const data = dataOf(plane);
  const within = (value, end) => Math.min(Math.max(value, 0), end);
  point = { plane, across: within(across, data.acrossCm), down: within(down, data.downCm) };
  mark(data);
  tell(data);
  ask(data);
}

function readPointer(event) {
  const box = event.target.closest?.("[data-plane]");
  if (!box) return;
  const drawing = box.querySelector("svg");
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
  const data = dataOf(box.dataset.plane);
  const { left, top, width, height, upward } = data.frame;
  const down = (at.y - top) / height;
  read(box.dataset.plane, ((at.x - left) / width) * data.acrossCm, (upward ? 1 - down : down) * data.downCm);
}

document.addEventListener("pointerdown", readPointer);
document.addEventListener("pointermove", readPointer);

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

document.addEventListener("keydown", (event) => {
  const box = event.target.closest?.("[data-plane]");
  const arrow = ARROWS[event.key];
  if (!box || !arrow) return;
  event.preventDefault();
  const plane = box.dataset.plane;
  const data = dataOf(plane);
  const step = data.words.stepCm * (event.shiftKey ? 5 : 1);
  const from = point?.plane === plane ? point : { across: data.acrossCm / 2, down: data.downCm / 2 };
  // Upward on the plan is away from the front; on the section it is towards the surface.
  read(plane, from.across + arrow[0] * step, from.down + arrow[1] * step * (data.frame.upward ? -1 : 1));
});

document.addEventListener("focusin", (event) => {
  const plane = event.target.dataset?.plane;
  if (!plane || point?.plane === plane || !event.target.matches(":focus-visible")) return;
  const data = dataOf(plane);
  read(plane, data.acrossCm / 2, data.downCm / 2);
});

// --- What redraws the map -----------------------------------------------------------------------

let asked = 0;

// Enter in a box changes it and submits the form: that is one wish.
function redraw() {
  clearTimeout(asked);
  asked = setTimeout(() => window.htmx.trigger(form, "redraw"));
}

document.addEventListener("submit", (event) => {
  if (event.target !== form) return;
  event.preventDefault();
  redraw();
});

document.addEventListener("input", (event) => {
  const range = event.target;
  if (!range.dataset?.moves) return;
  document.querySelector(`#${range.dataset.moves}`).value = Math.round(range.value * 10) / 10;
  redraw();
});

document.addEventListener("change", (event) => {
  const input = event.target;
  if (input.form !== form || !form) return;
  const range = document.querySelector(`[data-moves="${input.id}"]`);
  if (range) range.value = input.value;
  redraw();
});

document.addEventListener("click", (event) => {
  const preset = event.target.closest?.("[data-low]");
  if (!preset) return;
  event.preventDefault();
  form.elements.low.value = preset.dataset.low;
  form.elements.high.value = preset.dataset.high;
  redraw();
});

// htmx takes a preset's button that merely has the focus for the one that was pressed.
document.body.addEventListener("htmx:configRequest", (event) => {
  if (event.detail.elt === form) delete event.detail.parameters.preset;
});

// A drawing that was swapped keeps the crosshair, and the read-out follows the new depth.
document.body.addEventListener("htmx:afterSettle", (event) => {
  if (point && ["map-plan", "map-section"].includes(event.target.id)) read(point.plane, point.across, point.down);
});
