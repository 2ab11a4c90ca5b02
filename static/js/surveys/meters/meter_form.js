// A new meter's usual uncertainty follows the kind chosen, as long as it is still the usual one.

export function follow(form, usual) {
  const [kind, percent, from] = ["kind", "uncertainty_percent", "uncertainty_from"].map((name) => form.elements[name]);
  if (kind.dataset.followed) return;
  kind.dataset.followed = "yes";
  kind.addEventListener("change", () => {
    const isUsual = percent.value === "" || Object.values(usual).includes(Number(percent.value));
    if (from.value === "usual" && isUsual) percent.value = usual[kind.value] ?? "";
  });
  percent.addEventListener("input", () => {
    if (from.value === "usual" && Number(percent.value) !== usual[kind.value]) from.value = "stated";
  });
}

function start() {
  const form = document.getElementById("meter-form");
  const data = document.getElementById("usual-percent");
  if (form && data) follow(form, JSON.parse(data.textContent));
}

if (typeof document !== "undefined") {
  start();
  document.addEventListener("htmx:afterSwap", start);
}
