// Drawing marks on a photo. The form's text fields are what is sent: drawing writes into them and
// typing redraws, so without this module, or by keyboard, they do the same alone.
// All numbers are percent of the photo, as in the fields.

const SVG = "http://www.w3.org/2000/svg";
const ROLES = {
  reference: { shape: "box", words: "Reference" },
  regions: { shape: "ellipse", words: "Part of the coral" },
  whole: { shape: "outline", words: "Whole coral" },
  scale: { shape: "line", words: "Known length" },
};
// A drag shorter than this is a tap, and a tap draws nothing.
const TAP_PERCENT = 1;
// Corners of a drawn outline lie at least so far apart.
const CORNER_PERCENT = 1.2;
const CORNERS_MOST = 150;
const STEP_PERCENT = 1;

const form = document.querySelector("[data-mark-form]");
const view = document.querySelector("[data-view]");
const layer = view.querySelector("[data-shapes]");
const size = { width: view.viewBox.baseVal.width, height: view.viewBox.baseVal.height };
let marks = [];
let pen = null;
// The rings of the printed card that are tapped so far.
let rings = [];
const RINGS = 4;

const held = (value) => Math.min(Math.max(value, 0), 100);
const short = (value) => String(Number(value.toFixed(2)));
const pair = ([x, y]) => `${short(x)} ${short(y)}`;

function readLine(role, text) {
  const words = text.trim().match(/^([a-z]+)?\s*(.*)$/i);
  const numbers = (words[2].match(/-?\d+(?:\.\d+)?/g) ?? []).map(Number);
  const points = [];
  for (let i = 0; i + 1 < numbers.length; i += 2) points.push([numbers[i], numbers[i + 1]]);
  const shape = words[1]?.toLowerCase() ?? ROLES[role].shape;
  const enough = shape === "outline" ? points.length > 2 : points.length === 2;
  return enough ? { role, shape, points } : null;
}

function read() {
  marks = Object.keys(ROLES).flatMap((role) =>
    form.elements[role].value
      .split("\n")
      .map((line) => (line.trim() ? readLine(role, line) : null))
      .filter(Boolean),
  );
}

function write() {
  for (const role of Object.keys(ROLES)) {
    const lines = marks
      .filter((mark) => mark.role === role)
      .map(({ shape, points }) => (shape === "line" ? points.map(pair).join(", ") : `${shape} ${points.map(pair).join(", ")}`));
    form.elements[role].value = lines.join("\n");
  }
  // Drafts listen to typing; drawing is typing too.
  form.elements.reference.dispatchEvent(new Event("input", { bubbles: true }));
}

function pathOf({ shape, points }) {
  const at = points.map(([x, y]) => [(x * size.width) / 100, (y * size.height) / 100]);
  if (shape === "outline" || shape === "line") return `M${at.map((p) => p.join(" ")).join("L")}${shape === "line" ? "" : "Z"}`;
  const [[x1, y1], [x2, y2]] = at;
  if (shape === "box") return `M${x1} ${y1}H${x2}V${y2}H${x1}Z`;
  const [rx, ry] = [Math.abs(x2 - x1) / 2, Math.abs(y2 - y1) / 2];
  const middle = (y1 + y2) / 2;
  return `M${Math.min(x1, x2)} ${middle}a${rx} ${ry} 0 1 0 ${2 * rx} 0a${rx} ${ry} 0 1 0 ${-2 * rx} 0Z`;
}

function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function draw(focused = null) {
  const shown = pen?.mark ? [...marks, pen.mark] : marks;
  layer.replaceChildren(
    ...shown.map((mark, index) => {
      const words = ROLES[mark.role].words;
      const group = element("g", { tabindex: 0, role: "button", "data-index": index, "aria-label": `${words}: arrows move it, with Shift size it, Delete takes it away` });
      group.append(element("path", { class: `mark-shape mark-shape--${mark.role}`, d: pathOf(mark) }));
      const [x, y] = mark.points.at(mark.shape === "outline" ? 0 : -1);
      if (mark.role === "reference" && mark.shape === "outline") {
        for (const [corner, [cx, cy]] of mark.points.entries()) group.append(element("circle", { class: "mark-handle", "data-handle": corner, cx: (cx * size.width) / 100, cy: (cy * size.height) / 100, r: size.width / 60 }));
      } else if (mark.shape !== "outline") group.append(element("circle", { class: "mark-handle", "data-handle": "", cx: (x * size.width) / 100, cy: (y * size.height) / 100, r: size.width / 45 }));
      return group;
    }),
  );
  for (const [x, y] of rings) layer.append(element("circle", { class: "mark-handle", cx: (x * size.width) / 100, cy: (y * size.height) / 100, r: size.width / 60 }));
  if (focused !== null) layer.children[focused]?.focus();
}

function place(event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(view.getScreenCTM().inverse());
  return [held((100 * point.x) / size.width), held((100 * point.y) / size.height)];
}

function shift(mark, dx, dy) {
  const xs = mark.points.map(([x]) => x);
  const ys = mark.points.map(([, y]) => y);
  const across = Math.min(Math.max(dx, -Math.min(...xs)), 100 - Math.max(...xs));
  const down = Math.min(Math.max(dy, -Math.min(...ys)), 100 - Math.max(...ys));
  mark.points = mark.points.map(([x, y]) => [x + across, y + down]);
}

function resize(mark, dx, dy) {
  if (mark.shape === "outline") {
    const xs = mark.points.map(([x]) => x);
    const ys = mark.points.map(([, y]) => y);
    const [left, top] = [Math.min(...xs), Math.min(...ys)];
    const grow = (value, start, end, by) => held(start + (value - start) * Math.max((end - start + by) / Math.max(end - start, 1), 0.1));
    mark.points = mark.points.map(([x, y]) => [grow(x, left, Math.max(...xs), dx), grow(y, top, Math.max(...ys), dy)]);
  } else {
    const [x, y] = mark.points[1];
    mark.points[1] = [held(x + dx), held(y + dy)];
  }
}

function isCard() {
  return form.elements.reference_kind.value === "card" && tool() === "reference";
}

function tapRing(at) {
  rings.push(at);
  if (rings.length === RINGS) {
    keepOne({ role: "reference", shape: "outline", points: rings });
    rings = [];
    write();
  }
  hintRings();
}

function hintRings() {
  const hint = form.querySelector("[data-rings]");
  const kept = marks.some((mark) => mark.role === "reference");
  hint.hidden = !isCard() || (kept && rings.length === 0);
  hint.textContent = `Tap the middle of a ring of the card: ${rings.length} of ${RINGS} are marked.`;
}

function keepOne(mark) {
  // One reference, one outline and one length; parts as many as are drawn.
  if (mark.role !== "regions") marks = marks.filter((other) => other.role !== mark.role);
  marks.push(mark);
  // The coral comes after the card: no way back to the tools is needed between the two.
  const next = form.querySelector("[name=tool][value=regions]");
  if (mark.role === "reference" && !marks.some((other) => other.role === "regions")) next.checked = true;
}

function tool() {
  return form.elements.tool.value;
}

view.addEventListener("pointerdown", (event) => {
  if (event.button !== 0 || pen) return;
  const start = place(event);
  const group = event.target.closest("[data-index]");
  view.setPointerCapture(event.pointerId);
  if (group) {
    const mark = marks[Number(group.dataset.index)];
    pen = { moved: mark, handle: event.target.dataset.handle, last: start, id: event.pointerId };
  } else if (isCard()) {
    pen = { ring: true, id: event.pointerId };
  } else {
    const role = tool();
    const shape = ROLES[role].shape;
    pen = { start, id: event.pointerId, mark: { role, shape, points: shape === "outline" ? [start] : [start, start] } };
  }
  event.preventDefault();
});

view.addEventListener("pointermove", (event) => {
  if (!pen || event.pointerId !== pen.id) return;
  const at = place(event);
  if (pen.ring) return;
  if (pen.moved) {
    const [dx, dy] = [at[0] - pen.last[0], at[1] - pen.last[1]];
    if (pen.handle) pen.moved.points[Number(pen.handle)] = at;
    else if (pen.handle === "") resize(pen.moved, dx, dy);
    else shift(pen.moved, dx, dy);
    pen.last = at;
  } else if (pen.mark.shape === "outline") {
    const [x, y] = pen.mark.points.at(-1);
    if (Math.hypot(at[0] - x, at[1] - y) >= CORNER_PERCENT && pen.mark.points.length < CORNERS_MOST) pen.mark.points.push(at);
  } else {
    pen.mark.points[1] = at;
  }
  draw();
});

function lift(event) {
  if (!pen || event.pointerId !== pen.id) return;
  const { mark, moved, start, ring } = pen;
  pen = null;
  if (ring && event.type === "pointerup") tapRing(place(event));
  if (mark) {
    const end = mark.points.at(-1);
    const far = mark.shape === "outline" ? mark.points.length > 2 : Math.hypot(end[0] - start[0], end[1] - start[1]) > TAP_PERCENT;
    if (far) keepOne(mark);
  }
  if (mark || moved) write();
  draw(moved ? marks.indexOf(moved) : null);
}
view.addEventListener("pointerup", lift);
view.addEventListener("pointercancel", lift);

layer.addEventListener("keydown", (event) => {
  const group = event.target.closest("[data-index]");
  const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  if (!group) return;
  const index = Number(group.dataset.index);
  if (event.key in steps) {
    const [dx, dy] = steps[event.key].map((step) => step * STEP_PERCENT);
    if (event.shiftKey) resize(marks[index], dx, dy);
    else shift(marks[index], dx, dy);
  } else if (event.key === "Delete" || event.key === "Backspace") {
    marks.splice(index, 1);
  } else {
    return;
  }
  event.preventDefault();
  write();
  draw(Math.min(index, marks.length - 1));
});

form.querySelector("[data-add]").addEventListener("click", () => {
  const role = tool();
  const { shape } = ROLES[role];
  if (isCard()) {
    keepOne({ role, shape: "outline", points: [[30, 35], [62, 35], [62, 60], [30, 60]] });
    rings = [];
    write();
    draw(marks.length - 1);
    hintRings();
    return;
  }
  const corners = { outline: [[35, 35], [65, 35], [65, 65], [35, 65]], line: [[40, 80], [60, 80]] };
  keepOne({ role, shape, points: corners[shape] ?? [[40, 40], [60, 60]] });
  write();
  draw(marks.length - 1);
});

form.querySelector("[data-take]").addEventListener("click", () => {
  if (rings.length) rings.pop();
  else marks.pop();
  hintRings();
  write();
  draw();
});

form.addEventListener("input", (event) => {
  if (!(event.target.name in ROLES) || !event.isTrusted) return;
  read();
  draw();
});

form.addEventListener("change", (event) => {
  if (event.target.name !== "reference_kind" && event.target.name !== "tool") return;
  rings = [];
  draw();
  hintRings();
});

form.addEventListener("drafts:restore", () => queueMicrotask(() => setTimeout(() => (read(), draw()))));
form.querySelector("[data-tools]").hidden = false;
form.querySelector("[data-numbers]").open = Boolean(form.querySelector("[data-numbers] .field__error"));
view.dataset.live = "";
read();
draw();
hintRings();
