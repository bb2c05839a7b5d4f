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

// what was typed before the scripts were here is answered too
const isTouched = (control) =>
  ["radio", "checkbox"].includes(control.type)
    ? control.checked !== control.defaultChecked
    : "defaultValue" in control && control.value !== control.defaultValue;
document.addEventListener("DOMContentLoaded", () => {
  for (const preview of document.querySelectorAll(".preview[hx-post]")) {
    const form = preview.closest("form");
    if ([...form.elements].some(isTouched)) form.dispatchEvent(new Event("change", { bubbles: true }));
  }
});
