// The points of a day curve on the drawing: drag them, or choose one and use the arrow keys.
// The numbers are the form: this module only reads and fills them, and redraws what they say.

const DAY = 1440;
const SVG = "http://www.w3.org/2000/svg";
// How far an arrow key moves a point, plain and with Shift: minutes and percent.
const STEP = { time: [5, 1], level: [1, 10] };

function clock(minute) {
  const whole = ((Math.round(minute) % DAY) + DAY) % DAY;
  return `${String(Math.floor(whole / 60)).padStart(2, "0")}:${String(whole % 60).padStart(2, "0")}`;
}

function readClock(text) {
  const told = text.trim().match(/^(\d{1,2})(?:[:.h](\d{2}(?:\.\d+)?))?$/);
  return told ? Number(told[1]) * 60 + Number(told[2] ?? 0) : null;
}

function readLevel(text) {
  const told = text.trim().replace("%", "").replace(",", ".");
  return told === "" || Number.isNaN(Number(told)) ? null : Number(told);
}

function edit(svg, list) {
  const box = Object.fromEntries(["left", "right", "top", "foot", "start"].map((name) => [name, Number(svg.dataset[name])]));
  const line = svg.querySelector(".curve__line");
  const area = svg.querySelector(".curve__area");
  const half = svg.querySelector(".curve__half");
  // A picture by itself, a group of buttons once its points can be taken hold of.
  svg.setAttribute("role", "group");
  const handles = document.createElementNS(SVG, "g");
  svg.append(handles);

  // Rows that are filled and not taken out, each with its minute counted on past midnight.
  function points() {
    const found = [];
    for (const row of list.querySelectorAll(".points__row")) {
      const at = row.querySelector("input[name$='-at']");
      const level = row.querySelector("input[name$='-level']");
      const minute = readClock(at.value);
      const percent = readLevel(level.value);
      if (minute === null || percent === null || row.querySelector("input[type=checkbox]").checked) continue;
      found.push({ at, level, minute, percent });
    }
    const first = found[0]?.minute ?? 0;
    const rising = found.every((p, i) => i === 0 || p.minute >= found[i - 1].minute);
    if (!rising) {
      for (const point of found) if (point.minute < first) point.minute += DAY;
      found.sort((a, b) => a.minute - b.minute);
    }
    return found;
  }

  // A day that passes midnight runs over the right edge; its handles come in again at the left.
  const along = (minute) => box.left + (((minute - box.start) % DAY || (minute === box.start ? 0 : DAY)) / DAY) * (box.right - box.left);
  const up = (percent) => box.foot - (percent / 100) * (box.foot - box.top);

  function write(point, minute, percent) {
    point.at.value = clock(minute) === "00:00" && minute >= DAY && point.minute <= DAY ? "24:00" : clock(minute);
    point.level.value = String(Math.round(percent * 10) / 10);
    point.at.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // A point stays between its neighbours, and the whole within a day.
  function move(index, minute, percent) {
    const all = points();
    const low = index > 0 ? all[index - 1].minute : Math.max(0, all.at(-1).minute - DAY);
    const high = index < all.length - 1 ? all[index + 1].minute : all[0].minute + (all.at(-1).minute > DAY ? DAY : DAY - all[0].minute);
    write(all[index], Math.min(Math.max(minute, low), high), Math.min(Math.max(percent, 0), 100));
  }

  function handle(index) {
    const made = document.createElementNS(SVG, "g");
    made.setAttribute("class", "curve__handle");
    made.setAttribute("tabindex", "0");
    made.setAttribute("role", "button");
    for (const [radius, name] of [[16, "curve__reach"], [6, ""]]) {
      const circle = document.createElementNS(SVG, "circle");
      circle.setAttribute("r", radius);
      if (name) circle.setAttribute("class", name);
      made.append(circle);
    }
    made.addEventListener("pointerdown", (event) => {
      made.setPointerCapture(event.pointerId);
      made.dataset.held = "";
      event.preventDefault();
      made.focus();
    });
    made.addEventListener("pointermove", (event) => {
      if (!("held" in made.dataset)) return;
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      let minute = box.start + ((at.x - box.left) / (box.right - box.left)) * DAY;
      const now = points()[index].minute;
      // Of the two days the drawing may show, the one the point is in.
      if (now - minute > DAY / 2) minute += DAY;
      if (minute - now > DAY / 2) minute -= DAY;
      move(index, Math.round(minute / 5) * 5, Math.round(((box.foot - at.y) / (box.foot - box.top)) * 100));
    });
    for (const end of ["pointerup", "pointercancel"]) made.addEventListener(end, () => delete made.dataset.held);
    made.addEventListener("keydown", (event) => {
      const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
      const way = ways[event.key];
      if (!way) return;
      event.preventDefault();
      const fine = event.shiftKey ? 1 : 0;
      const point = points()[index];
      move(index, point.minute + way[0] * STEP.time[fine], point.percent + way[1] * STEP.level[fine]);
    });
    return made;
  }

  function show() {
    const all = points();
    while (handles.children.length > all.length) handles.lastChild.remove();
    while (handles.children.length < all.length) handles.append(handle(handles.children.length));
    all.forEach((point, index) => {
      const made = handles.children[index];
      made.setAttribute("transform", `translate(${along(point.minute)} ${up(point.percent)})`);
      made.setAttribute("aria-label", `Point ${index + 1}: ${point.at.value}, ${point.level.value} %. Arrow keys move it.`);
    });
    draw(all);
  }

  function draw(all) {
    let path = "";
    let before = null;
    for (const point of all) {
      const x = along(point.minute);
      const y = up(point.percent);
      if (before === null) path += `M${x} ${box.foot}V${y}`;
      else if (x < before.x) {
        // The edge cuts the line: it leaves at the right and comes in at the left.
        const share = (box.right - before.x) / (box.right - before.x + x - box.left || 1);
        const edge = before.y + (y - before.y) * share;
        path += `L${box.right} ${edge}V${box.foot}M${box.left} ${box.foot}V${edge}L${x} ${y}`;
      } else path += `L${x} ${y}`;
      before = { x, y };
    }
    if (before) path += `V${box.foot}`;
    line?.setAttribute("d", path);
    area?.setAttribute("d", path);
    const y = up(Math.max(0, ...all.map((point) => point.percent)) / 2);
    half?.setAttribute("y1", y);
    half?.setAttribute("y2", y);
  }

  list.addEventListener("input", show);
  show();
}

const svg = document.querySelector("[data-curve]");
const list = document.querySelector("[data-points]");
if (svg && list) edit(svg, list);
