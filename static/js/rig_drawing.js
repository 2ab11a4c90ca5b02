// Moves fixtures on the plan and the front view of a light change: by finger, mouse or arrow keys.
// The numbers in the rows are the form: this module reads and fills them, and draws what they say.

const SVG = "http://www.w3.org/2000/svg";
const STEP_CM = 1;
const TURN_DEG = 5;

function number(input) {
  const text = input.value.trim().replace(",", ".");
  return text === "" || Number.isNaN(Number(text)) ? null : Number(text);
}

function place(root) {
  const cm = Number(root.dataset.cmPerUnit);
  const width = Number(root.dataset.width);
  const length = Number(root.dataset.length);
  const air = Number(root.dataset.air);
  const thick = Number(root.dataset.thick);
  const shift = Number(root.dataset.shift);
  const sizes = JSON.parse(document.querySelector("#lit-sizes").textContent);
  const views = Object.fromEntries([...root.querySelectorAll("[data-rig-view]")].map((svg) => [svg.dataset.rigView, svg]));
  const within = (value, low, high) => Math.min(Math.max(value, low), high);

  // The rows that hang: filled, and not to be taken down.
  function hanging() {
    const found = [];
    for (const row of document.querySelectorAll(".rig-row")) {
      const input = (name) => row.querySelector(`[name$='-${name}']`);
      const fields = { x: input("x_cm"), y: input("y_cm"), height: input("height_cm"), turn: input("turn_deg") };
      const [x, y, height] = [fields.x, fields.y, fields.height].map(number);
      const chosen = input("fixture").value;
      const size = sizes[`${chosen}#${input("number").value}`] ?? sizes[chosen];
      if (x === null || y === null || height === null || !size || input("DELETE")?.checked) continue;
      const name = row.querySelector("legend").textContent.trim();
      found.push({ fields, name, x: x * cm, y: y * cm, height: height * cm, turn: number(fields.turn) ?? 0, size });
    }
    return found;
  }

  function corners(one) {
    const turn = (one.turn * Math.PI) / 180;
    const [halfX, halfY] = [one.size[0] / 2, one.size[1] / 2];
    return [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([a, b]) => [
      one.x + a * halfX * Math.cos(turn) - b * halfY * Math.sin(turn),
      one.y + a * halfX * Math.sin(turn) + b * halfY * Math.cos(turn),
    ]);
  }

  function write(field, value) {
    // A finger is no finer than half a centimetre.
    const text = String(Number((value / cm).toFixed(1)));
    if (field.value !== text) field.value = text;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function moveTo(index, view, x, other) {
    const one = hanging()[index];
    write(one.fields.x, within(x, -length / 2, 1.5 * length));
    if (view === "above") write(one.fields.y, within(other, -width / 2, 1.5 * width));
    else write(one.fields.height, within(other, 0, 300));
  }

  function turn(index, by) {
    const { fields, turn: now } = hanging()[index];
    fields.turn.value = String((((now + by) % 360) + 360) % 360);
    fields.turn.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // What of a fixture a view moves besides x, counted as the view counts it downward.
  const along = { above: (one) => width - one.y, front: (one) => -one.height };
  const back = { above: (at) => width - at, front: (at) => -at };

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
    made.append(reach, shape, text);
    const svg = views[view];
    const at = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    let held = null;
    made.addEventListener("pointerdown", (event) => {
      const one = hanging()[index];
      const point = at(event);
      held = { x: one.x - point.x, other: along[view](one) - point.y };
      made.setPointerCapture(event.pointerId);
      event.preventDefault();
      made.focus();
    });
    made.addEventListener("pointermove", (event) => {
      if (!held) return;
      const point = at(event);
      const half = (value) => Math.round(value * 2) / 2;
      moveTo(index, view, half(point.x + held.x), half(back[view](point.y + held.other)));
    });
    for (const end of ["pointerup", "pointercancel"]) made.addEventListener(end, () => (held = null));
    made.addEventListener("keydown", (event) => {
      const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      const way = ways[event.key];
      const far = STEP_CM * (event.shiftKey ? 5 : 1);
      if (way) {
        const one = hanging()[index];
        moveTo(index, view, one.x + way[0] * far, back[view](along[view](one) + way[1] * far));
      } else if (view === "above" && ["+", "-", "−"].includes(event.key)) turn(index, event.key === "+" ? TURN_DEG : -TURN_DEG);
      else return;
      event.preventDefault();
    });
    return made;
  }

  function draw() {
    const all = hanging();
    for (const [view, svg] of Object.entries(views)) {
      const group = svg.querySelector("[data-hanging]");
      while (group.children.length > all.length) group.lastChild.remove();
      while (group.children.length < all.length) group.append(handle(view, group.children.length));
      all.forEach((one, index) => {
        const made = group.children[index];
        const ring = corners(one);
        const xs = ring.map(([x]) => x);
        const [left, right] = [Math.min(...xs), Math.max(...xs)];
        const points = view === "above" ? ring.map(([x, y]) => [x, width - y]) : [[left, -one.height], [right, -one.height], [right, thick - one.height], [left, thick - one.height]];
        made.querySelector("polygon").setAttribute("points", points.map((p) => p.join(",")).join(" "));
        const reach = made.querySelector("circle");
        reach.setAttribute("cx", one.x);
        reach.setAttribute("cy", along[view](one));
        const text = made.querySelector("text");
        text.textContent = String(index + 1);
        text.setAttribute("x", one.x);
        text.setAttribute("y", view === "above" ? width - one.y + shift : -one.height - shift);
        const where = view === "above" ? `${one.fields.x.value} from left, ${one.fields.y.value} from front` : `${one.fields.height.value} above water`;
        made.setAttribute("aria-label", `${one.name}: ${where}. Arrow keys move it.`);
      });
    }
    grow(all);
  }

  // The front view makes room above the highest fixture.
  function grow(all) {
    const box = views.front.viewBox.baseVal;
    const foot = box.y + box.height;
    const top = Math.max(air, ...all.map((one) => one.height + 15));
    box.y = -top;
    box.height = foot + top;
  }

  for (const svg of Object.values(views)) {
    // A picture by itself, a group of buttons once its fixtures can be taken hold of.
    svg.setAttribute("role", "group");
    svg.querySelector("[data-hanging]").replaceChildren();
  }
  root.closest("form").addEventListener("input", draw);
  root.closest("form").addEventListener("change", draw);
  for (const hint of root.querySelectorAll("[data-with-script]")) hint.hidden = false;
  draw();
}

document.querySelectorAll("[data-rig-drawing]").forEach(place);
