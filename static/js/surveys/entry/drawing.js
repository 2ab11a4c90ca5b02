// The plan and the view from the front, small enough to stand side by side over the pad: where
// the sensor must be, which points are read, and the first look at the light on the plan.

const SVG = "http://www.w3.org/2000/svg";
// Drawing units; both drawings are as high as the taller one needs, within these.
const WIDE = 160;
const HIGH = 110;
const EDGE = 6;

function add(parent, name, attributes = {}) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  parent.append(node);
  return node;
}

class View {
  // `down`: the name of the coordinate from top to bottom, `upward` when it grows from the foot up.
  constructor(svg, across, size, down, upward) {
    Object.assign(this, { svg, across, size, down, upward });
    this.scale = Math.min((WIDE - 2 * EDGE) / across, (HIGH - 2 * EDGE) / size);
    this.width = across * this.scale;
    this.height = size * this.scale;
    this.left = (WIDE - this.width) / 2;
    svg.setAttribute("viewBox", `0 0 ${WIDE} ${this.height + 2 * EDGE}`);
  }

  x(cm) {
    return this.left + cm * this.scale;
  }

  y(cm) {
    return EDGE + (this.upward ? this.size - cm : cm) * this.scale;
  }

  box(x, y, wide, high, attributes) {
    const top = Math.min(this.y(y), this.y(y + high));
    add(this.svg, "rect", { x: this.x(x), y: top, width: wide * this.scale, height: high * this.scale, ...attributes });
  }

  // Where a pointer is, in cm, held within the water.
  place(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    const share = (at.y - EDGE) / this.height;
    const within = (value, end) => Math.round(Math.min(Math.max(value, 0), end) * 2) / 2;
    return {
      x_cm: within((at.x - this.left) / this.scale, this.across),
      [this.down]: within((this.upward ? 1 - share : share) * this.size, this.size),
    };
  }
}

export class Drawing {
  /** `onPlace(place)` hears where the keeper tapped, in cm. */
  constructor(planSvg, sideSvg, page, onPlace) {
    const { length, width, depth } = page.tank;
    this.page = page;
    this.plan = new View(planSvg, length, width, "y_cm", true);
    this.side = new View(sideSvg, length, depth, "depth_cm", false);
    for (const view of [this.plan, this.side]) {
      view.svg.addEventListener("click", (event) => onPlace(view.place(event)));
    }
  }

  /** Draw all anew: the points, the current one, and the first look when there is one. */
  show({ stops, readings, current, look }) {
    for (const view of [this.plan, this.side]) {
      view.svg.replaceChildren();
      this.#water(view, "enter-water");
      if (look && view === this.plan) this.#look(look);
      for (const rock of this.page.rocks) {
        const [down, high] = view === this.plan ? [rock.y, rock.width] : [rock.depth, rock.height];
        view.box(rock.x, down, rock.length, high, { class: "enter-rock" });
      }
      for (const stop of stops) {
        const read = readings.has(stop.point) ? " enter-dot--read" : "";
        add(view.svg, "circle", { class: `enter-dot${read}`, cx: view.x(stop.x_cm), cy: view.y(stop[view.down]), r: 2.4 });
      }
      this.#water(view, "enter-glass");
      if (current) this.#target(view, current);
    }
  }

  #water(view, name) {
    const corners = view === this.plan ? (this.page.tank.outline ?? []) : [];
    if (!corners.length) return view.box(0, 0, view.across, view.size, { class: name });
    const points = corners.map(([x, y]) => `${view.x(x)},${view.y(y)}`).join(" ");
    return add(view.svg, "polygon", { class: name, points });
  }

  #target(view, current) {
    const [x, y] = [view.x(current.x_cm), view.y(current[view.down])];
    const lines = `M${x} ${EDGE}V${EDGE + view.height}M${view.left} ${y}H${view.left + view.width}`;
    add(view.svg, "path", { class: "enter-lines", d: lines });
    add(view.svg, "circle", { class: "enter-target-ground", cx: x, cy: y, r: 7.5 });
    add(view.svg, "circle", { class: "enter-target", cx: x, cy: y, r: 5 });
  }

  #look({ columns, rows, values }) {
    // A page kept on the device by older code has no levels.
    const { levels = [], colours } = this.page;
    const [wide, deep] = [this.plan.across / columns, this.plan.size / rows];
    values.forEach((value, i) => {
      const fill = colours[levels.filter((level) => level <= value).length];
      this.plan.box((i % columns) * wide, Math.floor(i / columns) * deep, wide, deep, { fill, stroke: fill, "stroke-width": 0.3 });
    });
  }
}
