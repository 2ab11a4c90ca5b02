// Copies a link that is shown once, and says whether that worked.

const button = document.querySelector("[data-copies]");
const told = document.querySelector("[data-copied]");

button?.addEventListener("click", async () => {
  const field = document.querySelector(`#${button.dataset.copies}`);
  field.select();
  try {
    await navigator.clipboard.writeText(field.value);
    told.textContent = "Copied.";
  } catch {
    // No clipboard without https, or it was refused: the address is selected for the keeper.
    told.textContent = "Your browser did not let it be copied. It is selected: copy it by hand.";
  }
});
