// Rocks drawn with a finger on the tank's plan: a box dragged for each. The numbers below follow,
// and they are what is saved; without this module they are typed.

import { lengthText, typedNumber } from "../lengths.js";

const SVG = "http://www.w3.org/2000/svg";
const OUTLINE = ["x_cm", "y_cm", "length_cm", "width_cm"];
// A smaller box was a slip of the finger; one added without a drag is so large [cm].
const SMALLEST_CM = 3;
const USUAL_CM = 20;

const form = document.querySelector(".rock-draw");
const rows = document.querySelector("#drawn-rocks");
const total = form.querySelector("[name$=TOTAL_FORMS]");
const unitCm = Number(form.dataset.unitCm);
const stepCm = unitCm === 1 ? 1 : unitCm / 2;
const tank = { length: Number(form.dataset.length), width: Number(form.dataset.width) };
const svg = form.querySelector("svg.plan");
const water = svg.querySelector(".plan__water").getBBox();
const drawn = svg.appendChild(document.createElementNS(SVG, "g"));

const stepped = (cm) => Math.round(cm / stepCm) * stepCm;
const clamp = (value, most) => Math.min(Math.max(value, 0), most);
const cell = (row, name) => row.querySelector(`[name$=${name}]`);

/** Where an event is in the tank, {x, y} from the left end and the front pane [cm]. */
function placeOf(event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return {
    x: clamp(((point.x - water.x) / water.width) * tank.length, tank.length),
    y: clamp((1 - (point.y - water.y) / water.height) * tank.width, tank.width),
  };
}

/** The box between two places, on whole steps within the tank. */
function boxBetween(one, other) {
  const x = stepped(Math.min(one.x, other.x));
  const y = stepped(Math.min(one.y, other.y));
  return {
    x_cm: x,
    y_cm: y,
    length_cm: Math.min(stepped(Math.abs(one.x - other.x)), tank.length - x),
    width_cm: Math.min(stepped(Math.abs(one.y - other.y)), tank.width - y),
  };
}

class DrawnRock {
  constructor(row) {
    this.row = row;
    this.rect = drawn.appendChild(document.createElementNS(SVG, "rect"));
    this.rect.classList.add("plan__rock", "plan__rock--live");
    this.rect.setAttribute("tabindex", "0");
    this.rect.setAttribute("role", "img");
    this.rect.addEventListener("keydown", (event) => this.#key(event));
    this.rect.addEventListener("pointerdown", (event) => this.#grab(event));
    row.addEventListener("input", () => this.show());
    const out = row.querySelector("[data-delete-rock]");
    out.addEventListener("click", () => this.remove());
    this.show();
  }

  get box() {
    const numbers = OUTLINE.map((name) => typedNumber(cell(this.row, name)));
    if (numbers.some((number) => number === null)) return null;
    return Object.fromEntries(OUTLINE.map((name, i) => [name, numbers[i] * unitCm]));
  }

  take(box) {
    for (const name of OUTLINE) cell(this.row, name).value = lengthText(box[name], unitCm);
    cell(this.row, "x_cm").dispatchEvent(new Event("input", { bubbles: true }));
  }

  show() {
    const { box } = this;
    this.rect.toggleAttribute("hidden", !box);
    this.rect.style.display = box ? "" : "none";
    if (!box) return;
    const wide = water.width / tank.length;
    const high = water.height / tank.width;
    const marks = {
      x: water.x + box.x_cm * wide,
      y: water.y + (tank.width - box.y_cm - box.width_cm) * high,
      width: box.length_cm * wide,
      height: box.width_cm * high,
    };
    for (const [name, value] of Object.entries(marks)) this.rect.setAttribute(name, value.toFixed(1));
    const unit = unitCm === 1 ? "cm" : "in";
    const words = `${lengthText(box.length_cm, unitCm)} × ${lengthText(box.width_cm, unitCm)} ${unit}`;
    this.row.querySelector("[data-outline]").textContent = words;
    const at = `${lengthText(box.x_cm, unitCm)} from the left, ${lengthText(box.y_cm, unitCm)} from the front`;
    const number = this.row.querySelector("[data-number]").textContent;
    this.rect.setAttribute("aria-label", `Rock ${number}, ${words}, ${at}. Arrow keys move it, with Shift they size it.`);
  }

  move(dx, dy) {
    const box = this.box;
    if (!box) return;
    box.x_cm = clamp(stepped(box.x_cm + dx), tank.length - box.length_cm);
    box.y_cm = clamp(stepped(box.y_cm + dy), tank.width - box.width_cm);
    this.take(box);
  }

  size(dx, dy) {
    const box = this.box;
    if (!box) return;
    box.length_cm = Math.max(stepped(box.length_cm + dx), stepCm);
    box.width_cm = Math.max(stepped(box.width_cm + dy), stepCm);
    box.length_cm = Math.min(box.length_cm, tank.length - box.x_cm);
    box.width_cm = Math.min(box.width_cm, tank.width - box.y_cm);
    this.take(box);
  }

  #key(event) {
    if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      this.remove();
      return;
    }
    const by = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (!by) return;
    event.preventDefault();
    const [dx, dy] = by.map((one) => one * stepCm);
    if (event.shiftKey) this.size(dx, dy);
    else this.move(dx, dy);
  }

  #grab(event) {
    event.stopPropagation();
    event.preventDefault();
    this.rect.focus();
    this.rect.setPointerCapture(event.pointerId);
    const start = placeOf(event);
    const from = this.box;
    const drag = (moving) => {
      const place = placeOf(moving);
      this.take({
        ...from,
        x_cm: clamp(stepped(from.x_cm + place.x - start.x), tank.length - from.length_cm),
        y_cm: clamp(stepped(from.y_cm + place.y - start.y), tank.width - from.width_cm),
      });
    };
    this.rect.addEventListener("pointermove", drag);
    this.rect.addEventListener("lostpointercapture", () => this.rect.removeEventListener("pointermove", drag), { once: true });
  }

  // A row left blank is none, so what was typed goes; the rest keeps its place.
  remove() {
    for (const name of [...OUTLINE, "height_cm"]) cell(this.row, name).value = "";
    this.row.hidden = true;
    this.show();
    say("Deleted.");
  }
}

function say(text) {
  document.querySelector("#rock-said").textContent = text;
}

function blankRow() {
  const blank = [...rows.children].find((row) => !rocks.has(row));
  if (blank) return blank;
  const index = Number(total.value);
  const row = rows.appendChild(document.querySelector("#blank-rock").content.firstElementChild.cloneNode(true));
  for (const part of row.querySelectorAll("*")) {
    for (const { name, value } of [...part.attributes]) part.setAttribute(name, value.replaceAll("__prefix__", index));
  }
  total.value = index + 1;
  return row;
}

const rocks = new Map();

/** A new row with a box; the height is a guess until it is typed. */
function add(box) {
  const row = blankRow();
  row.hidden = false;
  row.classList.remove("drawn-rock--blank");
  row.querySelector("[data-number]").textContent = [...rows.children].filter((one) => !one.hidden).indexOf(row) + 1;
  if (!cell(row, "height_cm").value) cell(row, "height_cm").value = lengthText(stepped(Number(form.dataset.height)), unitCm);
  row.querySelector("details").open = false;
  if (!rocks.has(row)) rocks.set(row, new DrawnRock(row));
  const rock = rocks.get(row);
  rock.take(box);
  say("Rock added.");
  return rock;
}

function draw(event) {
  event.preventDefault();
  svg.setPointerCapture(event.pointerId);
  const start = placeOf(event);
  const ghost = drawn.appendChild(document.createElementNS(SVG, "rect"));
  ghost.classList.add("plan__rock");
  const shape = (moving) => {
    const box = boxBetween(start, placeOf(moving));
    const marks = {
      x: water.x + (box.x_cm / tank.length) * water.width,
      y: water.y + (1 - (box.y_cm + box.width_cm) / tank.width) * water.height,
      width: (box.length_cm / tank.length) * water.width,
      height: (box.width_cm / tank.width) * water.height,
    };
    for (const [name, value] of Object.entries(marks)) ghost.setAttribute(name, value.toFixed(1));
    return box;
  };
  const end = (moving) => {
    svg.removeEventListener("pointermove", shape);
    const box = shape(moving);
    ghost.remove();
    if (moving.type === "pointerup" && Math.min(box.length_cm, box.width_cm) >= SMALLEST_CM) add(box);
  };
  svg.addEventListener("pointermove", shape);
  for (const name of ["pointerup", "pointercancel"]) svg.addEventListener(name, end, { once: true });
}

svg.classList.add("plan--draw");
svg.setAttribute("role", "group");
svg.addEventListener("pointerdown", draw);
document.querySelector("#add-rock").addEventListener("click", () => {
  const length = Math.min(USUAL_CM, tank.length / 2);
  const width = Math.min(USUAL_CM, tank.width / 2);
  const middle = { x: tank.length / 2, y: tank.width / 2 };
  add(boxBetween({ x: middle.x - length / 2, y: middle.y - width / 2 }, { x: middle.x + length / 2, y: middle.y + width / 2 })).rect.focus();
});
for (const row of rows.children) {
  if (OUTLINE.some((name) => cell(row, name).value)) rocks.set(row, new DrawnRock(row));
  else row.hidden = true;
  row.classList.remove("drawn-rock--blank");
}
