// Moves the line between two photos. Without this module both stand side by side.

const root = document.querySelector("[data-compare]");
if (root) {
  const cut = root.querySelector("[data-cut]");
  const line = root.querySelector("[data-line]");
  const slide = root.querySelector("[data-slide]");
  const width = Number(cut.getAttribute("width"));

  function show() {
    const x = (width * Number(slide.value)) / 100;
    cut.setAttribute("x", x);
    line.setAttribute("transform", `translate(${x} 0)`);
  }

  slide.addEventListener("input", show);
  root.hidden = false;
  document.querySelector("[data-pair]").hidden = true;
  show();
}
