// Enter moves to the next field (as scanners and number pads expect); / goes to the search box.
const FIELDS = "input:not([type=hidden], [type=range], [disabled]), select, textarea, button.go";
const TYPED = ["text", "search", "datetime-local", "date", "number"];

document.addEventListener("keydown", (event) => {
  const here = event.target;
  if (event.key === "/" && !here.closest?.("input, textarea, select")) {
    const search = document.querySelector("input[type=search]");
    if (search) {
      event.preventDefault();
      search.focus();
    }
  }
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
