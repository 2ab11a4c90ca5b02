// The depths of a survey's plan as lines on the view from the front: dragged, or moved by keys.
// The field of depths follows, and it is what is sent; without this module it is typed.

import { lengthText } from "../../lengths.js";

const form = document.querySelector("#plan-form");
const field = form?.querySelector("[name=depths]");
const unitCm = Number(form?.dataset.unitCm);
// Where a line comes to rest: whole cm, or half inches.
const stepCm = unitCm === 1 ? 1 : unitCm / 2;

class DepthLines {
  constructor(svg) {
    const { top, down, deep } = svg.dataset;
    Object.assign(this, { svg, top: Number(top), down: Number(down), deep: Number(deep) });
    this.lines = [...svg.querySelectorAll(".depth-line")];
    this.lines.forEach((line) => this.#enliven(line));
  }

  #enliven(line) {
    line.classList.add("depth-line--live");
    for (const [name, value] of Object.entries({ tabindex: 0, role: "slider", "aria-orientation": "vertical", "aria-valuemin": 0, "aria-valuemax": Math.round(this.deep) })) {
      line.setAttribute(name, value);
    }
    this.#name(line);
    line.addEventListener("pointerdown", (event) => {
      line.setPointerCapture(event.pointerId);
      event.preventDefault();
      line.focus();
    });
    line.addEventListener("pointermove", (event) => {
      if (line.hasPointerCapture(event.pointerId)) this.#move(line, this.#depthAt(event));
    });
    line.addEventListener("pointerup", () => this.#tell());
    line.addEventListener("keydown", (event) => {
      const by = { ArrowDown: 1, ArrowUp: -1, ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!by) return;
      event.preventDefault();
      this.#move(line, Number(line.dataset.depth) + by * stepCm * (event.shiftKey ? 5 : 1));
      this.#tell();
    });
  }

  #depthAt(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return ((point.y - this.top) / this.down) * this.deep;
  }

  #move(line, cm) {
    const depth = Math.min(Math.max(Math.round(cm / stepCm) * stepCm, stepCm), Math.floor(this.deep / stepCm) * stepCm);
    const y = this.top + (depth / this.deep) * this.down;
    line.dataset.depth = depth;
    line.querySelector("rect").setAttribute("y", y);
    const path = line.querySelector("path");
    path.setAttribute("d", path.getAttribute("d").replace(/^(M\S+) \S+?h/, `$1 ${y.toFixed(1)}h`));
    this.#name(line);
  }

  #name(line) {
    const depth = Number(line.dataset.depth);
    line.setAttribute("aria-valuenow", Math.round(depth));
    line.setAttribute("aria-label", `Depth ${lengthText(depth, unitCm)} ${unitCm === 1 ? "cm" : "in"}`);
  }

  // The field hears of it like of typing, so that the points are drawn anew.
  #tell() {
    const depths = this.lines.map((line) => Number(line.dataset.depth)).sort((a, b) => a - b);
    field.value = [...new Set(depths)].map((depth) => lengthText(depth, unitCm)).join("; ");
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

function enliven(root) {
  const svg = root.querySelector("[data-depth-lines]");
  if (!svg) return;
  const place = focusedDepth;
  const { lines } = new DepthLines(svg);
  if (place !== null) lines[place]?.focus();
}

// Drawn anew, the line that had the focus has it again.
let focusedDepth = null;

if (form) {
  document.body.addEventListener("htmx:beforeSwap", () => {
    const lines = [...form.querySelectorAll(".depth-line")];
    const at = lines.indexOf(document.activeElement);
    focusedDepth = at < 0 ? null : at;
  });
  document.body.addEventListener("htmx:afterSettle", () => enliven(form));
  enliven(form);
}
