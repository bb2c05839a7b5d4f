// Minus and plus beside a number, for gloves. The text field is what counts; anything not a plain number is left alone.
function step(button) {
  const holder = button.closest("[data-stepper]");
  const field = holder.querySelector("input");
  const text = field.value.trim();
  const size = Number(holder.dataset.stepper) || 1;
  const match = /^([-+]?[0-9]*[.,]?[0-9]+)(\s*[^0-9]*)$/.exec(text || "0");
  if (!match) return field.focus();
  const comma = match[1].includes(",");
  const digits = Math.max(decimals(size), decimals(match[1].replace(",", ".")));
  const next = (Number(match[1].replace(",", ".")) + size * Number(button.dataset.by)).toFixed(digits);
  field.value = (comma ? next.replace(".", ",") : next) + match[2];
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

function decimals(number) {
  return (String(number).split(".")[1] ?? "").length;
}

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-stepper] button[data-by]");
  if (button) step(button);
});
