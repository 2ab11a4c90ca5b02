// Moves fixtures on the views of a light change, from above and from the sides: by finger, mouse or
// keys.
// The numbers in the rows are the form: this module reads and fills them, and draws what they say.

import { typedNumber } from "../../lengths.js";

const SVG = "http://www.w3.org/2000/svg";
const STEP_CM = 1;
const TURN_DEG = 5;

// The outline of points, as a rubber band lies round them (Andrew's monotone chain).
function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const side = (from) => {
    const chain = [];
    for (const [x, y] of from) {
      while (chain.length > 1) {
        const [[ax, ay], [bx, by]] = chain.slice(-2);
        if ((bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0) break;
        chain.pop();
      }
      chain.push([x, y]);
    }
    return chain.slice(0, -1);
  };
  return [...side(sorted), ...side(sorted.reverse())];
}

function place(root) {
  const cm = Number(root.dataset.cmPerUnit);
  const width = Number(root.dataset.width);
  const length = Number(root.dataset.length);
  const air = Number(root.dataset.air);
  const thick = Number(root.dataset.thick);
  const over = Number(root.dataset.over);
  const tiltMost = Number(root.dataset.tiltMost);
  const sizes = JSON.parse(document.querySelector("#lit-sizes").textContent);
  const views = Object.fromEntries([...root.querySelectorAll("[data-rig-view]")].map((svg) => [svg.dataset.rigView, svg]));
  const within = (value, low, high) => Math.min(Math.max(value, low), high);

  // The rows that hang: filled, and not to be taken down.
  function hanging() {
    const found = [];
    for (const row of document.querySelectorAll(".rig-row")) {
      const input = (name) => row.querySelector(`[name$='-${name}']`);
      const fields = { x: input("x_cm"), y: input("y_cm"), height: input("height_cm"), turn: input("turn_deg"), tilt: input("tilt_deg") };
      const [x, y, height] = [fields.x, fields.y, fields.height].map(typedNumber);
      const chosen = input("fixture").value;
      const size = sizes[`${chosen}#${input("number").value}`] ?? sizes[chosen];
      if (x === null || y === null || height === null || !size || input("DELETE")?.checked) continue;
      const name = row.querySelector("legend").textContent.trim();
      found.push({ fields, name, x: x * cm, y: y * cm, height: height * cm, turn: typedNumber(fields.turn) ?? 0, tilt: within(typedNumber(fields.tilt) ?? 0, -tiltMost, tiltMost), size });
    }
    return found;
  }

  // The lit face's corners as x, y and height; it is turned, then tilted about its own length.
  function corners(one) {
    const [turn, tilt] = [one.turn, one.tilt].map((degrees) => (degrees * Math.PI) / 180);
    return [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([a, b]) => {
      const [along, across] = [(a * one.size[0]) / 2, (b * one.size[1]) / 2];
      const level = across * Math.cos(tilt);
      return [
        one.x + along * Math.cos(turn) - level * Math.sin(turn),
        one.y + along * Math.sin(turn) + level * Math.cos(turn),
        one.height + across * Math.sin(tilt),
      ];
    });
  }

  // Where its axis meets the water.
  function aimed(one) {
    const [turn, tilt] = [one.turn, one.tilt].map((degrees) => (degrees * Math.PI) / 180);
    const far = one.height * Math.tan(tilt);
    return [one.x - far * Math.sin(turn), one.y + far * Math.cos(turn), 0];
  }

  // A place of x, y and height as a view shows it.
  const flat = (view, [x, y, height]) => [view === "side" ? width - y : x, view === "above" ? width - y : -height];

  function outline(one, view) {
    const ring = corners(one).map((corner) => flat(view, corner));
    return view === "above" ? ring : hull([...ring, ...ring.map(([x, y]) => [x, y - thick])]);
  }

  function write(field, value) {
    // A finger is no finer than half a centimetre.
    const text = String(Number((value / cm).toFixed(1)));
    if (field.value !== text) field.value = text;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // Moves a fixture to a place of a view.
  function moveTo(index, view, [across, down]) {
    const one = hanging()[index];
    if (view === "side") write(one.fields.y, within(width - across, -width / 2, 1.5 * width));
    else write(one.fields.x, within(across, -length / 2, 1.5 * length));
    if (view === "above") write(one.fields.y, within(width - down, -width / 2, 1.5 * width));
    else write(one.fields.height, within(-down, 0, 300));
  }

  function turn(index, by) {
    const { fields, turn: now } = hanging()[index];
    fields.turn.value = String((((now + by) % 360) + 360) % 360);
    fields.turn.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function tilt(index, by) {
    const { fields, tilt: now } = hanging()[index];
    fields.tilt.value = String(within(now + by, -tiltMost, tiltMost));
    fields.tilt.dispatchEvent(new Event("input", { bubbles: true }));
  }

  const middle = (one, view) => flat(view, [one.x, one.y, one.height]);

  function handle(view, index) {
    const made = document.createElementNS(SVG, "g");
    made.setAttribute("class", "rig-view__fixture rig-view__fixture--live");
    made.setAttribute("tabindex", "0");
    made.setAttribute("role", "button");
    const shape = document.createElementNS(SVG, "polygon");
    const text = document.createElementNS(SVG, "text");
    text.setAttribute("text-anchor", "middle");
    // A thin bar is hard to meet with a finger.
    const reach = document.createElementNS(SVG, "circle");
    reach.setAttribute("class", "rig-view__reach");
    reach.setAttribute("r", length / 14);
    const axis = document.createElementNS(SVG, "path");
    axis.setAttribute("class", "rig-view__axis");
    made.append(axis, reach, shape, text);
    const svg = views[view];
    const at = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    let held = null;
    made.addEventListener("pointerdown", (event) => {
      const one = hanging()[index];
      const point = at(event);
      const [x, y] = middle(one, view);
      held = [x - point.x, y - point.y];
      made.setPointerCapture(event.pointerId);
      event.preventDefault();
      made.focus();
    });
    made.addEventListener("pointermove", (event) => {
      if (!held) return;
      const point = at(event);
      const half = (value) => Math.round(value * 2) / 2;
      moveTo(index, view, [half(point.x + held[0]), half(point.y + held[1])]);
    });
    for (const end of ["pointerup", "pointercancel"]) made.addEventListener(end, () => (held = null));
    made.addEventListener("keydown", (event) => {
      const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      const way = ways[event.key];
      const far = STEP_CM * (event.shiftKey ? 5 : 1);
      if (way) {
        const [x, y] = middle(hanging()[index], view);
        moveTo(index, view, [x + way[0] * far, y + way[1] * far]);
      } else if (["+", "-", "−"].includes(event.key)) (view === "above" ? turn : tilt)(index, event.key === "+" ? TURN_DEG : -TURN_DEG);
      else return;
      event.preventDefault();
    });
    return made;
  }

  // Which of them lie where one does in a view: the last of them tells the numbers of all.
  function beside(all, index, view) {
    const at = all.map((one) => middle(one, view).map((part) => part.toFixed(1)).join());
    return [...at.keys()].filter((other) => at[other] === at[index]);
  }

  function draw() {
    const all = hanging();
    for (const [view, svg] of Object.entries(views)) {
      const group = svg.querySelector("[data-hanging]");
      while (group.children.length > all.length) group.lastChild.remove();
      while (group.children.length < all.length) group.append(handle(view, group.children.length));
      all.forEach((one, index) => {
        const made = group.children[index];
        made.querySelector("polygon").setAttribute("points", outline(one, view).map((p) => p.join(",")).join(" "));
        const [x, y] = middle(one, view);
        const reach = made.querySelector("circle");
        reach.setAttribute("cx", x);
        reach.setAttribute("cy", y);
        made.querySelector("path").setAttribute("d", one.tilt ? `M${x} ${y}L${flat(view, aimed(one)).join(" ")}` : "");
        const text = made.querySelector("text");
        const there = beside(all, index, view);
        text.textContent = there.at(-1) === index ? there.map((other) => other + 1).join(", ") : "";
        text.setAttribute("x", x);
        const top = () => Math.min(...there.flatMap((other) => outline(all[other], view).map((p) => p[1])));
        text.setAttribute("y", view === "above" ? y + Number(svg.dataset.shift) : top() - Number(svg.dataset.shift));
        const where = view === "above" ? `${one.fields.x.value} from the left, ${one.fields.y.value} from the front` : `${one.fields.height.value} above water, tilted by ${one.tilt}°`;
        made.setAttribute("aria-label", `${one.name}: ${where}. Arrow keys move it.`);
      });
    }
    grow(all);
  }

  // The views from the sides make room above the highest fixture.
  function grow(all) {
    const highest = all.flatMap((one) => corners(one).map((corner) => corner[2]));
    const top = Math.max(air, ...highest.map((height) => height + over));
    for (const view of [views.front, views.side]) {
      const box = view.viewBox.baseVal;
      const foot = box.y + box.height;
      box.y = -top;
      box.height = foot + top;
    }
  }

  for (const svg of Object.values(views)) {
    // A picture by itself, a group of buttons once its fixtures can be taken hold of.
    svg.setAttribute("role", "group");
    svg.querySelector("[data-hanging]").replaceChildren();
  }
  root.closest("form").addEventListener("input", draw);
  root.closest("form").addEventListener("change", draw);
  draw();
}

document.querySelectorAll("[data-rig-drawing]").forEach(place);
