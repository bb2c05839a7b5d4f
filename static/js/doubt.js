// A number and "don't know" exclude each other: typing one leaves the other, and nothing typed is lost on the way.
const picked = (holder, value) => holder.querySelector(`input[type=radio][value=${value}]`);

document.addEventListener("input", (event) => {
  const holder = event.target.closest?.(".doubtful");
  if (!holder) return;
  const number = holder.querySelector("input:not([type=radio])");
  if (event.target === number) {
    if (number.value.trim() && picked(holder, "unknown").checked) picked(holder, "about").checked = true;
  } else if (event.target.value === "unknown") {
    holder.dataset.before = number.value;
    number.value = "";
  } else if (!number.value && holder.dataset.before) {
    number.value = holder.dataset.before;
  }
});
