// The light map: sliders redraw it, and a pointer or the arrow keys read the light at a point.
//
// What swaps the drawings hears "redraw" of the form: htmx, or a page's own script. What is remembered
// here (the point read last) outlives them.

const controls = () => document.querySelector("#map-controls");
// Nodes that differ by more than this factor: the light changes steeply between them.
const STEEP = 1.25;
// The point read last, in cm, on which drawing, and whether the page chose it: until somebody reads one.
let point = null;

function number(value) {
  return value >= 10 ? Math.round(value).toString() : value.toFixed(1);
}

function length(cm, words) {
  const shown = words.unit === "in" ? cm / words.cmPerInch : cm;
  return Math.round(shown * 10) / 10;
}

// What all points have in common: where readings were taken, and the words of a reason.
function pointData() {
  return JSON.parse(document.querySelector("#map-point-data").textContent);
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

// Why a point has its light, in a clause: the same as the server says of it.
function reasonFor(x, y, depth, isBeyond, words) {
  const { readings, nearCm, reasons } = pointData();
  if (readings.length === 0) return reasons.stated;
  if (isBeyond) return reasons.beyond;
  const away = Math.min(...readings.map(([rx, ry, rdepth]) => Math.hypot(rx - x, ry - y, rdepth - depth)));
  return (away <= nearCm ? reasons.near : reasons.model).replace("{}", `${length(away, words)} ${words.unit}`);
}

// How the light at the point read last changed, in a clause; null where no change is drawn.
function changeAt(data) {
  if (!data.change) return null;
  const { across, down } = point;
  const { percent, unsure, than } = data.change;
  const { value } = between(percent, data, across, down);
  if (between(unsure, data, across, down).value >= 0.5) return `maybe no change from ${than.replace(/^on /, "")}`;
  return `${Math.abs(value).toFixed(0)}\u00a0% ${value > 0 ? "brighter" : "dimmer"} than ${than}`;
}

function say(readout, strong, ...rest) {
  const value = document.createElement("strong");
  value.textContent = strong;
  readout.replaceChildren(value, ...rest);
}

function spoken(text) {
  const words = document.createElement("span");
  words.className = "out-of-sight";
  words.textContent = text;
  return words;
}

// Where the point read last lies in the water, in cm.
function placeOf(data) {
  const [y, depth] = data.axis === "depth" ? [point.down, data.atCm] : [data.atCm, point.down];
  return { x: point.across, y, depth };
}

function tell(data) {
  const { across, down } = point;
  const { words } = data;
  const { x, y, depth } = placeOf(data);
  const readout = document.querySelector("#map-readout");
  const place = `${length(x, words)} from the left, ${length(y, words)} from the front, ${length(depth, words)} ${words.unit} deep`;
  const par = between(data.par, data, across, down);
  if (isOutside(data, across, down)) {
    say(readout, "Outside the tank", document.createElement("br"), place);
    return;
  }
  if (par === null || inRock(data, across, down)) {
    say(readout, "Rock", " (no light here)", document.createElement("br"), place);
    return;
  }
  const [low, high] = [between(data.low, data, across, down), between(data.high, data, across, down)];
  const isBeyond = between(data.beyond, data, across, down).value >= 0.5;
  // Beside a shadow's edge no single number between nodes can be stood up for.
  const steep = par.most > STEEP * par.least;
  const [least, most] = steep ? [low.least, high.most] : [low.value, high.value];
  say(
    readout,
    steep ? `PAR ${number(par.least)} to ${number(par.most)}` : `PAR ${number(par.value)}`,
    spoken(" micromol per square metre and second"),
    `${steep ? ", steep here" : ""} (90 %: ${number(least)} to ${number(most)}), ${changeAt(data) ?? reasonFor(x, y, depth, isBeyond, words)}`,
    document.createElement("br"),
    place,
  );
}

// What can be done at the point read last: asked why, read again, a coral placed.
function ask(data) {
  const place = placeOf(data);
  document.querySelector("#map-point").removeAttribute("data-unread");
  const typed = document.querySelector("#map-ask");
  const read = document.querySelector("#map-read");
  for (const [name, cm] of Object.entries(place)) {
    if (typed) typed.elements[name].value = length(cm, data.words);
    if (read) read.elements[name].value = `${cm.toFixed(2)}cm`;
  }
  const shown = Object.fromEntries(Object.entries(place).map(([name, cm]) => [name, length(cm, data.words)]));
  // Nobody chose the point that a view begins with: nothing typed elsewhere on the page follows it.
  if (!point.isOpening) document.dispatchEvent(new CustomEvent("pointread", { detail: shown }));
  const coral = document.querySelector("#map-coral");
  if (!coral) return;
  const address = new URL(coral.href);
  for (const [name, cm] of Object.entries(place)) address.searchParams.set(`${name}_cm`, cm.toFixed(1));
  coral.href = address.href;
}

// The point that a view begins with has a ring alone: lines across the drawing follow a finger.
function mark(data) {
  const cross = document.querySelector(`[data-plane="${point.plane}"] [data-cross]`);
  const { left, top, width, height, upward } = data.frame;
  const x = left + (point.across / data.acrossCm) * width;
  const share = point.down / data.downCm;
  const y = top + (upward ? 1 - share : share) * height;
  const lines = `M${x} ${top}V${y - 5}M${x} ${y + 5}V${top + height}M${left} ${y}H${x - 5}M${x + 5} ${y}H${left + width}`;
  for (const path of cross.querySelectorAll("path")) path.setAttribute("d", point.isOpening ? "" : lines);
  cross.querySelector("circle").setAttribute("cx", x);
  cross.querySelector("circle").setAttribute("cy", y);
  for (const other of document.querySelectorAll("[data-cross]")) {
    other.setAttribute("visibility", other === cross ? "visible" : "hidden");
  }
}

function show(data) {
  mark(data);
  tell(data);
  ask(data);
}

function read(plane, across, down) {
  const data = dataOf(plane);
  const within = (value, end) => Math.min(Math.max(value, 0), end);
  point = { plane, across: within(across, data.acrossCm), down: within(down, data.downCm), isOpening: false };
  show(data);
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
  if (!plane || !event.target.matches(":focus-visible")) return;
  if (point?.plane === plane) {
    if (point.isOpening) read(plane, point.across, point.down);
    return;
  }
  const data = dataOf(plane);
  read(plane, data.acrossCm / 2, data.downCm / 2);
});

// --- What redraws the map -----------------------------------------------------------------------

let asked = 0;

// Enter in a box changes it and submits the form: that is one wish.
function redraw() {
  clearTimeout(asked);
  asked = setTimeout(() => controls().dispatchEvent(new Event("redraw", { bubbles: true })));
}

document.addEventListener("submit", (event) => {
  if (event.target !== controls()) return;
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
  if (!controls() || input.form !== controls()) return;
  const range = document.querySelector(`[data-moves="${input.id}"]`);
  if (range) range.value = input.value;
  redraw();
});

document.addEventListener("click", (event) => {
  const preset = event.target.closest?.("[data-low]");
  if (!preset) return;
  event.preventDefault();
  controls().elements.low.value = preset.dataset.low;
  controls().elements.high.value = preset.dataset.high;
  redraw();
});

// htmx takes a preset's button that merely has the focus for the one that was pressed.
document.body.addEventListener("htmx:configRequest", (event) => {
  if (event.detail.elt.id === "map-controls") delete event.detail.parameters.preset;
});

// A drawing that was swapped keeps the crosshair, and the read-out follows the new depth.
export function settled(id) {
  if (id === "map-figure") begin();
  if (!["map-plan", "map-section"].includes(id)) return;
  if (point && document.querySelector(`#map-${point.plane}-data`)) show(dataOf(point.plane));
}
document.body.addEventListener("htmx:afterSettle", (event) => settled(event.target.id));

document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-print]")) window.print();
});

// A view begins with the point that its page has read, and shows what only a script can do.
function begin() {
  const opening = document.querySelector("#map-point-data") ? pointData().opening : null;
  point = opening && { ...opening, isOpening: true };
  if (point) mark(dataOf(point.plane));
  for (const button of document.querySelectorAll("[data-print]")) button.hidden = false;
}

begin();
