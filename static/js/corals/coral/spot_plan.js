// Tapping the plan or the front view fills the numbers of a place; typing moves the mark.
// The numbers are the form: without this module, or by keyboard, they do the same alone.

import { typedNumber } from "../../lengths.js";

function place(root) {
  const cmPerUnit = Number(root.dataset.cmPerUnit);
  const input = (name) => root.querySelector(`[data-place=${name}] input`);
  const fields = { x: input("x"), y: input("y"), depth: input("depth") };

  const views = [...root.querySelectorAll("[data-spot-view]")].map((svg) => {
    const water = svg.querySelector("[data-water]");
    const size = { width: Number(water.getAttribute("width")), height: Number(water.getAttribute("height")) };
    const above = svg.dataset.spotView === "above";
    return { svg, size, down: above ? "y" : "depth", upward: above, here: svg.querySelector("[data-here]") };
  });

  function read(name) {
    const typed = typedNumber(fields[name]);
    return typed === null ? null : typed * cmPerUnit;
  }

  function write(name, cm) {
    // A finger is no finer than half a centimetre or a fifth of an inch.
    fields[name].value = String(Number((cm / cmPerUnit).toFixed(1)));
  }

  function show() {
    for (const { size, down, upward, here } of views) {
      const x = read("x");
      const along = read(down);
      const known = x !== null && along !== null;
      here.setAttribute("visibility", known ? "visible" : "hidden");
      if (known) here.setAttribute("transform", `translate(${x} ${upward ? size.height - along : along})`);
    }
  }

  function tap(view, event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(view.svg.getScreenCTM().inverse());
    const within = (value, most) => Math.min(Math.max(value, 0), most);
    const along = within(point.y, view.size.height);
    write("x", within(point.x, view.size.width));
    write(view.down, view.upward ? view.size.height - along : along);
    // Drafts and the light of the place listen to typing; a tap is typing too.
    fields.x.dispatchEvent(new Event("input", { bubbles: true }));
  }

  for (const view of views) {
    view.svg.dataset.live = "";
    view.svg.addEventListener("click", (event) => tap(view, event));
  }
  root.addEventListener("input", show);
  show();
}

document.querySelectorAll("[data-spot-place]").forEach(place);
