// Enter moves to the next field (as scanners and number pads expect); / goes to the search box.
const FIELDS = "input:not([type=hidden], [type=range], [disabled]), select, textarea, button.go";
const TYPED = ["text", "search", "datetime-local", "date", "number"];
const TYPED_IN = "input, textarea, select, [contenteditable]";

// The field that is in sight, else (a narrow screen) the page that has one.
function find(event) {
  const search = [...document.querySelectorAll("input[type=search]")].find((field) => field.offsetParent !== null);
  const way = document.querySelector(".to-find");
  if (!search && !way) return;
  event.preventDefault();
  if (search) search.focus();
  else way.click();
}

document.addEventListener("keydown", (event) => {
  const here = event.target;
  if (event.key === "/" && !here.closest?.(TYPED_IN) && !event.ctrlKey && !event.metaKey && !event.altKey) find(event);
  if (event.key !== "Enter" || event.isComposing || here.tagName !== "INPUT" || !TYPED.includes(here.type)) return;
  const form = here.form;
  if (!form?.hasAttribute("data-draft")) return;
  const seen = [...form.querySelectorAll(FIELDS)].filter((field) => field.offsetParent !== null);
  const next = seen[seen.indexOf(here) + 1];
  if (next) {
    event.preventDefault();
    next.focus();
    if (next.select) next.select();
  }
});
