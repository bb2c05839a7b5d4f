// A slider and its number field move each other. The preview itself is htmx: hx-trigger="input delay:200ms from:...".
const fieldOf = (slider) => slider.form?.elements[slider.dataset.slider];
const numberIn = (text) => Number(text.trim().replace(",", "."));

function follow(root) {
  for (const slider of root.querySelectorAll("[data-slider]")) {
    const value = numberIn(fieldOf(slider)?.value ?? "");
    if (Number.isFinite(value)) slider.value = value;
  }
}

document.addEventListener("input", (event) => {
  const changed = event.target;
  if (changed.dataset?.slider) {
    const field = fieldOf(changed);
    field.value = changed.value;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  } else if (changed.form) {
    follow(changed.form);
  }
});
document.addEventListener("htmx:afterSettle", () => follow(document));
follow(document);
